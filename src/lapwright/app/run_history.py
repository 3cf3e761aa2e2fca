"""The lab's finished runs as past runs that rates are learned from, and the misses of its stops."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from lapwright.model.shelf import Station

if TYPE_CHECKING:
    from lapwright.library import Library
    from lapwright.model.plan import Stage
    from lapwright.process.learning import PastRun, RunConditions
    from lapwright.records.drift_queries import SetMean
    from lapwright.records.rate_queries import RunFacts

#: Standard uncertainty of a removal between two sets of readings, and by a jig's gauge that was not followed [m];
#: common practice, no source.
BY_READINGS = 0.4e-6
BY_GAUGE = 1.0e-6
#: How a slurry loses its rate is known over hours; after a day one that was not noted is likelier than one so old [s].
OLDEST_SLURRY = 24.0 * 3600.0
#: Standard uncertainty of a time between two presses of a person [s]; likewise.
BY_HAND = 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A run that teaches nothing, and why."""

    run_id: int
    wafer_id: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOrigin:
    """Where a past run stands in the records."""

    run_id: int
    stage_id: int
    order_id: str
    wafer_id: str
    stage_name: str
    started: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class StopMiss:
    """How far a run stopped beyond its preset by its own gauge, what the plan allowed for that [m], where and when."""

    station_id: str
    jig_id: str | None
    run_id: int
    at: datetime
    beyond: float
    allowance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnStop:
    """How much more than was asked for a lap took by the readings around it, and its standard uncertainty [m].

    `is_finish` says whether it was the last part of its cut, after a direct measurement.
    """

    run_id: int
    is_finish: bool
    error: float
    uncertainty: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RunHistory:
    """Finished runs in the order worked with where each stands, those that teach nothing, and how stops went."""

    runs: tuple[PastRun, ...]
    origins: tuple[RunOrigin, ...]
    left_out: tuple[LeftOut, ...]
    misses: tuple[StopMiss, ...]
    stops: tuple[OwnStop, ...] = ()

    def places(self) -> dict[int, RunOrigin]:
        """Where each of `runs` stands, by the identity of the very object, because two runs may be alike."""
        return {id(run): origin for run, origin in zip(self.runs, self.origins, strict=True)}


def run_history(library: Library) -> RunHistory:
    """Every run of the records that is over. Removal by the readings before and after it, else by its own gauge."""
    from lapwright.records import drift_queries, rate_queries

    facts = rate_queries.ended_run_facts()
    removals = _removals(facts, drift_queries.stack_means({one.run.wafer_id for one in facts}))
    places = Places(facts)
    runs: list[PastRun] = []
    origins: list[RunOrigin] = []
    left_out: list[LeftOut] = []
    for one in facts:
        found = _past_run(library, one, removals.get(one.run.run_id), places)
        if isinstance(found, str):
            left_out.append(LeftOut(run_id=one.run.run_id, wafer_id=one.run.wafer_id, why=found))
        else:
            runs.append(found)
            origins.append(_origin(one))
    misses = tuple(
        StopMiss(
            station_id=one.run.station_id,
            jig_id=one.run.jig_id,
            run_id=one.run.run_id,
            at=one.run.started,
            beyond=one.run.gauge_removal - one.run.preset,
            allowance=one.planned.allowance,
        )
        for one in facts
        if one.run.gauge_removal is not None and one.run.preset is not None and one.planned.kind == "lap"
    )
    stops = tuple(stop for one in facts if (stop := _stop(one, removals.get(one.run.run_id))) is not None)
    return RunHistory(runs=tuple(runs), origins=tuple(origins), left_out=tuple(left_out), misses=misses, stops=stops)


def conditions_now(
    library: Library, *, material: str, planned_run: PlannedRun, at: datetime | None = None
) -> RunConditions:
    """What a run to come will be worked with: its plan, and what stands on the station now; `at` ages the slurry."""
    from lapwright.process.learning import RunConditions
    from lapwright.records import queries, rate_queries

    station = None if planned_run.station_id is None else queries.station(planned_run.station_id).station
    conditions = RunConditions(
        material=library.material(material).material_id,
        abrasive=planned_run.abrasive,
        plate=planned_run.plate,
        pressure=planned_run.pressure,
        speed=planned_run.speed,
        station=planned_run.station_id,
    )
    if station is None or (station.plate, station.abrasive) != (planned_run.plate, planned_run.abrasive):
        return conditions
    conditions = replace(conditions, plate_piece=station.plate_piece, abrasive_lot=station.abrasive_lot)
    if at is not None:
        conditions = replace(conditions, slurry_age=_slurry_age(station, at))
    if not _ages(station):
        return conditions
    places = Places(rate_queries.ended_run_facts())
    return replace(conditions, pad_age=places.age(station.station_id, math.inf))


