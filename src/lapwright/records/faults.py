"""Database errors in plain words: whatever the database raises leaves this package as an error of ours."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, nullcontext

from django.db import DatabaseError, IntegrityError, InterfaceError, connection, transaction

from lapwright.errors import BadInput, Conflict, Fault, LapwrightError, RecordError
from lapwright.records import chain

#: A part of what the database says -> what it means for the user.
MEANINGS: tuple[tuple[str, str], ...] = (
    ("locked", "The database is held by another process for longer than it may take. Try again in a moment."),
    ("readonly", "The database file may only be read. Check the permissions of the data folder."),
    ("read-only", "The database may only be read. Check the permissions of the data folder or the server."),
    ("disk is full", "The disk is full; nothing of this was recorded. Make room and try again."),
    ("No space left", "The disk is full; nothing of this was recorded. Make room and try again."),
    ("unable to open", "The database file cannot be opened. Check that the data folder exists and may be written."),
    ("malformed", "The database file is damaged. Restore the last backup."),
    ("not a database", "The database file is no database. Check LAPWRIGHT_DATABASE and the data folder."),
    ("connection", "The database server does not answer. Check its address and that it runs; nothing was recorded."),
)
NO_NAME = "A name holds a character that cannot be seen or kept, U+0000; no record has such a name. Type it anew."


@contextmanager
def translated() -> Iterator[None]:
    """Turn errors of the database into `Conflict` (it contradicts what is there) or `RecordError` (not usable now)."""
    try:
        yield
    except LapwrightError:
        raise
    except IntegrityError as error:
        raise Conflict(f"The record contradicts what is already recorded: {_first_line(error)}.") from error
    except (DatabaseError, InterfaceError) as error:
        _leave_if_gone()
        said = str(error)
        if "0x00" in said:  # looked for in PostgreSQL; the other database finds nothing by such a name
            raise BadInput([Fault(sentence=NO_NAME)]) from error
        meaning = next((meaning for part, meaning in MEANINGS if part in said), None)
        raise RecordError(meaning or f"The database cannot do this: {_first_line(error)}.") from error


@contextmanager
def one_transaction() -> Iterator[None]:
    """All or nothing: what is written inside is there together, or not at all.

    May be nested; a failure inside then takes the outer one with it. The outermost leaves a link of the audit chain.
    """
    with translated(), transaction.atomic(savepoint=False), nullcontext() if chain.is_noting() else chain.linked():
        yield


# ----------------------------------------------------------------------------------------------------------------------


def _leave_if_gone() -> None:
    """A connection that the server has ended is given up, so that the next question opens another."""
    if not connection.in_atomic_block:
        connection.close_if_unusable_or_obsolete()


def _first_line(error: Exception) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0].rstrip(".")
