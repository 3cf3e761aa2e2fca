"""What the benchmarks gave, kept as JSON beside the page that tells it: one table, pictures of growth, and conditions.

Every part keeps its figures until it is measured anew, so that a page can be made in several goes; each part says at
which commit, when, and on how busy a machine it was measured.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from lapwright.testing.growth import Curve, Point, exponent, memory_exponent
from lapwright.testing.growth_drawing import growth_picture

Kept = dict[str, dict[str, Any]]
HEAD = """# Performance

Made by `./dev bench --report`; `./dev bench NAME --report` measures one part anew and leaves the others.
Each ratio is measured in one run beside its reference, so that a busy machine moves both; below 1 ours is faster.
A dash stands where there is no reference.
What each is measured with stands in the file of its name in `tests/benchmark`.
"""


def kept(page: Path) -> Kept:
    """What is kept beside a page, by part; nothing where there is no page yet."""
    file = _file(page)
    if not file.exists():
        return {}
    found: Kept = json.loads(file.read_text(encoding="utf-8"))
    return found


def keep(page: Path, told: Kept) -> None:
    """Keep what the parts gave, and write page and pictures anew."""
    _file(page).write_text(json.dumps(told, indent=1, sort_keys=True, ensure_ascii=False) + "\n", encoding="utf-8")
    pictures = dict(_pictures(told))
    for old in page.parent.glob(f"{page.stem}-*.svg"):
        if old.name.removeprefix(f"{page.stem}-") not in pictures:
            old.unlink()
    for name, svg in pictures.items():
        (page.parent / f"{page.stem}-{name}").write_text(svg + "\n", encoding="utf-8")
    page.write_text(_page(told, page.stem), encoding="utf-8")


def table(told: Mapping[str, Mapping[str, Any]]) -> str:
    """All rows as one Markdown table."""
    lines = ["| what | ours, s | reference, s | ours / reference | conditions |", "| --- | --- | --- | --- | --- |"]
    for part in sorted(told):
        for row in told[part].get("rows", ()):
            cells = [row["name"], *(_cell(row.get(key)) for key in ("ours_s", "reference_s", "ratio"))]
            lines.append("| " + " | ".join([*cells, row["conditions"]]) + " |")
    return "\n".join(lines)


def faults(told: Mapping[str, Mapping[str, Any]]) -> list[str]:
    """What is missing, and why: one sentence a part or curve."""
    found = [f"{part}: {one['fault']}" for part, one in sorted(told.items()) if one.get("fault")]
    return found + [
        f"{curve['name']}: {curve['fault']}"
        for part in sorted(told)
        for curve in told[part].get("curves", ())
        if curve["fault"]
    ]


def growth_table(told: Mapping[str, Mapping[str, Any]]) -> str:
    """All curves as one Markdown table."""
    lines = [
        "| what grows | sizes | time, s | as size to the | memory, MB | as size to the |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for curve in _curves(told):
        sizes = [point.size for point in curve.points]
        seconds = [point.seconds for point in curve.points]
        cells = [
            curve.name,
            f"{', '.join(_thousands(size) for size in sizes)} {curve.counts}",
            ", ".join(f"{one:.3g}" for one in seconds),
            _power(exponent(sizes, seconds)),
            ", ".join(f"{point.memory / 1e6:.0f}" for point in curve.points),
            _power(memory_exponent(curve.points)),
        ]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


# ----------------------------------------------------------------------------------------------------------------------


def _file(page: Path) -> Path:
    return page.with_suffix(".json")


def _page(told: Kept, stem: str) -> str:
    parts = [HEAD]
    if any(one.get("rows") for one in told.values()):
        parts.append(f"{table(told)}\n")
    if next(_curves(told), None) is not None:
        parts.append(
            "## Growth with size\n\nEach size in a process of its own; the best of three, one where it takes more than"
            " 5 s.\nMemory is the most held beyond what was held when all was prepared.\nPowers are fitted to all"
            " sizes by least squares of the logarithms; those of memory to sizes that need more than 1 MB.\n\n"
            f"{growth_table(told)}\n"
        )
        parts += [f"![{name}]({stem}-{file})\n" for name, file in _named(told)]
    parts.append(f"## Conditions\n\n{_conditions(told)}\n")
    missing = faults(told)
    if missing:
        parts.append("## Not measured\n\n" + "".join(f"- {one}\n" for one in missing))
    return "\n".join(parts)


def _conditions(told: Kept) -> str:
    lines = ["| part | commit | when, UTC | machine | busy before | took, s |", "| --- | --- | --- | --- | --- | --- |"]
    for part, one in sorted(told.items()):
        if "commit" in one:
            cells = (
                part,
                one["commit"],
                one["at"],
                one["machine"],
                f"{one['busy_percent']:.0f} %",
                f"{one['took_s']:.0f}",
            )
            lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


def _curves(told: Mapping[str, Mapping[str, Any]]) -> Iterator[Curve]:
    for part in sorted(told):
        for plain in told[part].get("curves", ()):
            points = tuple(Point(**one) for one in plain["points"])
            if len(points) > 1:
                yield Curve(name=plain["name"], counts=plain["counts"], points=points, fault=plain["fault"])


def _named(told: Kept) -> list[tuple[str, str]]:
    """Name and file of each picture."""
    return [(curve.name, f"{number}.svg") for number, curve in enumerate(_curves(told), start=1)]


def _pictures(told: Kept) -> Iterator[tuple[str, str]]:
    for (_name, file), curve in zip(_named(told), _curves(told), strict=True):
        yield file, growth_picture(curve)


def _cell(value: float | None) -> str:
    return "–" if value is None else f"{value:.3g}"


def _power(value: float) -> str:
    return f"{value:.2f}" if math.isfinite(value) else "–"


def _thousands(value: int) -> str:
    return f"{value:,}".replace(",", "\u2009")
