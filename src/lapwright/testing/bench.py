"""Run the benchmarks of a folder and print one table: ours, the reference, and their ratio, measured in one run.

A benchmark is a file ``bench_*.py`` with a function ``rows()`` that returns a list of dictionaries
(name, ours_s, reference_s, ratio, conditions). A row without a reference states None.
"""

from __future__ import annotations

import importlib.util
import json
import platform
import sys
from pathlib import Path
from typing import Any


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
    """Print the table, or the rows as JSON with ``--json``."""
    names = tuple(argument for argument in arguments[1:] if not argument.startswith("-"))
    rows = collect(Path(arguments[0]), only=names)
    if "--json" in arguments:
        sys.stdout.write(json.dumps(rows) + "\n")
    else:
        sys.stdout.write(f"Python {platform.python_version()}, {platform.machine()}\n\n{table(rows)}\n")
    return 0


# ----------------------------------------------------------------------------------------------------------------------


def _cell(value: float | None) -> str:
    return "–" if value is None else f"{value:.3g}"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
