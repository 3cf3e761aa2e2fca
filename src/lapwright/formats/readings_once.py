"""Columns that a wafer has once in a readings file: gauge, operator, state of holding, zero readings, times."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import UnitError
from lapwright.formats.faults import FaultList
from lapwright.formats.readings_header import Column
from lapwright.formats.readings_quick import Columns
from lapwright.model.readings import HoldState
from lapwright.units import from_unit, number

_CHOICES: dict[str, dict[str, object]] = {
    "hold": {"free": "free", "clamped": "clamped"},
    "soaked": {"yes": True, "no": False},
}
_ONCE = ("gauge", "operator", "hold", "soaked", "zero_before", "zero_after")


@dataclass(slots=True, kw_only=True)
class Once:
    """What one wafer's rows say once. Zero readings in m."""

    gauge: str | None = None
    operator: str | None = None
    hold: HoldState | None = None
    soaked: bool | None = None
    zero_before: float | None = None
    zero_after: float | None = None
    first_time: datetime | None = None
    last_time: datetime | None = None


class OnceReader:
    """Gathers them block by block; an empty cell says nothing, two different values are a fault."""

    def __init__(self, columns: dict[str, Column], faults: FaultList) -> None:
        self.found: list[Once] = []
        self._columns = columns
        self._faults = faults
        self._names = [name for name in _ONCE if name in columns]

    def take(self, read: Columns, wafer: NDArray[np.int64], wafers: Sequence[str]) -> None:
        """Take one block; `wafer` is each row's index among `wafers`."""
        while len(self.found) < len(wafers):
            self.found.append(Once())
        if not self._names and "time" not in self._columns:
            return
        codes, rows = wafer.tolist(), read.number.tolist()
        for name in self._names:
            first: dict[tuple[int, str], int] = {}
            for code, text, row in zip(codes, read.texts[name], rows, strict=True):
                first.setdefault((code, text), row)
            for (code, text), row in first.items():
                if text.strip():
                    self._keep(name, text.strip(), self.found[code], row=row, piece=wafers[code])
        if "time" in self._columns:
            for code, text, row in zip(codes, read.texts["time"], rows, strict=True):
                if text.strip():
                    self._keep_time(text.strip(), self.found[code], row)

    # ------------------------------------------------------------------------------------------------------------------

    def _keep(self, name: str, text: str, once: Once, *, row: int, piece: str) -> None:
        value = self._meaning(name, text, row)
        before = getattr(once, name)
        if before is None:
            setattr(once, name, value)
        elif value is not None and value != before:
            self._report(
                f"wafer {piece!r} has {text!r} here and something else in an earlier row; one set of readings has one "
                f"{name.replace('_', ' ')}. Put each set in a file of its own.",
                code="wafer.contradiction", name=name, row=row,
            )  # fmt: skip

    def _meaning(self, name: str, text: str, row: int) -> object:
        choices, column = _CHOICES.get(name), self._columns[name]
        if choices is not None:
            if text.lower() not in choices:
                expected = " or ".join(choices)
                self._report(f"{text!r} found; expected {expected}.", code="cell.not_a_choice", name=name, row=row)
            return choices.get(text.lower())
        if column.unit is None:
            return text
        try:
            return from_unit(number(text), column.unit)
        except UnitError as fault:
            self._report(fault.sentence, code="cell.not_a_number", name=name, row=row)
            return None

    def _keep_time(self, text: str, once: Once, row: int) -> None:
        try:
            time = datetime.fromisoformat(text)
        except ValueError:
            sentence = f"{text!r} is no date and time; write it like 2025-03-04T09:30:00+01:00."
            self._report(sentence, code="cell.not_a_time", name="time", row=row)
            return
        once.first_time = once.first_time or time
        once.last_time = time

    def _report(self, sentence: str, *, code: str, name: str, row: int) -> None:
        column = self._columns[name]
        self._faults.add(
            f"Row {row}, column {column.title}: {sentence}", code=code, row=row, field=column.title, unit=column.symbol
        )
