"""Forms that were sent, so that the same form sent twice is done once.

The mark of a form is kept in the transaction of the deed it led to: both are there, or neither. Whoever takes a form
says so by `begin`; the first transaction that writes keeps the mark. Marks are no records: they stand outside the
chain and go after a time.
"""

from __future__ import annotations

from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.apps import apps

from lapwright.errors import Conflict

KEPT = timedelta(days=90)  # a page left open longer than that is not sent twice by mistake


@dataclass(slots=True)
class Sending:
    """A form under way: its mark, whether a deed has kept it, and whether it turned out to have been sent before."""

    mark: str
    at: datetime
    is_kept: bool = False
    is_again: bool = False


_under_way: ContextVar[Sending | None] = ContextVar("sending", default=None)


def begin(mark: str, at: datetime) -> Sending:
    """From here on, until `end`, what this thread writes is written for the form of that mark."""
    sending = Sending(mark=mark, at=at)
    _under_way.set(sending)
    return sending


def end() -> None:
    """The form is answered."""
    _under_way.set(None)


def keep_with_deed() -> None:
    """Keep the mark of the form under way, if any, in the transaction that is open.

    Raises `Conflict` where the mark is kept already, by the same form sent a moment before; the deed is then undone.
    """
    sending = _under_way.get()
    if sending is None or sending.is_kept:
        return
    _marks().filter(at__lt=sending.at - KEPT).delete()
    _row, is_new = _marks().get_or_create(mark=sending.mark, defaults={"at": sending.at})
    if not is_new:
        sending.is_again = True
        raise Conflict("This form was sent twice. It is recorded once; look at it before you send another.")
    sending.is_kept = True


# ----------------------------------------------------------------------------------------------------------------------


def _marks() -> Any:
    """The table, by its name: the transactions of all tables come here, so they cannot be imported."""
    return apps.get_model("records", "SentForm").objects
