"""Lots by their names: read from a label, and checked against what they are to be used for."""

from __future__ import annotations

from collections.abc import Sequence

from lapwright.errors import BadInput, Fault
from lapwright.model.supply import SupplyKind, pad_parts


def as_scanned(text: str, *, field: str) -> str:
    """The name of a lot or a plate by its code; any other text as it is, without blanks around it.

    Raises `BadInput` for a code misread, of another kind of thing, or of a lot that is not on the shelf.
    """
    from lapwright.formats.piece_codes import KINDS, read_code
    from lapwright.records import queries

    plain = text.strip()
    inner = plain.strip("*")
    if inner[2:3] != "/" or inner[:1].upper() not in KINDS.values():
        return plain
    kind, name = read_code(inner)
    if kind not in ("lot", "plate"):
        sentence = f"The code {inner} is of no lot and no plate. Scan the label of the lot, the plate or the pad."
        raise BadInput([Fault(sentence=sentence, field=field)])
    found = queries.names_like(kind, name)
    if len(found) != 1:
        sentence = f"The code {inner} names nothing on the shelf. Record it there first, or type its name."
        raise BadInput([Fault(sentence=sentence, field=field)])
    return found[0]


def lot_part(name: str | None) -> str:
    """Name of the lot in the name of a pad of it, ``P-22`` of ``P-22 #3``; any other name whole."""
    return pad_parts((name or "").strip())[0]


def unfit(field: str, name: str | None, kinds: Sequence[SupplyKind], wanted: str | None) -> Fault | None:
    """Why a lot must not go where `wanted` is: it is of another kind, or of another item of the library.

    None for a lot that fits, for one that is not on the shelf, and for an item with a name of the lab's own.
    """
    from lapwright.library import load
    from lapwright.records import supply_queries

    current = supply_queries.names_now().get(lot_part(name))
    if current is None:
        return None
    lot, library = supply_queries.lot(current).lot, load()
    known = {one.abrasive_id for one in library.abrasives} | {one.plate_id for one in library.plates}
    known |= {one.adhesive_id for one in library.adhesives}
    is_other = lot.item in known and wanted is not None and lot.item != wanted
    if lot.kind in kinds and not is_other:
        return None
    if wanted is None:
        sentence = f"Lot {lot.lot_id} is {lot.item}, but what is used here is not told yet. Say that first."
    else:
        sentence = f"Lot {lot.lot_id} is {lot.item}, but what is used here is {wanted}. Take a lot of that."
    return Fault(sentence=sentence, field=field)
