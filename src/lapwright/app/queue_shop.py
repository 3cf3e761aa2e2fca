"""The shop as the records have it at a moment: places, people's hours, the wafers that wait, what runs.

What nobody has entered is assumed and said to be: a bench, a bonder, hours. An order that cannot be planned is left
out with its reason. Shop times count in seconds from the moment asked for.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from lapwright.app import wiring
from lapwright.app.queue_kits import kits_now
from lapwright.app.queue_tasks import WaferAhead, Where, stages_left, wafer_tasks
from lapwright.model.board import BoardFacts, BoardPlace, HeldTask, ShopHours, ShopTimes, WeekShift
from lapwright.model.job import RecordedRun, RecordedWafer
from lapwright.model.order import Order
from lapwright.model.queue import Closure, Fix, Job, Place, PlaceKind, Setting, Shift, Shop, Task
from lapwright.model.shelf import Station

if TYPE_CHECKING:
    from lapwright.library import Library

HOUR = 3600.0
WEEKS_AHEAD = 26
#: Hours taken as long as nobody has entered any: Monday to Friday, 8 to 17, two people.
USUAL_HOURS = ShopHours(week=tuple(WeekShift(weekday=day, start=8 * HOUR, end=17 * HOUR, people=2) for day in range(5)))
USUAL_TIMES = ShopTimes()
#: Places taken as long as nobody has entered one of the kind.
_BENCHES: dict[PlaceKind, str] = {"measure": "reading bench", "bond": "bonder", "clean": "cleaning bench"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopNow:
    """The shop at a moment, with what was assumed for it, and the orders left out with their reasons."""

    at: datetime
    shop: Shop
    places: tuple[BoardPlace, ...]
    hours: ShopHours
    assumed: tuple[str, ...] = ()
    left_out: tuple[tuple[str, str], ...] = ()
    ran_since: dict[str, float] = field(default_factory=dict)

    def moment(self, seconds: float) -> datetime:
        """A time of the shop as a moment."""
        return self.at + timedelta(seconds=seconds)

    def seconds(self, moment: datetime) -> float:
        """A moment as a time of the shop."""
        return (moment - self.at).total_seconds()


def shop_now(
    at: datetime,
    facts: BoardFacts,
    held: tuple[HeldTask, ...] = (),
    *,
    left: frozenset[str] = frozenset(),
) -> ShopNow:
    """The shop at a moment, from the records and these facts; `left` names orders not to be planned."""
    from lapwright.library import load
    from lapwright.records import queries

    library = load()
    stations = {one.station.station_id: one.station for one in queries.stations()}
    places, assumed = _places(facts, stations)
    hours = facts.hours or USUAL_HOURS
    times = facts.times or USUAL_TIMES
    if facts.hours is None:
        assumed.append("Nobody has entered the hours: Monday to Friday, 8 to 17 o'clock, two people are taken.")
    if facts.times is None:
        assumed.append("Nobody has entered how long changeovers, bonding and readings take: usual times are taken.")
    where = _where(places, stations)
    jobs: list[Job] = []
    tasks: list[Task] = []
    out: list[tuple[str, str]] = []
    since: dict[str, float] = {}
    planned: list[tuple[Order, list[Task]]] = []
    runs = {one.wafer_id: one for one in queries.running_runs()}
    ranks = {one.order_id: one.priority for one in facts.ranks.ranks}
    for order, wafers in _orders_in_work():
        if order.order_id in left:
            continue
        made, reason = _order_tasks(order, wafers, runs, where, times, library, at)
        if reason:
            out.append((order.order_id, reason))
        if not made or reason:
            continue
        due = None if order.due is None else (end_of_day(order.due, hours) - at).total_seconds()
        jobs.append(Job(job_id=order.order_id, due=due, priority=ranks.get(order.order_id, 1)))
        tasks += made
        planned.append((order, made))
        since |= {task.task_id: (runs[task.pieces[0]].started - at).total_seconds() for task in made if task.running}
    known = {task.task_id: task for task in tasks}
    kits = kits_now(planned)
    assumed += kits.assumed
    shop = Shop(
        places=tuple(_place(one, stations.get(one.place_id), at, library) for one in places),
        jobs=tuple(jobs),
        tasks=tuple(tasks),
        shifts=_shifts(hours, at),
        changeovers=times.changeovers,
        fixes=tuple(
            Fix(task_id=one.task_id, place_id=one.place_id, start=max(0.0, one.start - at.timestamp()))
            for one in held
            if one.task_id in known and not known[one.task_id].running and one.place_id in known[one.task_id].places
        ),
        kits=kits.kits,
        holds=kits.holds,
    )
    return ShopNow(
        at=at,
        shop=shop,
        places=tuple(places),
        hours=hours,
        assumed=tuple(assumed),
        left_out=tuple(out),
        ran_since=since,
    )


def known_places(facts: BoardFacts) -> tuple[BoardPlace, ...]:
    """All places of the Board, those assumed included."""
    from lapwright.records import queries

    return tuple(_places(facts, {one.station.station_id: one.station for one in queries.stations()})[0])


def laboratory_zone() -> ZoneInfo:
    """The zone in which hours and due dates are meant."""
    return ZoneInfo(wiring.current_settings().time_zone)


def end_of_day(day: date, hours: ShopHours) -> datetime:
    """The moment by which what is due on a day must be done: the end of its hours, midnight on a day without any."""
    ends = [one.end for one in hours.week if one.weekday == day.weekday()]
    midnight = datetime.combine(day, time.min, tzinfo=laboratory_zone())
    if not ends or day in hours.off:
        return datetime.combine(day + timedelta(days=1), time.min, tzinfo=laboratory_zone())
    return _at_time(midnight, max(ends))


# ----------------------------------------------------------------------------------------------------------------------


def _at_time(midnight: datetime, seconds: float) -> datetime:
    """A time of a day by the clock on the wall, whatever the clock does that night."""
    naive = midnight.replace(tzinfo=None) + timedelta(seconds=seconds)
    return naive.replace(tzinfo=midnight.tzinfo)


def _places(facts: BoardFacts, stations: dict[str, Station]) -> tuple[list[BoardPlace], list[str]]:
    """The places entered, the stations on record that are not among them, and benches where there is none."""
    known = {one.place_id: one for one in facts.places}
    places = list(known.values())
    places += [
        BoardPlace(place_id=station.station_id, name=station.name, kind=station.kind)
        for station in stations.values()
        if station.station_id not in known
    ]
    assumed = []
    for kind, name in _BENCHES.items():
        if not any(one.kind == kind for one in places):
            places.append(BoardPlace(place_id=name, name=name, kind=kind))
            assumed.append(f"No place of the kind '{kind}' is recorded: one {name} for one wafer at a time is taken.")
    order: tuple[PlaceKind, ...] = ("bond", "lap", "polish", "clean", "measure")
    return sorted(places, key=lambda one: (order.index(one.kind), one.place_id)), assumed


def _where(places: list[BoardPlace], stations: dict[str, Station]) -> Where:
    by_kind: dict[PlaceKind, list[str]] = defaultdict(list)
    by_plate: dict[tuple[str, str], list[str]] = defaultdict(list)
    for place in places:
        by_kind[place.kind].append(place.place_id)
        station = stations.get(place.place_id)
        plates = {*place.plates, *([station.plate] if station is not None and station.plate else [])}
        for plate in plates:
            by_plate[(place.kind, plate)].append(place.place_id)
    return Where(
        by_kind={kind: tuple(names) for kind, names in by_kind.items()},
        by_plate={key: tuple(names) for key, names in by_plate.items()},
    )


def _place(place: BoardPlace, station: Station | None, at: datetime, library: Library) -> Place:
    setting = Setting()
    if station is not None and place.kind in ("lap", "polish"):
        setting = _last_setting(station, library)
    start = at.timestamp()
    closed = (replace(one, start=one.start - start, end=one.end - start) for one in place.closed if one.end > start)
    return Place(
        place_id=place.place_id, name=place.name, kind=place.kind, positions=place.positions, setting=setting,
        closed=tuple(Closure(start=one.start, end=one.end, reason=one.reason) for one in closed),
    )  # fmt: skip


def _last_setting(station: Station, library: Library) -> Setting:
    """What is on a station, and what the last run left on it: another abrasive by record means that it was washed."""
    from lapwright.app.queue_tasks import setting_of
    from lapwright.records import board_queries

    last = board_queries.last_load(station.station_id)
    if last is None:
        return Setting(plate=station.plate or "", abrasive=station.abrasive or "")
    plate, abrasive, order = last
    return setting_of(order, station.plate or plate or "", station.abrasive or abrasive or "", library)


def _shifts(hours: ShopHours, at: datetime) -> tuple[Shift, ...]:
    """The hours from a moment on, in seconds from it."""
    zone = laboratory_zone()
    today = at.astimezone(zone).date()
    found = []
    for number in range(7 * WEEKS_AHEAD):
        day = today + timedelta(days=number)
        if day in hours.off:
            continue
        midnight = datetime.combine(day, time.min, tzinfo=zone)
        for one in hours.week:
            if one.weekday == day.weekday():
                start, end = _at_time(midnight, one.start), _at_time(midnight, one.end)
                found.append((start.timestamp() - at.timestamp(), end.timestamp() - at.timestamp(), one.people))
    found += [(one.start - at.timestamp(), one.end - at.timestamp(), one.people) for one in hours.extra]
    return tuple(
        Shift(start=max(0.0, start), end=end, people=people) for start, end, people in sorted(found) if end > 0.0
    )


def _orders_in_work() -> list[tuple[Order, list[RecordedWafer]]]:
    """Orders with a wafer still to be worked, in the order received."""
    from lapwright.app.queue_tasks import NEXT_STEP
    from lapwright.records import order_queries, queries

    by_order: dict[str, list[RecordedWafer]] = defaultdict(list)
    for wafer in queries.wafers_in_states(tuple(NEXT_STEP)):
        by_order[wafer.order_id].append(wafer)
    orders = order_queries.orders_named(by_order)
    received = sorted(by_order, key=lambda name: (min(one.signature.at for one in by_order[name]), name))
    return [(orders[name], sorted(by_order[name], key=lambda one: one.wafer.wafer_id)) for name in received]


def _order_tasks(
    order: Order, wafers: list[RecordedWafer], runs: dict[str, RecordedRun], where: Where, times: ShopTimes,
    library: Library, at: datetime,
) -> tuple[list[Task], str]:  # fmt: skip
    """The tasks of an order, or why it cannot be planned."""
    from lapwright.records import queries

    route = queries.chosen_route(order.order_id)
    if route is None:
        return [], "has no route yet. Choose one, then it can be planned."
    made: list[Task] = []
    for wafer in wafers:
        own = [(one.stage, one.state in ("done", "skipped")) for one in queries.stages(wafer.wafer.wafer_id)]
        ahead = WaferAhead(
            wafer=wafer, order=order, stages=stages_left(route.plan, own), run=runs.get(wafer.wafer.wafer_id)
        )
        made += wafer_tasks(ahead, where, times, library, at)
    nowhere = sorted(
        {one.removeprefix("none for ") for task in made for one in task.places if one.startswith("none for ")}
    )
    if nowhere:
        return [], f"needs {', '.join(nowhere)}, which lies on no station and can be put on none. Enter it at a place."
    return made, ""
