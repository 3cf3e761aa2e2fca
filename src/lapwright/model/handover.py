"""What one shift tells the next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from lapwright.model.readings import Signature

#: Parts of the card, in the order in which they are read on arrival.
CardPart = Literal["unsafe", "running", "waiting", "promised"]
Card = tuple[tuple[CardPart, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedHandover:
    """A card as it stood when it was given, of one station or (empty) of all; `taken` is None until it was read."""

    handover_id: int
    station_id: str
    card: Card
    note: str
    given: Signature
    taken: Signature | None
