"""Use cases: which carrier suits a wafer that is about to be bonded, and how far it is best turned."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from lapwright.app import set_values
from lapwright.app.kept_results import kept_in_batches, kept_until
from lapwright.errors import LapwrightError
from lapwright.model.job import RecordedSet
from lapwright.model.shelf import RecordedCarrier
from lapwright.model.wafer import Wedge
from lapwright.process.partners import Partner, best_partner, wedge_scatter

BONDS_LOOKED_AT = 40
MOST_WAFERS = 12
BEFORE_BOND = ("measured_in", "rebond")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """A wafer with its wedge, what bonds bring, and every free carrier that was read, at its best turn, best first."""

    order_id: str
    wafer_id: str
    wedge: Wedge
    bond: Wedge
    bond_wedge: float
    bonds: int
    partners: tuple[Partner, ...]


def pairing(wafer_id: str) -> Pairing | None:
    """The carriers for a wafer; None when it is not about to be bonded, has no map, or no carrier with one is free."""
    from lapwright.records import queries

    if queries.wafer(wafer_id).state not in BEFORE_BOND:
        return None
    return next(iter(_pairings([wafer_id])), None)


def pairings() -> tuple[Pairing, ...]:
    """The carriers for each wafer that waits for one, the first dozen of them."""
    from lapwright.records import bond_queries

    def first() -> list[str]:
        return [name for _order, name in bond_queries.wafers_to_bond(most=MOST_WAFERS)]

    def found(some: Collection[str]) -> dict[str, Pairing | None]:
        told = {one.wafer_id: one for one in _pairings([name for name in names if name in some])}
        return {name: told.get(name) for name in some}

    def of_sets(keys: frozenset[int]) -> Collection[str]:
        wafers = bond_queries.wafers_of_sets(keys)
        return names if None in wafers else [name for name in wafers if name is not None]

    names = kept_until(frozenset({"wafer"}), ("wafers to bond",), first)
    rests_on = {table: lambda _keys: names for table in ("order", "carrier", "bond", "gauge", "calibration")}
    kept = kept_in_batches(
        ("pairings",), names, {**rests_on, "readingset": of_sets, "wafer": bond_queries.wafers_of_rows}, found
    )
    return tuple(one for one in kept.values() if one is not None)


def carrier_wedges(carriers: Sequence[RecordedCarrier]) -> dict[str, Wedge]:
    """The wedge of each carrier by its latest set; left out are those that were never read, or show none."""
    found = {name: _wedge_of(taken, width=None) for name, taken in _latest_sets(carriers).items()}
    return {name: wedge for name, wedge in found.items() if wedge is not None}


# ----------------------------------------------------------------------------------------------------------------------


def _latest_sets(carriers: Sequence[RecordedCarrier]) -> dict[str, RecordedSet]:
    """The latest set of each carrier that was read."""
    from lapwright.records import story_queries

    read = {one.carrier.carrier_id: one.set_id for one in carriers if one.set_id is not None}
    return dict(zip(read, story_queries.sets_by_key(list(read.values())), strict=True))


def _pairings(names: Sequence[str]) -> tuple[Pairing, ...]:
    """The carriers for some wafers, those left out that have no map; none when no carrier with one is free."""
    from lapwright.process.workplaces import USUAL_ASSUMPTIONS
    from lapwright.records import bond_queries, queries

    if not names:
        return ()
    free = _latest_sets([one for one in queries.carriers() if one.wafer_id is None])
    wedges = kept_until(
        frozenset({"bond"}), ("wedges of bonds",), lambda: bond_queries.bond_wedges(most=BONDS_LOOKED_AT)
    )
    bond, scatter = wedge_scatter(wedges, bond_wedge=USUAL_ASSUMPTIONS.bond_wedge)
    latest = queries.latest_sets(names, "wafer", "incoming")
    found = []
    for wafer_id in names:
        taken = latest.get(wafer_id)
        wedge = None if taken is None else _wedge_of(taken, width=None)
        if taken is None or wedge is None:
            continue
        told = {name: _wedge_of(one, width=_width(taken)) for name, one in free.items()}
        carriers = {name: one for name, one in told.items() if one is not None}
        if carriers:
            found.append(
                Pairing(
                    order_id=taken.order_id or "",
                    wafer_id=wafer_id,
                    wedge=wedge,
                    bond=bond,
                    bond_wedge=scatter,
                    bonds=len(wedges),
                    partners=best_partner(wedge, carriers, bond=bond, bond_wedge=scatter),
                )
            )
    return tuple(found)


def _wedge_of(taken: RecordedSet, *, width: float | None) -> Wedge | None:
    """The wedge of a set over its own piece, or over a narrower one of this width; None where the set has none."""
    try:
        wedge = set_values.result_of(taken).wedge
    except LapwrightError:
        return None
    if wedge is None or width is None:
        return wedge
    return Wedge(amount=wedge.amount * width / _width(taken), azimuth=wedge.azimuth)


def _width(taken: RecordedSet) -> float:
    from lapwright.metrology.outlines import furthest_reach

    return 2.0 * furthest_reach(taken.surroundings.outline)
