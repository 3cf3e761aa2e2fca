"""Sets of readings, kept in memory once read: readings never change, so a closed set is read from the disk once.

The row of a set is read every time; only when it and what it hangs on have the versions they had are its readings not
read again. Of a set that is still open those are read that came since: they only grow, by their sequence. Nothing is
kept from within a transaction, because that may yet be rolled back.
"""

from __future__ import annotations

from collections import Counter, OrderedDict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import reduce
from operator import or_
from threading import Lock
from typing import Any, TypeVar

from django.db import connection
from django.db.models import Avg, F, Max, OuterRef, Q, QuerySet, Subquery, prefetch_related_objects

from lapwright.model.job import RecordedSet, SetSurroundings
from lapwright.model.readings import Calibration
from lapwright.model.wafer import Outline, Round
from lapwright.records import latest_writes, looking, models, rows
from lapwright.records.coding import from_plain

MOST_SETS = 3000
MOST_GROWING = 300  # open sets that are kept as far as they were read
MOST_GROWN = 20  # of them that are asked for at once
MOST_LINKS = 200  # of the chain that are looked through for what was written
MOST_PASSED = 20_000  # of the chain that the database looks through for tables by their names
MOST_MEANS, MOST_ASKED = 100_000, 500  # means of sets, and sets asked for at once
MOST_READINGS = 500  # in a set that is kept; a dense scan is read anew
_READING = (
    "pk", "set_id", "site", "x_m", "y_m", "value_m", "text", "unit", "repeat", "corrects_id", "kind", "sequence",
    "question", "by", "at", "reason",
)  # fmt: skip
Value = TypeVar("Value")
_HUNG_ON = {"order": "wafer__order", "wafer": "wafer", "carrier": "carrier", "gauge": "gauge"}

_sets: OrderedDict[tuple[Any, ...], RecordedSet] = OrderedDict()
_growing: OrderedDict[tuple[Any, ...], RecordedSet] = OrderedDict()
_calibrations: dict[int, tuple[int | None, tuple[Calibration, ...]]] = {}
_means: dict[int, tuple[int, float | None]] = {}
#: Groups of rows that only grow: name of the group, key it hangs on -> key of the last row, what the rows say.
_grown_to: dict[tuple[str, int], tuple[int, Any]] = {}
_lock = Lock()


def sets() -> QuerySet[models.ReadingSet]:
    """All sets, each with the versions of what it hangs on, for `reading_sets`."""
    hung_on = {f"{name}_version": F(f"{path}__version") for name, path in _HUNG_ON.items() if name != "gauge"}
    # not joined: a few gauges with many sets each would tempt the database to begin with them
    of_gauge = models.Gauge.objects.filter(pk=OuterRef("gauge_id")).values("version")
    return models.ReadingSet.objects.annotate(**hung_on, gauge_version=Subquery(of_gauge))


def reading_sets(found: Iterable[models.ReadingSet]) -> tuple[RecordedSet, ...]:
    """Sets from rows of `sets()`, in their order; the same set unchanged is the same object as before."""
    listed = list(found)
    curves = calibrations_of({row.gauge_id for row in listed})
    keys = [_key(row, curves[row.gauge_id][0]) for row in listed]
    with _lock:
        known = {key: _sets[key] for key in keys if key in _sets}
        for key in known:
            _sets.move_to_end(key)
    known |= _grown({row.pk: key for row, key in zip(listed, keys, strict=True) if row.state == "open"})
    missing = [row for row, key in zip(listed, keys, strict=True) if key not in known]
    prefetch_related_objects(missing, "order", "wafer__order", "carrier", "gauge")
    readings = _readings_of([row.pk for row in missing])
    made = []
    for row, key in zip(listed, keys, strict=True):
        one = known.get(key)
        if one is None:
            one = rows.reading_set(row, readings.get(row.pk, ()), _surroundings(row, curves[row.gauge_id][1]))
            _keep(key, one)
        made.append(one)
    return tuple(made)


def reading_set(row: models.ReadingSet) -> RecordedSet:
    """One set from a row of `sets()`."""
    return reading_sets([row])[0]


def set_means(versions: Mapping[int, int]) -> dict[int, float | None]:
    """The mean of the sites of some closed sets [m] by their keys, None without any; corrected readings left out.

    Readings come to open sets alone, so a mean is kept for as long as its set has the same version.
    """
    with _lock:
        known = {key: _means[key][1] for key, version in versions.items() if _means.get(key, (-1,))[0] == version}
    missing = [key for key in versions if key not in known]
    for first in range(0, len(missing), MOST_ASKED):
        asked = missing[first : first + MOST_ASKED]
        sites = models.Reading.objects.filter(set_id__in=asked, kind="site", corrected_by=None, value_m__isnull=False)
        found = dict(sites.order_by().values_list("set_id").annotate(mean=Avg("value_m")))
        known |= {key: found.get(key) for key in asked}
    if missing and not connection.in_atomic_block:
        with _lock:
            if len(_means) > MOST_MEANS:
                _means.clear()
            _means.update({key: (versions[key], known[key]) for key in missing})
    return known


