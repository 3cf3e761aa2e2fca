"""What is followed over time: series of numbers from the records, per process, station and gauge, with events."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Literal

from lapwright.app.gauge_care import zero_history, zeros_of_all
from lapwright.app.gauges import gauge_records
from lapwright.app.kept_results import kept_in_batches, kept_unless, kept_until

if TYPE_CHECKING:
    from lapwright.model.gauge_care import CheckStandard, GaugeCheck, ZeroRead
    from lapwright.model.job import RecordedRun
    from lapwright.model.readings import Calibration
    from lapwright.records.drift_queries import SetMean, StationChange

Signal = Literal[
    "rate", "stop_error", "bond_wedge", "ttv", "thickness_error", "flatness", "roughness", "zero", "check",
    "plate_dome",
]  # fmt: skip
#: Unit in which each signal is shown, and how many of it are one SI unit.
UNITS: dict[Signal, tuple[str, float]] = {
    "rate": ("µm/min", 60e6),
    "stop_error": ("µm", 1e6),
    "bond_wedge": ("µm", 1e6),
    "ttv": ("µm", 1e6),
    "thickness_error": ("µm", 1e6),
    "flatness": ("µm", 1e6),
    "roughness": ("nm", 1e9),
    "zero": ("µm", 1e6),
    "check": ("µm", 1e6),
    "plate_dome": ("µm", 1e6),
}
#: What changed on a station or in the name of a lot is written together with their rows.
_RUNS_REST_ON = frozenset({"run", "station", "supplylot", "lot"})
_BONDS_REST_ON = frozenset({"bond", "lot"})
_RESULTS_REST_ON = frozenset({"verdict", "finding", "order", "lot"})
_OF_FINDING: dict[str, Signal] = {"roughness_ra": "roughness", "roughness_sq": "roughness", "flatness": "flatness"}


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftPoint:
    """One value [SI] with when, by whom, and the wafer or the set that it comes from."""

    at: datetime
    value: float
    by: str
    wafer_id: str | None = None
    order_id: str | None = None
    lot_id: str | None = None
    set_id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftEvent:
    """Something that changed: in words, and when; it stands before the first point taken after it."""

    at: datetime
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftSeries:
    """One signal at one place, in the order taken, with what changed meanwhile. `place` says of which process."""

    signal: Signal
    place: str
    points: tuple[DriftPoint, ...]
    events: tuple[DriftEvent, ...]


def collect_series() -> tuple[DriftSeries, ...]:
    """The series of the records, their latest points: rates, stop errors, bonds, results, gauges.

    A series of one point is left out. Each kind is collected anew only after a write that it rests on.
    """
    from lapwright.records import drift_queries

    of_sets = {"readingset": drift_queries.has_stack_ended}
    return (
        *kept_unless(of_sets, _RUNS_REST_ON, ("drift of runs",), lambda: _followed(_of_runs())),
        *kept_until(_BONDS_REST_ON, ("drift of bonds",), lambda: _followed(_of_bonds())),
        *kept_until(_RESULTS_REST_ON, ("drift of results",), lambda: _followed(_of_results())),
        *(one for found in _of_gauges().values() for one in found),
    )


def gauge_series(gauge_id: str) -> list[DriftSeries]:
    """How far the zero moved over each set, and every check standard, with the calibrations as events."""
    return _series_of_gauges({gauge_id: zero_history(gauge_id)})[gauge_id]


def with_lots(series: DriftSeries, lots: dict[str, tuple[str, str]]) -> DriftSeries:
    """The series with order and lot of each wafer, and with new lots and new people as events."""
    points = tuple(
        replace(point, order_id=lots[point.wafer_id][0], lot_id=lots[point.wafer_id][1])
        if point.wafer_id in lots
        else point
        if point.wafer_id is None
        else replace(point, wafer_id=None)
        for point in series.points
    )
    events = (
        *series.events,
        *_first_seen(((point.at, point.lot_id or "") for point in points), "new lot"),
        *_first_seen(((point.at, point.by) for point in points), "new person"),
    )
    return replace(series, points=points, events=tuple(sorted(events, key=lambda one: one.at)))


def plate_events(
    station: str, changes: tuple[StationChange, ...], points: Iterable[DriftPoint]
) -> tuple[DriftEvent, ...]:
    """New plates and pads on a station; another abrasive is another series."""
    first = min((point.at for point in points), default=None)
    return tuple(
        DriftEvent(at=one.at, what=f"new plate or pad: {one.after.plate or 'none'}")
        for one in changes
        if one.station_id == station and one.before.plate != one.after.plate and first is not None and one.at >= first
    )


# ----------------------------------------------------------------------------------------------------------------------


def _followed(found: Iterable[DriftSeries]) -> tuple[DriftSeries, ...]:
    """The series that have points enough to be followed, with the lots of their wafers."""
    return _all_followed({"": list(found)})[""]


def _all_followed(found: Mapping[str, Sequence[DriftSeries]]) -> dict[str, tuple[DriftSeries, ...]]:
    """The same of some groups of series, by their names; lots are asked for once."""
    from lapwright.records import drift_queries

    points = (point for listed in found.values() for one in listed for point in one.points)
    lots = drift_queries.lots({point.wafer_id for point in points if point.wafer_id is not None})
    return {
        name: tuple(with_lots(one, lots) for one in listed if len(one.points) >= 2) for name, listed in found.items()
    }


def _of_gauges() -> dict[str, tuple[DriftSeries, ...]]:
    """The series of each gauge by its name; collected anew for those that something was written of since."""
    from lapwright.records import care_queries

    names = [record[0].gauge_id for record in gauge_records()]
    rests_on = {
        "readingset": care_queries.gauges_of_sets,
        "gaugecheck": care_queries.gauges_checked,
        "calibration": care_queries.gauges_calibrated,
        "checkstandard": lambda _keys: names,
        "lot": lambda _keys: names,
    }

    def made(some: Collection[str]) -> dict[str, tuple[DriftSeries, ...]]:
        zeros = zeros_of_all()
        return _all_followed(_series_of_gauges({name: zeros[name] for name in some}))

    return kept_in_batches(("drift of gauges",), names, rests_on, made)


def _series_of_gauges(zeros: Mapping[str, tuple[ZeroRead, ...]]) -> dict[str, list[DriftSeries]]:
    """The series of some gauges, whose zeros are given, by name."""
    from lapwright.records import care_queries

    checks, calibrations = care_queries.checks_of(list(zeros)), care_queries.calibrations_of(list(zeros))
    standards = care_queries.standards()
    return {name: _series_of(name, read, checks[name], calibrations[name], standards) for name, read in zeros.items()}


def _series_of(
    gauge_id: str,
    zeros: tuple[ZeroRead, ...],
    checks: tuple[GaugeCheck, ...],
    calibrations: tuple[Calibration, ...],
    standards: tuple[CheckStandard, ...],
) -> list[DriftSeries]:
    moved = tuple(
        DriftPoint(
            at=one.at,
            value=one.after - one.before,
            by=one.by,
            wafer_id=one.piece if one.order_id is not None else None,
            order_id=one.order_id,
            set_id=one.set_id,
        )
        for one in zeros
        if one.before is not None and one.after is not None
    )
    found = [DriftSeries(signal="zero", place=gauge_id, points=moved, events=())]
    read: dict[str | None, list[GaugeCheck]] = {}
    for check in checks:
        read.setdefault(check.standard_id, []).append(check)
    for standard in standards:
        points = tuple(
            DriftPoint(at=one.signature.at, value=one.value - (standard.value or 0.0), by=one.signature.by)
            for one in read.get(standard.standard_id, ())
        )
        place = f"{gauge_id} on {standard.standard_id}"
        found.append(DriftSeries(signal="check", place=place, points=points, events=()))
    events = tuple(
        DriftEvent(
            at=datetime.combine(one.done, datetime.min.time(), tzinfo=UTC),
            what=f"gauge {gauge_id} calibrated ({one.certificate})",
        )
        for one in calibrations
    )
    return [replace(one, events=tuple(event for event in events if _within(event, one.points))) for one in found]


def _of_runs() -> list[DriftSeries]:
    """Rate and stop error of each pair of plate and abrasive on each station."""
    from lapwright.records import drift_queries

    runs = kept_until(_RUNS_REST_ON, ("ended runs",), drift_queries.ended_runs)
    means = drift_queries.stack_means({run.wafer_id for run in runs})
    changes = drift_queries.station_changes()
    rates: dict[tuple[str, str], list[DriftPoint]] = {}
    errors: dict[tuple[str, str], list[DriftPoint]] = {}
    for run in runs:
        place = (run.station_id, ", ".join(filter(None, (run.abrasive, run.plate))))
        removal = run.gauge_removal if run.gauge_removal is not None else _removal_by_sets(run, runs, means)
        seconds = 0.0 if run.ended is None else (run.ended - run.started).total_seconds()
        if removal is not None and removal > 0.0 and seconds > 0.0:
            rates.setdefault(place, []).append(_of_run(run, removal / seconds))
        if run.gauge_removal is not None and run.preset is not None:
            errors.setdefault(place, []).append(_of_run(run, run.gauge_removal - run.preset))
    named: tuple[tuple[Signal, dict[tuple[str, str], list[DriftPoint]]], ...] = (
        ("rate", rates),
        ("stop_error", errors),
    )
    return [
        DriftSeries(
            signal=signal,
            place=f"{station}: {what}" if what else station,
            points=tuple(points),
            events=plate_events(station, changes, points),
        )
        for signal, places in named
        for (station, what), points in sorted(places.items())
    ]


def _removal_by_sets(run: RecordedRun, runs: tuple[RecordedRun, ...], means: tuple[SetMean, ...]) -> float | None:
    """What a run took by the sets of the stack before and after it; None when another run lies between them."""
    if run.ended is None:
        return None
    mine = [one for one in means if one.wafer_id == run.wafer_id]
    before = [one for one in mine if one.closed <= run.started]
    after = [one for one in mine if one.opened >= run.ended]
    if not before or not after:
        return None
    first, last = before[-1].closed, after[0].opened
    between = [one for one in runs if one.wafer_id == run.wafer_id and first <= one.started <= last]
    return before[-1].mean - after[0].mean if len(between) == 1 else None


def _of_run(run: RecordedRun, value: float) -> DriftPoint:
    return DriftPoint(at=run.started, value=value, by=run.started_by.by, wafer_id=run.wafer_id)


def _of_bonds() -> list[DriftSeries]:
    from lapwright.records import drift_queries

    places: dict[str, list[tuple[DriftPoint, str]]] = {}
    for bond in drift_queries.judged_bonds():
        if bond.numbers is not None and bond.numbers.wedge is not None:
            point = DriftPoint(
                at=bond.made.at, value=bond.numbers.wedge.amount, by=bond.made.by, wafer_id=bond.wafer_id
            )
            places.setdefault(bond.adhesive, []).append((point, bond.adhesive_lot))
    return [
        DriftSeries(
            signal="bond_wedge",
            place=adhesive,
            points=tuple(point for point, _lot in found),
            events=_first_seen(((point.at, lot) for point, lot in found), "new adhesive lot"),
        )
        for adhesive, found in sorted(places.items())
    ]


def _of_results() -> list[DriftSeries]:
    """TTV and thickness of the finished wafers by their verdicts; roughness and flatness by every finding."""
    from lapwright.records import drift_queries, order_queries

    verdicts = drift_queries.latest_verdicts()
    lots = drift_queries.lots({one.wafer_id for one in verdicts})
    orders = order_queries.orders_named({order_id for order_id, _lot in lots.values()})
    places: dict[tuple[Signal, str], list[DriftPoint]] = {}
    for one in verdicts:
        order = orders.get(lots[one.wafer_id][0])
        quantity, value = one.verdict.limit.quantity, one.verdict.value
        if order is None or quantity not in ("ttv", "thickness"):
            continue
        signal: Signal = "ttv" if quantity == "ttv" else "thickness_error"
        shown = value if quantity == "ttv" else value - order.target_thickness
        point = DriftPoint(
            at=one.signature.at, value=shown, by=one.signature.by, wafer_id=one.wafer_id, set_id=one.set_id
        )
        places.setdefault((signal, f"finished {order.material}"), []).append(point)
    for found in drift_queries.findings():
        kind = _OF_FINDING.get(found.quantity)
        if kind is not None:
            symbol = {"roughness_ra": "Ra", "roughness_sq": "Sq", "flatness": "flatness"}[found.quantity]
            point = DriftPoint(at=found.signature.at, value=found.value, by=found.signature.by, wafer_id=found.wafer_id)
            where = symbol if found.gauge_id is None else f"{symbol}, {found.gauge_id}"
            places.setdefault((kind, where), []).append(point)
    return [
        DriftSeries(signal=signal, place=place, points=tuple(points), events=())
        for (signal, place), points in sorted(places.items())
    ]


def _within(event: DriftEvent, points: tuple[DriftPoint, ...]) -> bool:
    return bool(points) and points[0].at <= event.at


def _first_seen(found: Iterable[tuple[datetime, str]], what: str) -> tuple[DriftEvent, ...]:
    """An event each time a name turns up for the first time, the very first left out."""
    seen: list[str] = []
    events = []
    for at, name in found:
        if name and name not in seen:
            if seen:
                events.append(DriftEvent(at=at, what=f"{what}: {name}"))
            seen.append(name)
    return tuple(events)
