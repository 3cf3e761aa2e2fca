"""Writing masses."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.model.job import RecordedWeighing
from lapwright.model.readings import Signature
from lapwright.records import models, run_queries
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add, change, locked


@dataclass(frozen=True, slots=True, kw_only=True)
class NewWeighing:
    """A mass to be written: the pieces that lay on the balance, as entered, and in kg."""

    pieces: tuple[str, ...]
    text: str
    mass: float
    uncertainty: float
    balance: str


def add_weighing(new: NewWeighing, signature: Signature) -> RecordedWeighing:
    """A mass: a row for each piece, those after the first pointing at it."""
    with one_transaction():
        first: models.Weighing | None = None
        for piece in new.pieces:
            row = add(
                models.Weighing,
                signature,
                wafer=locked(models.Wafer, wafer_id=piece),
                pieces=list(new.pieces),
                text=new.text,
                mass_kg=new.mass,
                uncertainty_kg=new.uncertainty,
                balance=new.balance,
                with_weighing=first,
            )
            first = first or row
        assert first is not None
        return run_queries.weighing(first.pk)


def void_weighing(weighing_id: int, why: str, signature: Signature) -> RecordedWeighing:
    """The end of a mass, for all pieces that lay on the balance."""
    with one_transaction():
        row = locked(models.Weighing, pk=weighing_id)
        first = row.with_weighing_id or row.pk
        for one in models.Weighing.objects.filter(pk=first) | models.Weighing.objects.filter(with_weighing_id=first):
            if one.void is None:
                change(one, signature, void=why)
        return run_queries.weighing(weighing_id)