def calibrations_of(gauge_keys: Collection[int]) -> dict[int, tuple[int | None, tuple[Calibration, ...]]]:
    """Key of a gauge -> key of its latest calibration row, and all its calibrations, the earliest done first."""
    found = models.Calibration.objects.filter(gauge_id__in=gauge_keys)
    latest: dict[int, int] = dict(found.values_list("gauge_id").annotate(last=Max("pk")).order_by())
    answer: dict[int, tuple[int | None, tuple[Calibration, ...]]] = {}
    for key in gauge_keys:
        known = _calibrations.get(key)
        if known is None or known[0] != latest.get(key) or connection.in_atomic_block:
            ordered = found.filter(gauge_id=key).select_related("gauge").order_by("done", "pk")
            known = (latest.get(key), tuple(rows.calibration(one) for one in ordered))
            if not connection.in_atomic_block:
                _calibrations[key] = known
        answer[key] = known
    return answer


def is_writing() -> bool:
    """Whether a transaction is open, that may yet be rolled back."""
    return bool(connection.in_atomic_block)


def last_write() -> int:
    """The number of the last transaction that wrote: as long as it stays, so does every record."""
    number = looking.seen()
    if number is None:
        last = models.ChainLink.objects.order_by("-number").values_list("number", flat=True).first()
        number = 0 if last is None else last
        looking.see(number)
    return number


def written_since(link: int) -> Counter[str] | None:
    """By table, how many rows were written after a transaction; None where there are too many to look at."""
    later = models.ChainLink.objects.filter(number__gt=link).order_by("number")
    contents = list(later.values_list("content", flat=True)[: MOST_LINKS + 1])
    return None if len(contents) > MOST_LINKS else Counter(table for one in contents for table in tables_of(one))


def tables_of(content: str) -> list[str]:
    """The table of each row that a transaction wrote, by its link of the chain."""
    return [line.split(" ", 2)[1] for line in content.splitlines() if not line.startswith("form ")]


def wrote_only(since: int, tables: frozenset[str]) -> bool:
    """Whether the transactions after one wrote into these tables alone; False where there are too many to look at."""
    held = latest_writes.after(since, last_write())
    if held is not None:
        return all(one.tables <= tables for one in held)
    written = written_since(since)
    return written is not None and written.keys() <= tables


def wrote_into(since: int, tables: frozenset[str]) -> bool:
    """Whether a transaction after one wrote into any of these tables; True where there are too many to look at."""
    if last_write() - since > MOST_PASSED:
        return True
    held = latest_writes.after(since, last_write())
    if held is not None:
        return any(one.tables & tables for one in held)
    told = reduce(or_, (Q(content__contains=f" {table} ") for table in sorted(tables)))
    return models.ChainLink.objects.filter(told, number__gt=since).exists()


def rows_written(since: int, tables: Collection[str]) -> dict[str, frozenset[int]] | None:
    """By table, keys of the rows of some tables written after a transaction; None where there are too many."""
    if last_write() - since > MOST_PASSED:
        return None
    held = latest_writes.rows_after(since, last_write(), tables)
    if held is not None:
        return held
    told = reduce(or_, (Q(content__contains=f"row {table} ") for table in sorted(tables)))
    later = models.ChainLink.objects.filter(told, number__gt=since)
    contents = list(later.values_list("content", flat=True)[: MOST_LINKS + 1])
    if len(contents) > MOST_LINKS:
        return None
    return latest_writes.rows_of((latest_writes.written(since, one) for one in contents), tables)


def while_last(
    group: str, last: Mapping[int, int], read: Callable[[list[int]], Mapping[int, Value]]
) -> dict[int, Value]:
    """What rows that are never changed say, by the key they hang on; read anew where another one is the last.

    `last` tells the key of the last row of each, `read` reads those that are asked for.
    """
    return added_to(group, last, lambda before: read(list(before)))


