"""Use cases: plates, their checks, their ring, how they stand and what to do next."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache

from lapwright.app.kept_results import Itself
from lapwright.app.plate_demands import PlateDemand, plate_demand
from lapwright.app.plate_dues import due_of, limit_of, ran_since
from lapwright.app.plate_shapes import MOST_KEPT, course_of, head_of, readings_of, setup_of, shape_of, standing_checks
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.plates import CheckMethod, EntryHead, Plate, PlateEntry, RecordedEntry, RecordedPlate
from lapwright.model.readings import Signature
from lapwright.process.plate import PlateShape
from lapwright.process.plate_course import PlateTrend
from lapwright.process.ring_advice import RingAdvice

_HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRequest:
    """A check to be recorded: method, how long the plate ran since the line before [s], the readings as typed.

    For a straight edge `rows` are (place in mm from the axis, laying, text), for a map (x in mm, 0, text) with the y of
    each in `across`; for the others one row (0, 0, text) with the `size` [m] of bridge, block or wafer. `ran` None
    takes the recorded runs of the plate's station.
    """

    method: CheckMethod
    rows: tuple[tuple[float, int, str], ...]
    ran: float | None = None
    size: float | None = None
    unit: str = "µm"
    corrects: int | None = None
    across: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateLine:
    """A line of a plate's history with what it says: running time at it [s] and, for a check, the shape found."""

    recorded: RecordedEntry
    running_time: float
    offset: float
    shape: PlateShape | None

    @property
    def hours(self) -> str:
        """Running time at it, in hours to a tenth."""
        return f"{self.running_time / _HOUR:.1f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateNow:
    """How a plate stands: its ring's place [m] and speed ratio, its history, trend and advice.

    Trend and advice are None before the first check. `ran_since` [s] is how long its station ran since the last line
    (None without a station), `next_check` [s of running] from the last check, `due` says that it must be looked at,
    and `sentence` why. `demand` is what the strictest order in work asks, None where none does.
    """

    recorded: RecordedPlate
    offset: float
    speed_ratio: float
    lines: tuple[PlateLine, ...]
    trend: PlateTrend | None
    advice: RingAdvice | None
    ran_since: float | None
    next_check: float | None
    due: bool
    sentence: str
    demand: PlateDemand | None = None

    @property
    def dome_limit(self) -> float:
        """The largest dome allowed now [m]: the plate's own limit, or the stricter one of an order in work."""
        return limit_of(self.plate, self.demand)

    @property
    def plate(self) -> Plate:
        """The plate itself."""
        return self.recorded.plate

    @property
    def last_check(self) -> PlateLine | None:
        """The latest check that stands."""
        return next((line for line in reversed(self.lines) if line.shape is not None), None)


