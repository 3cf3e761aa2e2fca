"""What was turned at a jig: one move of its screws, as it was made; and what the moves of a jig teach."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from lapwright.errors import BadInput, Fault
from lapwright.model.readings import Signature

#: Which way a screw was turned, seen by the person who turned it.
ScrewWay = Literal["clockwise", "counter_clockwise"]

MOST_DIVISIONS = 1000.0  # more was typed in another unit


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrewTurn:
    """What was done at one screw: its number from 1, and the divisions, positive where the wafer came nearer the plate.

    `screw_way` is how it was turned; None where it stayed or the way of the thread was not known.
    """

    screw: int
    divisions: float
    screw_way: ScrewWay | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JigMove:
    """One move of a jig's screws, with the wafer that hung in it. `corrects` points at a move noted wrong."""

    jig_id: str
    wafer_id: str | None
    turns: tuple[ScrewTurn, ...]
    corrects: int | None = None

    def __post_init__(self) -> None:
        faults = [
            Fault(
                sentence=f"Screw {one.screw}: found {one.divisions:g} divisions; at most 1000 either way are taken.",
                field=f"divisions_{one.screw}",
            )
            for one in self.turns
            if not (math.isfinite(one.divisions) and abs(one.divisions) <= MOST_DIVISIONS)
        ]
        if self.corrects is None and not any(one.divisions for one in self.turns):
            faults.append(Fault(sentence="No screw was turned. Type what was turned at one screw at least."))
        if faults:
            raise BadInput(faults, subject="The move")

    @property
    def divisions(self) -> tuple[float, ...]:
        """Divisions of the screws in the order of their numbers."""
        return tuple(one.divisions for one in self.turns)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedMove:
    """A move as recorded; `replaced_by` is the one that corrects it.

    `made_at` is when the screws were turned; the signature of a correction is later.
    """

    move_id: int
    move: JigMove
    made_at: datetime
    replaced_by: int | None
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedScrew:
    """What one division of an adjuster moves [m]: nominal, as taken now for corrections, and as learned."""

    number: int
    nominal_travel: float
    present_travel: float
    learned_travel: float
    travel_uncertainty: float
    is_off: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class JigLearning:
    """What a jig's moves teach; `teaching` counts those that do, of `recorded` that stand.

    `play` in divisions with its standard uncertainty. `is_worn`: the play is told from none and more than any thread
    has. `can_take`: some adjuster is off its nominal value and the learned one is not what is taken now.
    """

    screws: tuple[LearnedScrew, ...]
    play: float
    play_uncertainty: float
    is_worn: bool
    teaching: int
    recorded: int
    can_take: bool