def station_for(plan: Stage) -> str | None:
    """The one station that carries the plate and abrasive of a stage, or its plate alone; None when it is not one."""
    from lapwright.records import queries

    stations = [one.station for one in queries.stations() if one.station.plate == plan.plate]
    exact = [one for one in stations if one.abrasive == plan.abrasive]
    found = exact or stations
    return found[0].station_id if len(found) == 1 else None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRun:
    """A run to come: abrasive, plate, pressure [Pa], mean sliding speed [m/s], and the station where it is named."""

    abrasive: str
    plate: str
    pressure: float
    speed: float
    station_id: str | None = None


# ----------------------------------------------------------------------------------------------------------------------


class Places:
    """What stood on each station when, and how long it had worked by then."""

    def __init__(self, facts: Sequence[RunFacts]) -> None:
        from lapwright.records import drift_queries, queries

        self._times: dict[str, list[float]] = defaultdict(list)
        self._after: dict[str, list[Station]] = defaultdict(list)
        self._first: dict[str, Station] = {}
        for change in drift_queries.station_changes():
            self._first.setdefault(change.station_id, change.before)
            self._times[change.station_id].append(change.at.timestamp())
            self._after[change.station_id].append(change.after)
        for recorded in queries.stations():
            self._first.setdefault(recorded.station.station_id, recorded.station)
        self._started: dict[str, list[float]] = defaultdict(list)
        self._worked: dict[str, list[float]] = defaultdict(list)
        for one in facts:  # the earliest begun first
            self._started[one.run.station_id].append(one.run.started.timestamp())
            self._worked[one.run.station_id].append(one.cut_time)

    def at(self, station_id: str, time: float) -> Station:
        """The station as it stood at a time."""
        place = bisect_right(self._times[station_id], time)
        return self._after[station_id][place - 1] if place else self._first[station_id]

    def stretches(self, names: Callable[[Station], bool]) -> dict[str, tuple[float, float]]:
        """From when until when stations stood as asked, one stretch each that holds all such times; the others not."""
        found = {}
        for station_id, first in self._first.items():
            times = [-math.inf, *self._times[station_id], math.inf]
            stood = [first, *self._after[station_id]]
            held = [place for place, one in enumerate(stood) if names(one)]
            if held:
                found[station_id] = (times[held[0]], times[held[-1] + 1])
        return found

    def age(self, station_id: str, time: float) -> float:
        """Time worked [s] by a time since the plate or pad was put on or dressed, or since the records begin."""
        now = self.at(station_id, time)
        since = -math.inf if now.dressed_at is None else now.dressed_at.timestamp()
        piece = (now.plate, now.plate_piece)
        before = self._first[station_id]
        for at, after in zip(self._times[station_id], self._after[station_id], strict=True):
            if at <= time and (before.plate, before.plate_piece) != (after.plate, after.plate_piece) == piece:
                since = max(since, at)
            before = after
        started = self._started[station_id]
        return math.fsum(self._worked[station_id][bisect_left(started, since) : bisect_left(started, time)])


def _removals(facts: Sequence[RunFacts], means: Sequence[SetMean]) -> dict[int, float]:
    """What each run took by the sets of the stack around it; left out where another run lies between them."""
    sets: dict[str, list[SetMean]] = defaultdict(list)
    for mean in means:
        sets[mean.wafer_id].append(mean)
    by_wafer: dict[str, list[RunFacts]] = defaultdict(list)
    for one in facts:
        by_wafer[one.run.wafer_id].append(one)
    found = {}
    for wafer_id, runs in by_wafer.items():
        for one in runs:
            before = [mean for mean in sets[wafer_id] if mean.closed <= one.run.started]
            after = [mean for mean in sets[wafer_id] if one.run.ended is not None and mean.opened >= one.run.ended]
            if not before or not after:
                continue
            between = [other for other in runs if before[-1].closed <= other.run.started <= after[0].opened]
            if len(between) == 1:
                found[one.run.run_id] = before[-1].mean - after[0].mean
    return found


