"""The same form sent twice is done once: what it leads to is bound to a mark of the form.

A double press, the back button, or a reload after the answer was lost sends the same form again. Whoever takes forms
asks `place_of` whether that very form has led to something; if not, all that is written between `begin` and `end`
belongs to it. Two forms that merely say the same have two marks, and are two deeds.
"""

from __future__ import annotations

import time
from datetime import datetime
from typing import Protocol

_WAIT_S, _STEP_S = 0.5, 0.05


class Sending(Protocol):
    """A form under way: its mark, whether a deed has kept it, and whether it turned out to have been sent before."""

    mark: str
    at: datetime
    is_kept: bool
    is_again: bool


def begin(mark: str, at: datetime) -> Sending:
    """From here on what is written is written for the form of that mark."""
    from lapwright.records import sent_forms

    return sent_forms.begin(mark, at)


def end() -> None:
    """The form is answered."""
    from lapwright.records import sent_forms

    sent_forms.end()


def place_of(mark: str) -> str | None:
    """Where a form of that mark led, "" where that is not known; None for one that nothing was recorded for."""
    from lapwright.records import access_queries

    return access_queries.place_of_form(mark)


def awaited_place(mark: str) -> str:
    """Where the form led that was sent a moment before and is being answered just now; "" where that is not known."""
    until = time.monotonic() + _WAIT_S
    while not (place := place_of(mark)) and time.monotonic() < until:
        time.sleep(_STEP_S)
    return place or ""


def note_place(mark: str, place: str) -> None:
    """Keep where a form led."""
    from lapwright.records import writer

    writer.note_place_of_form(mark, place)


def keep_alone(sending: Sending) -> None:
    """Keep the mark of a form whose deed is not in the records, as that of a round of practice."""
    from lapwright.records import writer

    sending.is_kept = writer.keep_form(sending.mark, sending.at)
