"""What is computed from the records, kept in memory while they are as they were.

The result of a closed set is kept for the object itself, which `records.kept` gives again only while set, order, gauge
and calibrations are as they were; a correction or a new calibration makes another object and another result. What
rests on many records at once is kept until the next transaction that writes anything.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Collection, Iterable, Mapping
from threading import Lock
from typing import TYPE_CHECKING, Any, TypeVar

from lapwright.model.job import RecordedSet
from lapwright.model.wafer import Frame

if TYPE_CHECKING:
    from lapwright.metrology.thickness import ThicknessResult

MOST_RESULTS = 2000
MOST_UNTIL_WRITE = 2000  # most are small, of one order or wafer; they must not push out what all pages share
#: Tables that grow all day and that a result may well not rest on: words, and readings of sets and runs that go on.
TALK = frozenset({"note", "reading", "streamblock", "streamevent"})

Value = TypeVar("Value")
Part = TypeVar("Part")

_results: OrderedDict[tuple[int, Frame], tuple[RecordedSet, ThicknessResult]] = OrderedDict()
_until_write: dict[tuple[Any, ...], tuple[int, Any]] = {}
_lock = Lock()


class Itself:
    """Something held that counts as equal only to itself, so that what follows from it can be kept with it."""

    def __init__(self, held: Any) -> None:
        self.held = held

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Itself) and other.held is self.held

    def __hash__(self) -> int:
        return id(self.held)


def kept_result(recorded: RecordedSet, frame: Frame, compute: Callable[[], ThicknessResult]) -> ThicknessResult:
    """The result of a set in a frame: as kept, else as computed now and kept when the set is closed."""
    key = (id(recorded), frame)
    with _lock:
        known = _results.get(key)
        if known is not None and known[0] is recorded:
            _results.move_to_end(key)
            return known[1]
    result = compute()
    if recorded.state == "closed":
        with _lock:
            _results[key] = (recorded, result)
            while len(_results) > MOST_RESULTS:
                _results.popitem(last=False)
    return result


def kept_until_write(
    key: tuple[Any, ...], compute: Callable[[], Value], *, besides: frozenset[str] = frozenset()
) -> Value:
    """What is computed from the records alone, under a name of its own; anew after every write of anybody.

    Writes into the tables `besides` alone leave it as it is: those that it does not rest on.
    """
    from lapwright.records import kept

    return _kept_while(lambda since: bool(besides) and kept.wrote_only(since, besides), key, compute)


def kept_until(tables: frozenset[str], key: tuple[Any, ...], compute: Callable[[], Value]) -> Value:
    """What is computed from these tables alone, under a name of its own; anew after a write into any of them."""
    from lapwright.records import kept

    return _kept_while(lambda since: not kept.wrote_into(since, tables), key, compute)


def kept_unless(
    touched: Mapping[str, Callable[[frozenset[int]], bool]],
    tables: frozenset[str],
    key: tuple[Any, ...],
    compute: Callable[[], Value],
) -> Value:
    """The same where of some more tables not every row counts: `touched` tells whether any of those written does."""
    from lapwright.records import kept

    def holds(since: int) -> bool:
        if kept.wrote_into(since, tables):
            return False
        rows = kept.rows_written(since, touched)
        return rows is not None and not any(touched[table](keys) for table, keys in rows.items())

    return _kept_while(holds, key, compute)


def kept_in_parts(
    key: tuple[Any, ...],
    parts: Iterable[Part],
    parts_of: Mapping[str, Callable[[frozenset[int]], Collection[Part]]],
    compute: Callable[[Part], Value],
    *,
    are_all: bool = True,
) -> dict[Part, Value]:
    """A value for each part, of a lot or of a gauge; after a write only those parts anew that it touched.

    `parts_of` tells for each table that the values rest on which parts some of its rows belong to. Where `parts` are
    not all that there are, the others go on being kept.
    """
    return kept_in_batches(key, parts, parts_of, lambda some: {part: compute(part) for part in some}, are_all=are_all)


def kept_in_batches(
    key: tuple[Any, ...],
    parts: Iterable[Part],
    parts_of: Mapping[str, Callable[[frozenset[int]], Collection[Part]]],
    compute: Callable[[Collection[Part]], Mapping[Part, Value]],
    *,
    are_all: bool = True,
) -> dict[Part, Value]:
    """The same where the values of all parts that are to be computed are computed at once."""
    from lapwright.records import kept

    wanted = list(parts)
    if kept.is_writing():
        return dict(compute(wanted))
    written = kept.last_write()
    with _lock:
        since, held = _until_write.get(key, (written, {}))
    fresh = dict(held)
    rows = kept.rows_written(since, parts_of) if since != written else {}
    if rows is None:
        fresh.clear()
    else:
        for part in (part for table, keys in rows.items() for part in parts_of[table](keys)):
            fresh.pop(part, None)
    missing = [part for part in wanted if part not in fresh]
    fresh |= compute(missing) if missing else {}
    found = {part: fresh[part] for part in wanted}
    _keep(key, written, found if are_all else fresh)
    return found


def forget() -> None:
    """Keep nothing: the database has been put in another's place."""
    with _lock:
        _until_write.clear()
        _results.clear()


# ----------------------------------------------------------------------------------------------------------------------


def _kept_while(holds: Callable[[int], bool], key: tuple[Any, ...], compute: Callable[[], Value]) -> Value:
    """A value as kept, where nothing was written since or it still holds; else as computed now."""
    from lapwright.records import kept

    if kept.is_writing():
        return compute()
    written = kept.last_write()
    with _lock:
        known = _until_write.get(key)
    value: Value = known[1] if known is not None and (known[0] == written or holds(known[0])) else compute()
    _keep(key, written, value)
    return value


def _keep(key: tuple[Any, ...], written: int, value: object) -> None:
    """Keep a value as of a transaction; what was not asked for longest makes room."""
    with _lock:
        _until_write.pop(key, None)
        _until_write[key] = (written, value)
        while len(_until_write) > MOST_UNTIL_WRITE:
            _until_write.pop(next(iter(_until_write)))
