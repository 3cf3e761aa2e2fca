"""Writing what was turned at the jigs."""

from __future__ import annotations

from lapwright.errors import Conflict
from lapwright.model.jig_moves import JigMove
from lapwright.model.readings import Signature
from lapwright.records import models, queries
from lapwright.records.coding import to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add


def add_jig_move(move: JigMove, signature: Signature) -> int:
    """A move of a jig's screws, or the correction of one; its number."""
    with one_transaction():
        jig = queries.find(models.Jig.objects.all(), "jig_id", move.jig_id)
        wafer = None
        if move.wafer_id is not None:
            wafer = queries.find(models.Wafer.objects.all(), "wafer_id", move.wafer_id)
        if move.corrects is not None:
            old = jig.moves.filter(pk=move.corrects).first()
            if old is None or models.JigMove.objects.filter(corrects=old).exists():
                raise Conflict(
                    f"Move {move.corrects} of jig {move.jig_id!r} is not there or corrected already."
                    " Look at its moves and correct the one that stands."
                )
        return add(
            models.JigMove, signature, jig=jig, wafer=wafer, turns=to_plain(move.turns), corrects_id=move.corrects
        ).pk
