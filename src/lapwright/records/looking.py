"""The last write as a page sees it: looked up once while the page is made, so that all of it is of one moment."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from threading import local

_here = local()  # of each thread: `at`, while a page is made


@contextmanager
def one_look() -> Iterator[None]:
    """While this lasts the last write is looked up once, and again after a write of one's own."""
    before = getattr(_here, "at", None)
    is_inner = hasattr(_here, "at")
    _here.at = None
    try:
        yield
    finally:
        if is_inner:
            _here.at = before
        else:
            del _here.at


def seen() -> int | None:
    """The number of the last write as it was looked up; None where it was not, or nobody keeps it."""
    number: int | None = getattr(_here, "at", None)
    return number


def see(number: int) -> None:
    """Keep the number of the last write while the page is made."""
    if hasattr(_here, "at"):
        _here.at = number


def wrote() -> None:
    """Look it up again: this thread has written."""
    if hasattr(_here, "at"):
        _here.at = None
