"""Use case: the piece that a scanned code names."""

from __future__ import annotations

from lapwright.errors import NotFound
from lapwright.formats.piece_codes import PieceKind
from lapwright.model.job import RecordedWafer


def piece_named(kind: PieceKind, name: str) -> RecordedWafer | str:
    """The wafer of a code, of a carrier's code the wafer on it; of anything else its name as recorded.

    Names are compared without regard to capitals, as codes have none. Raises `NotFound`, also when two pieces differ
    by capitals alone.
    """
    from lapwright.records import queries

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
    return queries.wafer(found[0]) if kind == "wafer" else found[0]
