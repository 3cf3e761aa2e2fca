"""Use cases: what do we have of what is used up, may I use it, where did it go, and when is more to be ordered.

What runs take of a lot follows from the records: the lot on the station, its feed, and the time that each run cut.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Literal

from lapwright.app import lot_traces
from lapwright.app.kept_results import kept_in_batches, kept_in_parts, kept_until
from lapwright.app.lot_names import lot_part
from lapwright.errors import BadInput, Fault
from lapwright.model.readings import Signature
from lapwright.model.supply import BondFacts, Measure, RecordedLot, RunTime, SupplyLot, UseKind
from lapwright.process.stock import StockOutlook, stock_outlook

LOOKED_BACK = 90  # days of use that a forecast rests on, fewer where the records are younger
SOON = timedelta(days=14)
_MOST_LETTERS = 60
#: Tables that say which lots stations, and runs without a key, name; with a change of a station goes its row.
_NAMED_REST_ON = frozenset({"run", "station", "supplylot"})
May = Literal["yes", "expired", "held", "empty"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunUse:
    """What one run took of a lot, in the lot's measure."""

    run_id: int
    order_id: str
    wafer_id: str
    station_id: str
    at: datetime
    amount: float
    companions: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BondUse:
    """What one bond took of a lot, in the lot's measure; nought where that is entered by hand."""

    order_id: str
    wafer_id: str
    at: datetime
    amount: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LotCard:
    """A lot as it stands: what is left, whether it may be used, where it is and where it went.

    `left` is never below nothing; `is_overdrawn` says that runs took more than came, so that somebody should count.
    `used` is what runs and bonds took and what was entered as used, day by day. Runs, bonds and wafers are told of one
    lot alone, not in a list of all; `are_all_told` says whether all of them are.
    """

    recorded: RecordedLot
    left: float
    is_overdrawn: bool
    may: May
    expires_soon: bool
    stations: tuple[str, ...]
    used: Mapping[date, float]
    runs: tuple[RunUse, ...] = ()
    bonds: tuple[BondUse, ...] = ()
    wafers: tuple[tuple[str, str], ...] = ()
    are_all_told: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemStock:
    """All usable lots of one item together: what is left, how long it lasts, when to order; the stages that want it."""

    item: str
    kind: str
    measure: Measure
    left: float
    outlook: StockOutlook | None
    order_by: date | None
    waiting: int
    planned: float = 0.0
    lead_time: float = 0.0
    daily: tuple[float, ...] = ()