def added_to(
    group: str, last: Mapping[int, int], add: Callable[[dict[int, tuple[int, Value | None]]], Mapping[int, Value]]
) -> dict[int, Value]:
    """The same where only the rows after those that were told of before need be read.

    `add` gets, by the key they hang on, the key of the last row that was told of, 0 at first, and what was told then,
    None at first; and tells it with the rows after it.
    """
    with _lock:
        kept: dict[int, tuple[int, Any]] = {key: _grown_to.get((group, key), (0, None)) for key in last}
    found: dict[int, Value] = {key: said for key, (end, said) in kept.items() if said is not None and end == last[key]}
    missing = {key: before for key, before in kept.items() if key not in found}
    if missing:
        new = add(missing)
        found |= new
        if not connection.in_atomic_block:
            with _lock:
                _grown_to.update({(group, key): (last[key], new[key]) for key in missing if key in new})
    return found


def carried_on(group: str, last: int, add: Callable[[int, Value | None], Value]) -> Value:
    """What rows that are never changed say, carried on from the row it was told for to the one that is the last now.

    `add` gets the key of that row, 0 at first, and what was told then, None at first.
    """
    with _lock:
        end, said = _grown_to.get((group, 0), (0, None))
    if said is not None and end == last:
        told: Value = said
        return told
    told = add(end, said)
    if not connection.in_atomic_block:
        with _lock:
            _grown_to[group, 0] = (last, told)
    return told


def forget() -> None:
    """Keep nothing: the database has been put in another's place."""
    with _lock:
        _sets.clear()
        _growing.clear()
        _calibrations.clear()
        _means.clear()
        _grown_to.clear()
    latest_writes.forget()


# ----------------------------------------------------------------------------------------------------------------------


def _key(row: models.ReadingSet, calibration: int | None) -> tuple[Any, ...]:
    versions = [getattr(row, f"{name}_version") for name in _HUNG_ON]
    return (row.pk, row.version, row.at, row.closed_at, calibration, *versions)


def _keep(key: tuple[Any, ...], one: RecordedSet) -> None:
    if len(one.readings) > MOST_READINGS or connection.in_atomic_block:
        return
    kept, most = (_growing, MOST_GROWING) if one.state == "open" else (_sets, MOST_SETS)
    with _lock:
        kept[key] = one
        kept.move_to_end(key)
        while len(kept) > most:
            kept.popitem(last=False)


def _readings_of(keys: Sequence[int]) -> dict[int, list[Any]]:
    """Rows of readings of some sets, in their sequence: as tuples with names, which are made quicker than objects."""
    found: dict[int, list[Any]] = {}
    for first in range(0, len(keys), MOST_ASKED):
        of_sets = models.Reading.objects.filter(set_id__in=keys[first : first + MOST_ASKED])
        for row in of_sets.order_by("set_id", "sequence").values_list(*_READING, named=True):
            found.setdefault(row.set_id, []).append(row)
    return found


def _grown(keys: dict[int, tuple[Any, ...]]) -> dict[tuple[Any, ...], RecordedSet]:
    """Open sets that were read before, with the readings that came since; by their keys."""
    with _lock:
        before = {pk: _growing[key] for pk, key in keys.items() if key in _growing}
    if not before or len(before) > MOST_GROWN:
        return {}
    since = reduce(or_, (Q(set_id=pk, sequence__gt=len(one.readings)) for pk, one in before.items()))
    came: dict[int, list[models.Reading]] = {}
    for row in models.Reading.objects.filter(since).order_by("set_id", "sequence"):
        came.setdefault(row.set_id, []).append(row)
    answer = {}
    for pk, one in before.items():
        after = _with(one, came.get(pk, ()))
        if after is not one:
            _keep(keys[pk], after)
        answer[keys[pk]] = after
    return answer


def _with(before: RecordedSet, came: Sequence[models.Reading]) -> RecordedSet:
    """A set with the readings that came since it was read, in their sequence."""
    if not came:
        return before
    replaced = {item.corrects_id: item.pk for item in came if item.corrects_id is not None}
    there = tuple(
        replace(one, replaced_by=replaced[one.reading.reading_id]) if one.reading.reading_id in replaced else one
        for one in before.readings
    )
    return replace(before, readings=there + tuple(rows.reading(item, replaced.get(item.pk)) for item in came))


def _surroundings(row: models.ReadingSet, calibrations: tuple[Calibration, ...]) -> SetSurroundings:
    outline: Outline
    if row.carrier is not None:
        outline, edge_exclusion = Round(diameter=from_plain(row.carrier.definition).diameter), 0.0
    else:
        assert row.wafer is not None
        outline = from_plain(row.wafer.definition).outline
        edge_exclusion = from_plain(row.wafer.order.definition).edge_exclusion
    return SetSurroundings(
        outline=outline,
        edge_exclusion=edge_exclusion,
        gauge=from_plain(row.gauge.definition),
        calibrations=calibrations,
    )
