"""Blocks of lines to columns the quick way: NumPy reads the whole block at once.

Taken only when the answer is certain to be that of the exact way (`readings_cells`): the decimal sign is known, no
quotes, every line a full row, every number finite. At the least doubt there is no answer.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.formats.delimited import Block
from lapwright.formats.readings_header import Column

_POINT_NUMBER = re.compile(r"\s*[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """A block as columns: row numbers, texts and numbers (in the file's units; NaN for an empty or faulty cell)."""

    number: NDArray[np.int64]
    texts: dict[str, Sequence[str]]
    values: dict[str, NDArray[np.float64]]


class QuickReader:
    """Reads sound blocks; the thickness is read as text where it is kept, or has gaps."""

    def __init__(self, found: dict[str, Column], *, separator: str) -> None:
        ordered = sorted(found.values(), key=lambda column: column.index)
        self._separator = separator
        self._all_numbers, self._thickness_as_text = (
            np.dtype(
                [(one.name, "f8" if one.is_number and (one.name != "thickness" or number) else "O") for one in ordered]
            )
            for number in (True, False)
        )

    def columns(self, block: Block, decimal: str | None, *, keep_texts: bool) -> Columns | None:
        """The columns of a block, None when it must go the exact way."""
        lines = _with_points(block, decimal)
        if lines is None:
            return None
        table = None if keep_texts else self._table(lines, self._all_numbers)
        if table is None:
            table = self._table(lines, self._thickness_as_text)
        return None if table is None else _columns(block, table, decimal)

    def _table(self, lines: list[str], kinds: np.dtype[np.void]) -> NDArray[np.void] | None:
        try:
            table = np.loadtxt(lines, dtype=kinds, delimiter=self._separator, comments=None, ndmin=1)
        except ValueError:
            return None
        return table if len(table) == len(lines) else None


# ----------------------------------------------------------------------------------------------------------------------


def _with_points(block: Block, decimal: str | None) -> list[str] | None:
    """The lines with decimal points; commas become points only where there was no point before."""
    text = "".join(block.lines)
    if decimal is None or '"' in text or not block.lines[0].strip():
        return None
    if decimal == ".":
        return block.lines
    return None if "." in text else [line.replace(",", ".") for line in block.lines]


def _columns(block: Block, table: NDArray[np.void], decimal: str | None) -> Columns | None:
    kinds = table.dtype.names or ()
    texts: dict[str, list[str]] = {name: table[name].tolist() for name in kinds if table[name].dtype == object}
    values = {name: table[name] for name in kinds if name not in texts}
    if not all(np.isfinite(column).all() for column in values.values()):
        return None
    thickness = texts.pop("thickness", None)
    if decimal == "," and any("." in text for column in texts.values() for text in column):
        return None  # a comma that became a point stood in a name
    if thickness is not None:
        parsed = _numbers_with_gaps(thickness)
        if parsed is None:
            return None
        values["thickness"] = parsed
        texts["thickness"] = [text.replace(".", ",") for text in thickness] if decimal == "," else thickness
    return Columns(number=np.arange(block.start, block.start + len(table)), texts=dict(texts), values=values)


def _numbers_with_gaps(cells: list[str]) -> NDArray[np.float64] | None:
    """Numbers of cells with decimal points, NaN for an empty one; None when one is no finite number."""
    given = [cell for cell in cells if cell.strip()]
    if not all(map(_POINT_NUMBER.fullmatch, given)):
        return None
    values = np.array([float(cell) if cell.strip() else np.nan for cell in cells])
    return None if np.isinf(values).any() else values
