"""Small tables of published numbers: CSV with remarks on top, by heading."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
from numpy.typing import NDArray


def published_table(path: Path) -> dict[str, list[str]]:
    """Cells by heading; lines that begin with ``#`` are remarks."""
    with path.open(encoding="utf-8", newline="") as lines:
        header, *rows = csv.reader(line for line in lines if not line.startswith("#"))
    return {title: [row[place] for row in rows] for place, title in enumerate(header)}


def numbers(cells: list[str]) -> NDArray[np.float64]:
    """Cells as numbers."""
    return np.array(cells, dtype=np.float64)


def codes(cells: list[str]) -> NDArray[np.intp]:
    """Cells as whole numbers from 0."""
    return np.asarray(np.unique(cells, return_inverse=True)[1], dtype=np.intp)