def register_plate(plate: Plate, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedPlate:
    """Record a plate, or what is newly set of it."""
    from lapwright.process.wear_learning import expected_rate, learned_wear
    from lapwright.records import plate_queries, writer

    setup = setup_of(plate, plate.offset, plate.speed_ratio)
    expected_rate(learned_wear([], setup), setup, plate.offset)  # refuses a ring that does not lie on the land
    writer.put_plate(plate, Signature(by=by, at=at, reason=reason), version=version)
    return plate_queries.plate(plate.plate_id)


def record_check(plate_id: str, request: CheckRequest, *, by: str, reason: str, at: datetime) -> PlateNow:
    """Record a check of a plate; all faults of its readings are told at once.

    Raises `BadInput` for readings that are no lengths or too few, `NotFound` for an unknown plate, `Conflict` when the
    check it corrects is not there.
    """
    from lapwright.records import plate_queries, writer

    plate = plate_queries.plate(plate_id).plate
    if request.corrects is None:
        ran = _ran(plate, request.ran, at)
    else:
        old = next((one for one in plate_queries.entries(plate_id) if one.entry_id == request.corrects), None)
        ran = old.entry.ran if old is not None and request.ran is None else _ran(plate, request.ran, at)
    entry = PlateEntry(
        kind="check",
        ran=ran,
        method=request.method,
        size=request.size,
        readings=readings_of(request.rows, request.unit, request.across),
        corrects=request.corrects,
    )
    shape_of(plate, entry)  # refuses what cannot be told before anything is written
    writer.add_plate_entry(plate_id, entry, Signature(by=by, at=at, reason=reason))
    return show_plate(plate_id, at=at)


def set_ring(
    plate_id: str, offset: float, *, speed_ratio: float | None = None, ran: float | None = None,
    by: str, reason: str, at: datetime,
) -> PlateNow:  # fmt: skip
    """Record that the ring was set to a place [m], and from now on a speed ratio.

    Raises `BadInput` for a place that the ring cannot be set to.
    """
    from lapwright.records import plate_queries, writer

    plate = plate_queries.plate(plate_id).plate
    if not plate.least_offset <= offset <= plate.most_offset:
        sentence = (
            f"The ring of plate {plate_id} can be set from {plate.least_offset * 1e3:g} to"
            f" {plate.most_offset * 1e3:g} mm; found {offset * 1e3:g} mm. Read the scale again."
        )
        raise BadInput([Fault(sentence=sentence, field="offset")])
    ratio = show_plate(plate_id, at=at).speed_ratio if speed_ratio is None else speed_ratio
    entry = PlateEntry(kind="ring", ran=_ran(plate, ran, at), offset=offset, speed_ratio=ratio)
    writer.add_plate_entry(plate_id, entry, Signature(by=by, at=at, reason=reason))
    return show_plate(plate_id, at=at)


def record_dressing(plate_id: str, *, ran: float | None = None, by: str, reason: str, at: datetime) -> PlateNow:
    """Record that a plate was dressed or faced: its shape is unknown until the next check, its hours begin anew."""
    from lapwright.records import plate_queries, queries, writer

    plate, signature = plate_queries.plate(plate_id).plate, Signature(by=by, at=at, reason=reason)
    entry = PlateEntry(kind="dressed", ran=_ran(plate, ran, at))
    with writer.transaction():
        writer.add_plate_entry(plate_id, entry, signature)
        if plate.station_id is not None:
            station = queries.station(plate.station_id).station
            writer.put_station(replace(station, dressed_at=at), signature)
    return show_plate(plate_id, at=at)


def recorded_plates() -> tuple[RecordedPlate, ...]:
    """All plates as recorded, by name, without what follows from their history."""
    from lapwright.records import plate_queries

    return plate_queries.plates()


def list_plates(*, at: datetime) -> tuple[PlateNow, ...]:
    """All plates as they stand at a time, by name."""
    from lapwright.records import plate_queries

    histories = plate_queries.histories()
    return tuple(_now(one, histories[one.plate.plate_id], at) for one in plate_queries.plates())


def plate_demands() -> tuple[tuple[float, PlateDemand | None], ...]:
    """How true the wafers at work need plates to be, by the radius [m] of each plate there is."""
    from lapwright.records import plate_queries

    radii = sorted({one.plate.outer_radius for one in plate_queries.plates()})
    return tuple((radius, plate_demand(radius)) for radius in radii)


def show_plate(plate_id: str, *, at: datetime) -> PlateNow:
    """One plate as it stands at a time."""
    from lapwright.records import plate_queries

    return _now(plate_queries.plate(plate_id), plate_queries.entries(plate_id), at)


# ----------------------------------------------------------------------------------------------------------------------


def _ran(plate: Plate, told: float | None, at: datetime) -> float:
    """Running time since the line before [s]: as told, else by the recorded runs of the plate's station."""
    from lapwright.records import plate_queries

    if told is not None:
        return told
    history = plate_queries.entries(plate.plate_id)
    if not history:
        return 0.0
    if plate.station_id is None:
        raise BadInput(
            [Fault(sentence="Say how long the plate ran since the line before: it stands on no station.", field="ran")]
        )
    since = max(one.signature.at for one in history)
    if at < since:
        raise Conflict("This line is older than the last one of the plate. Say how long the plate ran before it.")
    return plate_queries.ran_on(plate.station_id, since=since, until=at)


@dataclass(frozen=True, slots=True)
class _Learned:
    """What follows from a plate's checks alone."""

    trend: PlateTrend
    advice: RingAdvice
    next_check: float


def _now(recorded: RecordedPlate, history: tuple[RecordedEntry, ...], at: datetime) -> PlateNow:
    plate = recorded.plate
    lines, offset, ratio = _lines(plate, Itself(history))
    heads = _heads(Itself(history))
    ran = ran_since(plate, heads, at)
    demand = plate_demand(plate.outer_radius)
    limit = limit_of(plate, demand)
    learned = _learned(plate, Itself(history), offset, ratio, limit)
    trend, advice, ahead = (
        (None, None, None) if learned is None else (learned.trend, learned.advice, learned.next_check)
    )
    due, sentence = due_of(plate, heads, limit=limit, trend=trend, next_check=ahead, ran=ran)
    return PlateNow(
        demand=demand,
        recorded=recorded, offset=offset, speed_ratio=ratio, lines=lines, trend=trend, advice=advice, ran_since=ran,
        next_check=ahead, due=due, sentence=sentence,
    )  # fmt: skip


@lru_cache(maxsize=MOST_KEPT)
def _heads(history: Itself) -> tuple[EntryHead, ...]:
    return tuple(map(head_of, history.held))


@lru_cache(maxsize=MOST_KEPT)
def _learned(plate: Plate, history: Itself, offset: float, ratio: float, limit: float) -> _Learned | None:
    """Trend, advice and the next check by a history; None without a check. Kept while the history is the same."""
    from lapwright.process.plate_course import plate_trend, time_to_next_check
    from lapwright.process.ring_advice import ring_advice
    from lapwright.process.wear_learning import learned_wear

    course = course_of(plate, history.held)
    if not course:
        return None
    trend = plate_trend(course)
    setup = setup_of(plate, offset, ratio)
    advice = ring_advice(trend.dome, trend.dome_uncertainty, learned_wear(course, setup), setup, dome_limit=limit)
    ahead = time_to_next_check(trend, dome_limit=limit, longest=plate.check_every)
    return _Learned(trend, advice, ahead)


@lru_cache(maxsize=MOST_KEPT)
def _lines(plate: Plate, history: Itself) -> tuple[tuple[PlateLine, ...], float, float]:
    """The history with running times and shapes, and the place and ratio of the ring after it."""
    lines, time, offset, ratio = [], 0.0, plate.offset, plate.speed_ratio
    shapes = standing_checks(plate, history.held)
    for one in history.held:
        if one.replaced_by is None:
            time += one.entry.ran
        if one.entry.kind == "ring" and one.entry.offset is not None:
            offset, ratio = one.entry.offset, one.entry.speed_ratio or ratio
        lines.append(PlateLine(recorded=one, running_time=time, offset=offset, shape=shapes.get(one.entry_id)))
    return tuple(lines), offset, ratio
