"""Use cases: which lots and plates went into a wafer, and which runs a lot served.

A run points at what its station held when it began. One from before there were keys, or with a name that the shelf did
not know then, is found by that name; a lot that was renamed since is found by each name it ever had.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

from lapwright.app.kept_results import kept_until
from lapwright.app.lot_names import lot_part
from lapwright.app.run_history import Places
from lapwright.model.shelf import Station
from lapwright.model.supply import RunTime


@dataclass(frozen=True, slots=True, kw_only=True)
class LotUsed:
    """Something that went into a wafer, by the name it has now: what it is, where, when, and whether the shelf has it.

    `item` is the abrasive or adhesive; `station_id` is None for a bond.
    """

    kind: Literal["abrasive", "pad", "plate", "adhesive"]
    name: str
    item: str
    station_id: str | None
    at: datetime
    is_on_shelf: bool


def runs_by_name() -> tuple[tuple[RunTime, str], ...]:
    """Runs that are over and point at no lot, each with a lot that was noted by name on its station then.

    The earliest come first.
    """
    from lapwright.records import supply_queries

    lots, places = _names_now(), Places(())
    abrasives = _stretches(places, lambda station: (station.abrasive_lot or "") in lots)
    pads = _stretches(places, lambda station: lot_part(station.plate_piece) in lots)
    found = [
        (run, name)
        for kind, noted in (("abrasive", abrasives), ("pad", pads))
        for runs in [supply_queries.runs_by_name(kind, noted)]  # type: ignore[arg-type]  # one of the two
        for run, held in zip(runs, _held(runs, lots), strict=True)
        for name in [held.abrasive if kind == "abrasive" else held.pad]
        if name is not None
    ]
    return tuple(sorted(found, key=lambda one: (one[0].started, one[0].run_id)))


def lots_of_wafer(wafer_id: str) -> tuple[LotUsed, ...]:
    """What went into a wafer: adhesives, abrasives, pads and plates, the earliest first. Raises `NotFound`."""
    from lapwright.records import plate_queries, supply_queries

    runs = supply_queries.runs_of_wafer(wafer_id)
    lots = _names_now()
    plates = kept_until(frozenset({"plate"}), ("names of plates",), plate_queries.plate_names)
    found = []
    for adhesive, lot, at in supply_queries.adhesives_of_wafer(wafer_id):
        if lot:
            name = lots.get(lot, lot)
            found.append(
                LotUsed(kind="adhesive", name=name, item=adhesive, station_id=None, at=at, is_on_shelf=name in lots)
            )
    for run, held in zip(runs, _held(runs, lots), strict=True):
        told: tuple[tuple[Literal["abrasive", "pad", "plate"], str | None, bool], ...] = (
            ("abrasive", held.abrasive, held.abrasive in lots),
            ("pad", held.pad, held.pad in lots),
            ("plate", held.plate, held.plate in plates),
        )
        found += [
            LotUsed(kind=kind, name=name, item=run.abrasive if kind == "abrasive" else "", station_id=run.station_id,
                    at=run.started, is_on_shelf=is_known)
            for kind, name, is_known in told
            if name is not None
        ]  # fmt: skip
    return tuple(sorted(found, key=lambda one: one.at))


def wafers_on_plate(plate_id: str, *, newest: int) -> tuple[tuple[str, str], ...]:
    """Order and name of each wafer that the newest runs of a plate worked, the earliest first. Raises `NotFound`."""
    from lapwright.records import drift_queries, supply_queries

    noted = {
        change.station_id
        for change in drift_queries.station_changes()
        if plate_id in (change.before.plate_piece, change.after.plate_piece)
    }
    runs = supply_queries.runs_on_plate(plate_id, noted, newest=newest)
    found = [
        wafer
        for run, held in zip(runs, _held(runs, _names_now()), strict=True)
        if held.plate == plate_id
        for wafer in ((run.order_id, run.wafer_id), *run.companions)
    ]
    return tuple(dict.fromkeys(found))


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Held:
    abrasive: str | None
    pad: str | None
    plate: str | None


def _names_now() -> dict[str, str]:
    """Every name that a lot has or had, and the one it has now; with a new name goes the row of the lot."""
    from lapwright.records import supply_queries

    return kept_until(frozenset({"supplylot"}), ("names of lots now",), supply_queries.names_now)


def _stretches(places: Places, names: Callable[[Station], bool]) -> dict[str, tuple[datetime | None, datetime | None]]:
    found = places.stretches(names)
    return {name: (_moment(begun), _moment(ended)) for name, (begun, ended) in found.items()}


def _moment(time: float) -> datetime | None:
    """A time as the records have it; None for one as far as they go."""
    return datetime.fromtimestamp(time, UTC) if math.isfinite(time) else None


def _held(runs: Sequence[RunTime], lots: Mapping[str, str]) -> list[_Held]:
    """What each run was worked with: by its keys, and by the names on its station where it has none."""
    places = None
    if any(None in (run.lot_id, run.plate_id or run.pad_lot_id) for run in runs):
        places = kept_until(frozenset({"station", "supplylot"}), ("what stood where",), lambda: Places(()))
    found = []
    for run in runs:
        station = None if places is None else places.at(run.station_id, run.started.timestamp())
        noted = station.abrasive_lot if station is not None and station.abrasive == run.abrasive else None
        piece = None if station is None else station.plate_piece
        pad = run.pad_lot_id or lots.get(lot_part(piece))
        found.append(
            _Held(
                abrasive=run.lot_id or (None if noted is None else lots.get(noted, noted)),
                pad=pad,
                plate=run.plate_id or (piece if pad is None else None),
            )
        )
    return found
