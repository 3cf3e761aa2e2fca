"""Use case: several pieces on one carrier, before the first cut. Nothing is recorded here."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from lapwright.errors import OutOfValidRange
from lapwright.process.common_end import CarrierAdvice, carrier_advice
from lapwright.process.common_plane import CommonWedge, Levelling, best_levelling, common_wedge, levelling
from lapwright.process.loads import contact_pressure, load_for_pressure
from lapwright.process.piece_sites import MountedPiece


@dataclass(frozen=True, slots=True, kw_only=True)
class CarrierQuestion:
    """What the pieces are to become: target, tolerance either way, TTV, least removal [m]; pressure [Pa], area [m2]."""

    target: float | None = None
    tolerance: float | None = None
    ttv: float | None = None
    least_removal: float = 0.0
    pressure: float | None = None
    area: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CarrierAnswer:
    """Pieces, their common wedge, first touches parallel and tilted, the advice; `load` [N], `first_pressure` [Pa].

    `first_pressure` is that on the first piece while it bears the load alone.
    """

    pieces: tuple[MountedPiece, ...]
    wedge: CommonWedge
    parallel: Levelling
    tilted: Levelling
    advice: CarrierAdvice | None
    load: float | None
    first_pressure: float | None
    warnings: tuple[tuple[str, str], ...]


def carrier_of_file(path: Path, question: CarrierQuestion) -> CarrierAnswer:
    """What a carrier with the pieces of a CSV needs. Raises `BadInput` with every fault of the file."""
    from lapwright.formats.pieces_csv import read_pieces

    pieces = read_pieces(path)
    wedge = common_wedge(pieces)
    load = first = None
    if question.pressure is not None and question.area is not None:
        load = load_for_pressure(question.pressure, [question.area] * len(pieces))
        first = contact_pressure(load, [question.area])
    return CarrierAnswer(
        pieces=pieces,
        wedge=wedge,
        parallel=levelling(pieces),
        tilted=best_levelling(pieces),
        advice=_advice(pieces, question),
        load=load,
        first_pressure=first,
        warnings=() if wedge.determined else (_ON_A_LINE,),
    )


# ----------------------------------------------------------------------------------------------------------------------

_ON_A_LINE = (
    "pieces.on_a_line",
    "All sites lie on one line: a tilt across it cannot be told and is left at none. Read a site beside the line.",
)


def _advice(pieces: tuple[MountedPiece, ...], question: CarrierQuestion) -> CarrierAdvice | None:
    if question.target is None or question.tolerance is None:
        return None
    if not question.tolerance > 0.0:
        raise OutOfValidRange("tolerance", question.tolerance, "more than zero")
    return carrier_advice(
        pieces,
        lower=question.target - question.tolerance,
        upper=question.target + question.tolerance,
        ttv=question.ttv,
        least_removal=question.least_removal,
    )
