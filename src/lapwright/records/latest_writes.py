"""What the latest transactions wrote, held in memory: a page asks a dozen times whether what it keeps still holds."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from threading import Lock

from django.db import connection

from lapwright.records import models

MOST_HELD = 20_000  # transactions, a day and more of a busy laboratory
MOST_LETTERS = 100_000  # of the link of one; a longer one is not held, nor any before it


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What one transaction wrote: the tables, and by table the keys of the rows that stand there since."""

    number: int
    tables: frozenset[str]
    rows: Mapping[str, frozenset[int]]


_held: list[Written] = []  # without a gap, so that the place of one follows from its number
_end: list[int] = []  # the transaction up to which they are held, once somebody asked
_lock = Lock()


def written(number: int, content: str) -> Written:
    """What a transaction wrote, by its link of the chain."""
    tables: set[str] = set()
    rows: dict[str, set[int]] = {}
    for kind, table, key, *_digest in (line.split(" ") for line in content.splitlines()):
        if kind != "form":
            tables.add(table)
        if kind == "row":
            rows.setdefault(table, set()).add(int(key))
    return Written(
        number=number, tables=frozenset(tables), rows={table: frozenset(keys) for table, keys in rows.items()}
    )


def after(since: int, last: int) -> list[Written] | None:
    """What every transaction after one wrote, up to the last at least; None where they are not all held."""
    if connection.in_atomic_block:
        return None  # what stands there may yet be rolled back
    with _lock:
        _hold(last)
        found = _held[max(0, since + 1 - _held[0].number) :] if _held else []
    return found if len(found) >= last - since else None


def rows_after(since: int, last: int, tables: Collection[str]) -> dict[str, frozenset[int]] | None:
    """By table, the keys of the rows of some tables written after a transaction; None as `after`."""
    found = after(since, last)
    return None if found is None else rows_of(found, tables)


def rows_of(found: Iterable[Written], tables: Collection[str]) -> dict[str, frozenset[int]]:
    """By table, the keys of the rows of some tables that some transactions wrote."""
    told: dict[str, set[int]] = {}
    for one in found:
        for table in one.rows.keys() & set(tables):
            told.setdefault(table, set()).update(one.rows[table])
    return {table: frozenset(keys) for table, keys in told.items()}


def forget() -> None:
    """Hold nothing: the database has been put in another's place."""
    with _lock:
        _held.clear()
        _end.clear()


# ----------------------------------------------------------------------------------------------------------------------


def _hold(last: int) -> None:
    """Hold what was written up to a transaction; from the first time that is asked on, nothing before."""
    end = _end[0] if _end else last
    if last - end > MOST_HELD:
        _held.clear()
        end = last
    if last > end:
        later = models.ChainLink.objects.filter(number__gt=end).order_by("number")
        for number, content in later.values_list("number", "content"):
            if len(content) > MOST_LETTERS:
                _held.clear()
            else:
                _held.append(written(number, content))
            end = number
        if len(_held) > 2 * MOST_HELD:
            del _held[:MOST_HELD]
    _end[:] = [end]
