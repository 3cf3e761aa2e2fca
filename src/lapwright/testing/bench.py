"""Run the benchmarks of a folder: ours, the reference and their ratio, measured in one run; and how things grow.

A benchmark is a file ``bench_*.py`` with a function ``rows()`` that returns a list of dictionaries
(name, ours_s, reference_s, ratio, conditions). A row without a reference states None. Curves of growth are in files
``growth_*.py`` (`lapwright.testing.growth`). ``--report FILE`` writes both tables into a page of the documentation.
"""

from __future__ import annotations

import importlib.util
import json
import os
import platform
import subprocess
import sys
from pathlib import Path
from typing import Any

from lapwright.testing import growth


def collect(folder: Path, *, only: tuple[str, ...] = ()) -> list[dict[str, Any]]:
    """The rows of every benchmark in a folder, in file order."""
    rows: list[dict[str, Any]] = []
    for path in sorted(folder.glob("bench_*.py")):
        if only and path.stem.removeprefix("bench_") not in only:
            continue
        sys.stderr.write(f"{path.stem} ...\n")
        spec = importlib.util.spec_from_file_location(path.stem, path)
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.path.insert(0, str(folder))
        try:
            spec.loader.exec_module(module)
            rows.extend(module.rows())
        finally:
            sys.path.remove(str(folder))
    return rows


def table(rows: list[dict[str, Any]]) -> str:
    """The rows as a Markdown table."""
    lines = ["| what | ours, s | reference, s | ours / reference | conditions |", "| --- | --- | --- | --- | --- |"]
    for row in rows:
        cells = [row["name"], *(_cell(row.get(key)) for key in ("ours_s", "reference_s", "ratio")), row["conditions"]]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


def main(arguments: list[str]) -> int:
    """Print the tables, or the rows as JSON with ``--json``; write them into a page with ``--report FILE``."""
    report = Path(arguments[arguments.index("--report") + 1]) if "--report" in arguments else None
    names = tuple(one for one in arguments[1:] if not one.startswith("-") and one != str(report))
    folder = Path(arguments[0])
    rows = collect(folder, only=names)
    if "--json" in arguments:
        sys.stdout.write(json.dumps(rows) + "\n")
        return 0
    curves = growth.collect(folder, only=names)
    text = f"{table(rows)}\n" if rows else ""
    if curves:
        text += f"\n## Growth with size\n\n{growth.table(curves)}\n"
    sys.stdout.write(f"{_machine()}\n\n{text}")
    if report is not None:
        report.write_text(_page(text), encoding="utf-8")
    return 0


# ----------------------------------------------------------------------------------------------------------------------


def _machine() -> str:
    return f"Python {platform.python_version()}, {platform.machine()}, {os.cpu_count()} cores"


def _page(text: str) -> str:
    git = ("git", "rev-parse", "--short", "HEAD")
    commit = subprocess.run(git, capture_output=True, text=True, check=True).stdout.strip()  # noqa: S603  # our own
    return (
        f"# Performance\n\nMade by `./dev bench --report` at commit {commit}; {_machine()}.\n"
        "Each ratio is measured in one run beside its reference, so that a busy machine moves both; below 1 ours is"
        f" faster.\nA dash stands where there is no reference.\n\n{text}"
    )


def _cell(value: float | None) -> str:
    return "–" if value is None else f"{value:.3g}"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
