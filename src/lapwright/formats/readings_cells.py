"""Blocks of lines to columns: the quick way where it is certain, else the exact way that names every fault."""

from __future__ import annotations

import math
import re

import numpy as np

from lapwright.formats.delimited import Block, cells_of
from lapwright.formats.faults import FaultList
from lapwright.formats.readings_header import Column
from lapwright.formats.readings_quick import Columns, QuickReader

#: Number columns in which an empty cell is allowed and means "not measured".
MAY_BE_EMPTY = ("thickness", "temperature")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?")
_WITH_UNIT = re.compile(r"[+-]?[\d.,]+\s*[A-Za-zµμ°\"'″%/²³]+")
_SPOKEN = frozenset({"nan", "na", "n/a", "-", "--", "inf", "+inf", "-inf", "infinity", "none", "null", "nil"})


class CellReader:
    """Turns blocks into columns. The decimal sign is the first one met; faults go to the list it was given."""

    def __init__(self, found: dict[str, Column], *, width: int, separator: str, faults: FaultList) -> None:
        self.found = found
        self.width = width
        self.separator = separator
        self.decimal: str | None = "." if separator == "," else None
        self.faults = faults
        self.numeric = tuple(name for name, column in found.items() if column.is_number)
        self._quick = QuickReader(found, separator=separator)

    def columns(self, block: Block, *, keep_texts: bool = False) -> Columns:
        """The columns of a block; blank lines and lines of empty cells are passed over.

        With `keep_texts` the thickness cells are among the texts, as entered.
        """
        return self._quick.columns(block, self.decimal, keep_texts=keep_texts) or self._exact(block)

    # ------------------------------------------------------------------------------------------------------------------

    def _exact(self, block: Block) -> Columns:
        rows = [(row, self._cells(line, row)) for row, line in enumerate(block.lines, start=block.start)]
        rows = [(number, cells) for number, cells in rows if any(cells) and self._is_full(number, cells)]
        values = np.array(
            [[self._number(name, cells, number) for name in self.numeric] for number, cells in rows], dtype=np.float64
        ).reshape(len(rows), len(self.numeric))
        return Columns(
            number=np.array([number for number, _ in rows], dtype=np.int64),
            texts={name: [cells[column.index] for _, cells in rows] for name, column in self.found.items()},
            values={name: values[:, index].copy() for index, name in enumerate(self.numeric)},
        )

    def _cells(self, line: str, row: int) -> list[str]:
        if '"' in line:
            return cells_of(line, self.separator, row=row, name=self.faults.subject)
        return [cell.strip() for cell in line.split(self.separator)]

    def _is_full(self, number: int, cells: list[str]) -> bool:
        if len(cells) != self.width:
            self.faults.add(
                f"Row {number} has {len(cells)} cells; the header has {self.width}. "
                "Check the separators and the decimal signs of this row.",
                code="row.length",
                row=number,
            )
        return len(cells) == self.width

    def _number(self, name: str, cells: list[str], row: int) -> float:
        column = self.found[name]
        text = cells[column.index]
        if not text and name in MAY_BE_EMPTY:
            return np.nan
        if _NUMBER.fullmatch(text):
            if self.decimal is None:
                self.decimal = next((char for char in text if char in ".,"), None)
            if ("." if self.decimal == "," else ",") not in text:
                value = float(text.replace(",", "."))
                if math.isfinite(value):
                    return value
        sentence, code = self._wrong_with(text, name)
        self.faults.add(
            f"Row {row}, column {column.title}: {sentence}",
            code=code,
            row=row,
            field=column.title,
            unit=column.symbol,
        )
        return np.nan

    def _wrong_with(self, text: str, name: str) -> tuple[str, str]:
        if not text:
            return "the cell is empty; every row needs a number here.", "cell.empty"
        if text.lower() in _SPOKEN:
            advice = "leave the cell empty where nothing was measured" if name in MAY_BE_EMPTY else "write digits"
            return f"{text!r} is not a number; {advice}.", "cell.not_a_number"
        if _NUMBER.fullmatch(text) and self.separator == "," and "," in text:
            advice = "separate the cells by semicolons, or use decimal points"
            return f"{text!r} has a decimal comma in a file separated by commas; {advice}.", "cell.decimal_sign"
        if _NUMBER.fullmatch(text) and self.decimal and set(text) & set(",."):
            advice = "use one sign in the whole file, and none for thousands"
            return f"{text!r} does not use the file's decimal sign, {self.decimal!r}; {advice}.", "cell.decimal_sign"
        if not _NUMBER.fullmatch(text) and _WITH_UNIT.fullmatch(text):
            advice = "the unit stands in the header, write the number only"
            return f"{text!r} carries a unit of its own; {advice}.", "cell.mixed_units"
        advice = "write digits with one decimal sign and none for thousands"
        return f"{text!r} is not a number; {advice}.", "cell.not_a_number"
