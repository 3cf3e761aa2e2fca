"""One part of the benchmarks: a file of ratios or one growth, measured in this process and written down as JSON.

A benchmark is a file ``bench_*.py`` with a function ``rows()`` that returns a list of dictionaries
(name, ours_s, reference_s, ratio, conditions). A row without a reference states None. Growths are in files
``growth_*.py`` (`lapwright.testing.growth`).
"""

from __future__ import annotations

import importlib.util
import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

from lapwright.testing import growth


def parts(folder: Path) -> tuple[str, ...]:
    """Names of all parts of a folder: the benchmarks in file order, then the growths."""
    named = [path.stem.removeprefix("bench_") for path in sorted(folder.glob("bench_*.py"))]
    return (*named, *growth.listed(folder))


def measure(folder: Path, part: str) -> dict[str, Any]:
    """What a part gives: its rows, or its curves."""
    growths = growth.listed(folder)
    if part in growths:
        return {"curves": [asdict(curve) for curve in growth.measured(*growths[part])]}
    return {"rows": _rows(folder / f"bench_{part}.py")}


def main(arguments: list[str]) -> int:
    """``FOLDER PART FILE``: measure and write."""
    folder, part, file = Path(arguments[0]), arguments[1], Path(arguments[2])
    found = json.dumps(measure(folder, part))
    file.write_text(found, encoding="utf-8")
    return 0


# ----------------------------------------------------------------------------------------------------------------------


def _rows(path: Path) -> list[dict[str, Any]]:
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.path.insert(0, str(path.parent))
    spec.loader.exec_module(module)
    rows: list[dict[str, Any]] = module.rows()
    return rows


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