def _stop(one: RunFacts, by_readings: float | None) -> OwnStop | None:
    """A lap that its gauge ended, zeroed on a conforming face: from first touch the travel holds the wedge as well."""
    run, planned = one.run, one.planned
    if by_readings is None or run.preset is None or run.preset_datum != "conforming" or planned.kind != "lap":
        return None
    return OwnStop(
        run_id=run.run_id,
        is_finish=planned.name.endswith("finish"),
        error=by_readings - (run.preset + planned.allowance),
        uncertainty=BY_READINGS,
    )


def _past_run(library: Library, one: RunFacts, by_readings: float | None, places: Places) -> PastRun | str:
    """The run as a past run, or why it teaches nothing."""
    from lapwright.errors import NotFound
    from lapwright.process.learning import PastRun, RunConditions

    run, planned = one.run, one.planned
    removal, doubt = (by_readings, BY_READINGS) if by_readings is not None else (run.gauge_removal, BY_GAUGE)
    if by_readings is None and one.removed_uncertainty is not None:
        doubt = one.removed_uncertainty
    pressure, speed = run.pressure or planned.pressure, _speed(one)
    missing = _missing({"plate": run.plate, "abrasive": run.abrasive, "pressure": pressure, "speed": speed})
    if missing:
        return f"Its {missing} is not recorded."
    if removal is None or removal <= 2.0 * doubt or one.cut_time <= 0.0:
        return "What it removed is not known, or no more than its uncertainty."
    station = places.at(run.station_id, run.started.timestamp())
    assert run.plate is not None and run.abrasive is not None and pressure is not None and speed is not None  # noqa: PT018
    try:
        material = library.material(one.material).material_id
        library.plate(run.plate)
        library.abrasive(run.abrasive)
    except NotFound as error:
        return str(error)
    conditions = RunConditions(
        material=material,
        abrasive=run.abrasive,
        plate=run.plate,
        pressure=pressure,
        speed=speed,
        station=run.station_id,
        plate_piece=station.plate_piece if station.plate == run.plate else None,
        abrasive_lot=station.abrasive_lot if station.abrasive == run.abrasive else None,
        pad_age=places.age(run.station_id, run.started.timestamp()) if _ages(station) else None,
        slurry_age=_slurry_age(station, run.started) if station.abrasive == run.abrasive else None,
    )
    name = f"{run.wafer_id}, {planned.name}"
    hand = 0.0 if one.is_timed else BY_HAND / one.cut_time
    return PastRun(
        name=name,
        conditions=conditions,
        removal_rate=removal / one.cut_time,
        rate_uncertainty=math.hypot(doubt / removal, hand),
    )


def _origin(one: RunFacts) -> RunOrigin:
    return RunOrigin(
        run_id=one.run.run_id,
        stage_id=one.run.stage_id,
        order_id=one.order_id,
        wafer_id=one.run.wafer_id,
        stage_name=one.planned.name,
        started=one.run.started,
    )


def _ages(station: Station) -> bool:
    """Whether hours worked count: of every pad, and of a plate once it is known when it was dressed."""
    return station.kind == "polish" or station.dressed_at is not None


def _slurry_age(station: Station, at: datetime) -> float | None:
    """Time [s] since the slurry was put on; None where nobody has said, it was later, or too long ago to count."""
    if station.charged_at is None or station.charged_at > at:
        return None
    age = (at - station.charged_at).total_seconds()
    return age if age <= OLDEST_SLURRY else None


def _speed(one: RunFacts) -> float | None:
    """Mean sliding speed: the plan's, in proportion to the plate speed that was set."""
    planned = one.planned
    if planned.speed is None or not planned.plate_speed or not one.run.plate_speed:
        return planned.speed
    return planned.speed * one.run.plate_speed / planned.plate_speed


def _missing(values: Mapping[str, object]) -> str:
    return ", ".join(name for name, value in values.items() if not value)
