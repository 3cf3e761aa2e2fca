"""Use cases: taking sets of readings, by hand or from a file."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Literal

from lapwright.metrology.thickness import ThicknessResult
from lapwright.model.job import ReadingAnswer, RecordedSet, SetProgress
from lapwright.model.readings import ThicknessSet
from lapwright.model.request import ImportRequest, SetRequest


def open_set(request: SetRequest, *, by: str, reason: str, at: datetime) -> RecordedSet:
    """Open a set of readings of a wafer, a carrier or a stack; the sites come from the pattern and the outline.

    Raises `NotFound` for an unknown piece or gauge, `Conflict` when a set of that piece and moment is open already.
    """
    raise NotImplementedError


def show_set(set_id: int) -> RecordedSet:
    """One set with all its readings. Raises `NotFound`."""
    raise NotImplementedError


def set_progress(recorded: RecordedSet) -> SetProgress:
    """What a set expects next."""
    raise NotImplementedError


def record_zero(
    set_id: int, text: str, *, when: Literal["before", "after"], by: str, reason: str, at: datetime
) -> ReadingAnswer:
    """Record a reading of the gauge's zero, before the first site or after the last."""
    raise NotImplementedError


def record_reading(
    set_id: int, text: str, *, site: str | None = None, confirmed: bool = False, by: str, reason: str, at: datetime
) -> ReadingAnswer:
    """Record a reading at the next site, or at a named one.

    An implausible reading is answered with a question and not stored; offered again with `confirmed` it is kept, with
    the question beside it. Raises `UnitError` for text that is no length, `Conflict` when the set is closed.
    """
    raise NotImplementedError


def correct_reading(
    set_id: int, reading_id: int, text: str, *, confirmed: bool = False, by: str, reason: str, at: datetime
) -> ReadingAnswer:
    """Record a correction: a new reading that points at the one it replaces. The old one stays as it was.

    Raises `Conflict` when that reading has been corrected already (correct the correction instead).
    """
    raise NotImplementedError


def close_set(set_id: int, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedSet:
    """Close a set; the wafer moves on. Refuses (`Conflict`) with no reading, or without the last zero after a first."""
    raise NotImplementedError


def void_set(set_id: int, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedSet:
    """Declare a set unusable, with the reason; its readings stay on record."""
    raise NotImplementedError


def thickness_set(recorded: RecordedSet) -> ThicknessSet:
    """The valid readings of a set as arrays: corrections in place of what they correct."""
    raise NotImplementedError


def set_result(set_id: int) -> ThicknessResult:
    """Mean, TTV, wedge, dome and their uncertainties of a set. Raises `SetVoid`, `TooFewSites`."""
    raise NotImplementedError


def import_readings(
    path: Path, request: ImportRequest, *, by: str, reason: str, at: datetime
) -> tuple[RecordedSet, ...]:
    """Record all sets of a readings file, one per piece, closed; all of them or none.

    Raises `BadInput` with every fault of the file, `Conflict` when the same file was imported before.
    """
    raise NotImplementedError