def record_lot(lot: SupplyLot, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedLot:
    """Record a lot that came, or what changed about it. Raises `Conflict` when somebody else changed it meanwhile."""
    from lapwright.records import supply_queries, writer

    with writer.transaction():
        writer.put_lot(lot, Signature(by=by, at=at, reason=reason), version=version)
        return supply_queries.lot(lot.lot_id)


def rename_lot(
    lot_id: str, name: str, *, by: str, reason: str, at: datetime, version: int | None = None
) -> RecordedLot:
    """Give a lot another name; what it served goes on pointing at it, and the old name still finds it.

    Raises `NotFound`, `BadInput` for no name, `Conflict` for one that another lot has or had.
    """
    from lapwright.records import supply_queries, writer

    wanted = name.strip()
    if not 1 <= len(wanted) <= _MOST_LETTERS:
        sentence = f"The name has {len(wanted)} letters; expected 1 to {_MOST_LETTERS}."
        raise BadInput([Fault(sentence=sentence, field="lot_id")], subject=f"Lot {lot_id}")
    with writer.transaction():
        writer.rename_lot(lot_id, wanted, Signature(by=by, at=at, reason=reason), version=version)
        return supply_queries.lot(wanted)


def take_of_lot(lot_id: str, kind: UseKind, amount: float, *, by: str, reason: str, at: datetime) -> RecordedLot:
    """Record what was taken by hand or thrown away, or what is left by count. Raises `NotFound`, `BadInput`."""
    from lapwright.records import supply_queries, writer

    least_ok = amount >= 0.0 if kind == "counted" else amount > 0.0
    if not (math.isfinite(amount) and least_ok):
        sentence = f"The amount is {amount:g}; expected {'zero or more' if kind == 'counted' else 'more than nothing'}."
        raise BadInput([Fault(sentence=sentence, field="amount")])
    with writer.transaction():
        writer.add_use(lot_id, kind, amount, Signature(by=by, at=at, reason=reason))
        return supply_queries.lot(lot_id)


def list_lots() -> tuple[RecordedLot, ...]:
    """Every lot with what was entered of it by hand, by item and arrival."""
    return _lots()


def lot_cards(*, on: date) -> tuple[LotCard, ...]:
    """Every lot as it stands on a day, by item and arrival; without the runs, bonds and wafers it went into."""
    lots, stations = _lots(), _on_stations()
    return tuple(_card(one, standing, stations, on) for one, standing in zip(lots, _standings(lots), strict=True))


def lot_card(lot_id: str, *, on: date, newest: int | None = None) -> LotCard:
    """One lot as it stands, with all that it went into, or with so many of the newest runs and bonds.

    Raises `NotFound`.
    """
    from lapwright.records import supply_queries

    recorded = supply_queries.lot(lot_id)
    asked = None if newest is None else newest + 1
    runs, bonds = _runs_of(recorded.lot, newest=asked), _bonds_of(recorded.lot, newest=asked)
    is_cut = newest is not None and max(len(runs), len(bonds)) > newest
    if newest is not None:
        runs, bonds = runs[-newest:], bonds[-newest:]
    wafers = [wafer for one in runs for wafer in ((one.order_id, one.wafer_id), *one.companions)]
    wafers += [(one.order_id, one.wafer_id) for one in bonds]
    card = _card(recorded, _standings([recorded], are_all=False)[0], _on_stations(), on)
    return replace(card, runs=runs, bonds=bonds, wafers=tuple(dict.fromkeys(wafers)), are_all_told=not is_cut)


def lots_for(item: str | None, *, on: date) -> tuple[SupplyLot, ...]:
    """The lots of an item that may be used on a day, the oldest first; what is left is not looked at."""
    held = [one.lot for one in _lots() if one.lot.item == item]
    return tuple(lot for lot in held if _may(lot, lot.amount, on) == "yes")


def adhesive_lots(*, on: date) -> tuple[SupplyLot, ...]:
    """The lots of adhesives that may be used on a day, by item and age."""
    held = [one.lot for one in _lots() if one.lot.kind == "adhesive"]
    return tuple(lot for lot in held if _may(lot, lot.amount, on) == "yes")


def is_on_shelf(name: str) -> bool:
    """Whether a lot, a pad of a lot or a plate has a name, or had it before it was renamed."""
    from lapwright.records import plate_queries, supply_queries

    plates = plate_queries.plate_names()
    return name in plates or lot_part(name) in supply_queries.names_now()


def may_use(lot_id: str | None, *, on: date) -> May | None:
    """Whether a lot is held or past its date on a day; None for one that the shelf does not know."""
    from lapwright.records import supply_queries

    name = supply_queries.names_now().get(lot_id or "")
    return None if name is None else _may(supply_queries.lot(name).lot, math.inf, on)


def item_stocks(cards: Sequence[LotCard], *, on: date) -> tuple[ItemStock, ...]:
    """Stock of each item, the one to be ordered first at the top.

    A forecast rests on the use of the last 90 days, or of as many as there are records for, and on the stages waiting.
    """
    from lapwright.records import supply_queries

    waiting = kept_until(frozenset({"stage", "wafer"}), ("waiting times",), supply_queries.waiting_times)
    found = [
        _stock(item, [card for card in cards if card.recorded.lot.item == item], waiting.get(item, ()), on)
        for item in dict.fromkeys(card.recorded.lot.item for card in cards)
    ]
    return tuple(sorted(found, key=lambda one: (one.order_by or date.max, one.item)))


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Standing:
    """What follows from all that was taken of a lot: what is left, below nought when too much, and used day by day."""

    left: float
    used: Mapping[date, float]


def _lots() -> tuple[RecordedLot, ...]:
    """All lots with their uses; only those that something was taken of since are looked up again."""
    from lapwright.records import supply_queries

    names = kept_until(frozenset({"supplylot"}), ("names of lots",), supply_queries.lot_names)
    rests_on = {"supplylot": supply_queries.lots_of_rows, "supplyuse": supply_queries.lots_of_uses}
    found = kept_in_batches(("lots",), names, rests_on, supply_queries.lots_named)
    return tuple(found[name] for name in names)


def _standings(lots: Sequence[RecordedLot], *, are_all: bool = True) -> list[_Standing]:
    """How lots stand; of those that runs and bonds point at, only what was written to since is looked up again."""
    from lapwright.records import supply_queries

    known = {one.lot.lot_id: one for one in lots}
    by_name = {name for _run, name in _runs_by_name()} | set(_bonds_by_name())
    days = _cut_days([one for name, one in known.items() if name not in by_name], are_all=are_all)

    def stands(lot_id: str) -> _Standing:
        one = known[lot_id]
        if lot_id in by_name:
            return _standing(one, [(run.at, run.amount) for run in _runs_of(one.lot)], _bonds_of(one.lot))
        times = days[lot_id] if lot_id in days else supply_queries.cut_times(lot_id)
        feed = one.lot.feed or 0.0
        return _standing(one, [(at, feed * time) for at, time in times], _bonds_of(one.lot))

    kept = kept_in_parts(
        ("lots stand",),
        [name for name in known if name not in by_name],
        {
            "run": supply_queries.lots_of_runs,
            "bond": supply_queries.lots_of_bonds,
            "supplylot": supply_queries.lots_of_rows,
            "supplyuse": supply_queries.lots_of_uses,
        },
        stands,
        are_all=are_all,
    )
    return [kept[name] if name in kept else stands(name) for name in known]


def _cut_days(lots: Sequence[RecordedLot], *, are_all: bool) -> dict[str, tuple[tuple[datetime, float], ...]]:
    """How long runs cut with each lot [s], day by day; without lots where it matters what came before a count."""
    from lapwright.records import supply_queries

    def summed(lot_id: str) -> tuple[tuple[datetime, float], ...]:
        found: dict[datetime, list[float]] = defaultdict(list)
        for at, time in supply_queries.cut_times(lot_id):
            found[at.replace(hour=0, minute=0, second=0, microsecond=0)].append(time)
        return tuple((day, math.fsum(times)) for day, times in found.items())

    uncounted = [one.lot.lot_id for one in lots if not any(use.kind == "counted" for use in one.uses)]
    rests_on = {"run": supply_queries.lots_of_runs, "supplylot": supply_queries.lots_of_rows}
    return kept_in_parts(("days of lots",), uncounted, rests_on, summed, are_all=are_all)


def _standing(recorded: RecordedLot, runs: Sequence[tuple[datetime, float]], bonds: Sequence[BondUse]) -> _Standing:
    """How a lot stands, by what runs took of it, each with its moment, its bonds, and what was entered by hand."""
    taken = sorted(
        [(at, "used", amount) for at, amount in runs]
        + [(one.at, "used", one.amount) for one in bonds]
        + [(one.signature.at, str(one.kind), one.amount) for one in recorded.uses]
    )
    left = recorded.lot.amount
    used: dict[date, float] = defaultdict(float)
    for at, kind, amount in taken:
        left = amount if kind == "counted" else left - amount
        if kind == "used":
            used[at.date()] += amount
    return _Standing(left=left, used=dict(used))


def _runs_by_name() -> tuple[tuple[RunTime, str], ...]:
    return kept_until(_NAMED_REST_ON, ("runs by name",), lot_traces.runs_by_name)


def _bonds_by_name() -> dict[str, list[BondFacts]]:
    from lapwright.records import supply_queries

    def by_lot() -> dict[str, list[BondFacts]]:
        names = supply_queries.names_now()
        found: dict[str, list[BondFacts]] = defaultdict(list)
        for name, bonds in supply_queries.bonds_by_name().items():
            if name in names:
                found[names[name]] += bonds
        return dict(found)

    return kept_until(frozenset({"bond", "supplylot"}), ("bonds by name",), by_lot)


def _runs_of(lot: SupplyLot, *, newest: int | None = None) -> tuple[RunUse, ...]:
    from lapwright.records import supply_queries

    found = [run for run, name in _runs_by_name() if name == lot.lot_id]
    found += supply_queries.runs_of_lot(lot.lot_id, newest=newest)
    runs = sorted(found, key=lambda one: (one.started, one.run_id))
    return tuple(
        RunUse(
            run_id=run.run_id,
            order_id=run.order_id,
            wafer_id=run.wafer_id,
            station_id=run.station_id,
            at=run.started,
            companions=run.companions,
            amount=(lot.feed or 0.0) * run.cut_time,
        )
        for run in (runs if newest is None else runs[-newest:])
    )


def _bonds_of(lot: SupplyLot, *, newest: int | None = None) -> tuple[BondUse, ...]:
    from lapwright.records import supply_queries

    found = [*supply_queries.bonds_of_lot(lot.lot_id, newest=newest), *_bonds_by_name().get(lot.lot_id, ())]
    takes = lot.per_bond or 0.0
    return tuple(
        BondUse(order_id=one.order_id, wafer_id=one.wafer_id, at=one.at, amount=takes)
        for one in sorted(found, key=lambda one: one.at)
    )


def _on_stations() -> dict[str, tuple[str, ...]]:
    """The lots that each station names, of its abrasive and its pad, by the names they have now."""
    from lapwright.records import queries, supply_queries

    names = supply_queries.names_now()
    found = {}
    for one in queries.stations():
        told = (one.station.abrasive_lot or "", lot_part(one.station.plate_piece))
        found[one.station.station_id] = tuple(names[name] for name in told if name in names)
    return found


def _card(recorded: RecordedLot, standing: _Standing, stations: Mapping[str, tuple[str, ...]], on: date) -> LotCard:
    lot = recorded.lot
    return LotCard(
        recorded=recorded,
        left=max(0.0, standing.left),
        is_overdrawn=standing.left < -1e-9 * lot.amount,
        may=_may(lot, standing.left, on),
        expires_soon=lot.expires is not None and on <= lot.expires < on + SOON,
        stations=tuple(name for name, held in stations.items() if lot.lot_id in held),
        used=standing.used,
    )


def _may(lot: SupplyLot, left: float, on: date) -> May:
    if lot.held:
        return "held"
    if lot.expires is not None and lot.expires < on:
        return "expired"
    return "yes" if left > 0.0 else "empty"


def _stock(item: str, cards: Sequence[LotCard], waiting: Sequence[float], on: date) -> ItemStock:
    newest = cards[-1].recorded.lot
    usable = [card for card in cards if card.may == "yes" and card.recorded.lot.measure == newest.measure]
    left = math.fsum(card.left for card in usable)
    planned = (newest.feed or 0.0) * math.fsum(waiting)
    daily = _daily_use(cards, newest.measure, on)
    outlook = None
    if daily:
        lead = newest.lead_time / 86_400.0
        outlook = stock_outlook(left, daily, lead_days=lead, planned=planned)
    days = None if outlook is None else outlook.order_in
    return ItemStock(
        item=item,
        kind=newest.kind,
        measure=newest.measure,
        left=left,
        outlook=outlook,
        order_by=None if days is None else on + timedelta(days=math.floor(max(0.0, days))),
        waiting=len(waiting),
        planned=planned,
        lead_time=newest.lead_time,
        daily=tuple(daily),
    )


def _daily_use(cards: Sequence[LotCard], measure: str, on: date) -> list[float]:
    """What was used on each day looked back at, idle days as nought."""
    first = min(card.recorded.lot.received for card in cards)
    days = min(LOOKED_BACK, max(1, (on - first).days))
    used: dict[int, float] = defaultdict(float)
    for card in cards:
        if card.recorded.lot.measure != measure:
            continue
        for day, amount in card.used.items():
            ago = (on - day).days
            if 0 <= ago < days:
                used[ago] += amount
    return [used[ago] for ago in range(days)]
