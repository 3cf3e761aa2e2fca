"""Use cases: the piece that a scanned code names, and the pieces that carry a label."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from lapwright.errors import NotFound
from lapwright.formats.piece_codes import PieceKind, piece_code
from lapwright.model.job import RecordedWafer


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What stands on the label of a thing: its name, what it is called, and its code, None for a name without one."""

    name: str
    called: str
    code: str | None


def piece_named(kind: PieceKind, name: str) -> RecordedWafer | str:
    """The wafer of a code, of a carrier's or a jig's code the wafer on it; of anything else its name as recorded.

    Names are compared without regard to capitals, as codes have none. Raises `NotFound`, also when two pieces differ
    by capitals alone.
    """
    from lapwright.records import queries, run_queries

    if kind == "carrier":
        carrier = next((one for one in queries.carriers() if one.carrier.carrier_id.upper() == name), None)
        if carrier is None or carrier.wafer_id is None:
            what = "There is no carrier" if carrier is None else "Nothing is bonded to carrier"
            raise NotFound(f"{what} {name!r} now. Look at the shelf, or scan the sheet of the wafer.")
        return queries.wafer(carrier.wafer_id)
    found = queries.names_like(kind, name)
    if len(found) != 1:
        said = "is not recorded" if not found else f"may be any of {', '.join(found)}"
        raise NotFound(f"The {kind} {name!r} of that code {said}. Open the piece from its order or its list.")
    if kind == "jig":
        wafer_id = run_queries.wafer_on_jig(found[0])
        if wafer_id is None:
            raise NotFound(f"No wafer has a zero that holds on jig {found[0]!r} now. Scan the sheet of the wafer.")
        return queries.wafer(wafer_id)
    return queries.wafer(found[0]) if kind == "wafer" else found[0]


def labels(*, at: datetime) -> dict[PieceKind, tuple[Label, ...]]:
    """The things of the shelf and the room that carry a label, by kind and name."""
    from lapwright.app import gauges, plates, shelf
    from lapwright.records import supply_queries

    called: dict[PieceKind, list[tuple[str, str]]] = {
        "carrier": [(one.carrier.carrier_id, one.carrier.material) for one in shelf.list_carriers()],
        "jig": [(one.jig.jig_id, one.jig.name) for one in shelf.list_jigs()],
        "plate": [(one.plate.plate_id, one.plate.name) for one in plates.recorded_plates()],
        "gauge": [(one.gauge.gauge_id, one.gauge.name) for one in gauges.list_gauges(on=at.date())],
        "lot": [(one.lot.lot_id, one.lot.item) for one in supply_queries.lots()],
        "station": [(one.station.station_id, one.station.name) for one in shelf.list_stations()],
    }
    return {
        kind: tuple(Label(name=name, called=text, code=piece_code(kind, name)) for name, text in sorted(listed))
        for kind, listed in called.items()
    }
