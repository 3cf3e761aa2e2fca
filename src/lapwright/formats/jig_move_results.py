"""Moves of a jig's screws as dictionaries with units in their names."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from lapwright.model.jig_moves import JigLearning, RecordedMove


def move_dict(one: RecordedMove) -> dict[str, Any]:
    """A move as recorded: who, when, which screw, how far and which way."""
    return {
        "move": one.move_id,
        "jig": one.move.jig_id,
        "wafer": one.move.wafer_id,
        "screws": [
            {"screw": turn.screw, "divisions": turn.divisions, "way": turn.screw_way} for turn in one.move.turns
        ],
        "made_at": one.made_at.isoformat(),
        "corrects": one.move.corrects,
        "replaced_by": one.replaced_by,
        "by": one.signature.by,
        "at": one.signature.at.isoformat(),
        "reason": one.signature.reason,
    }


def learned_dict(jig_id: str, found: JigLearning | None, sentences: Sequence[str]) -> dict[str, Any]:
    """What is learned, with units in its names; `screws` is empty before the first move."""
    return {
        "jig": jig_id,
        "n_moves": 0 if found is None else found.teaching,
        "n_recorded": 0 if found is None else found.recorded,
        "screws": [
            {
                "screw": one.number,
                "nominal_um_per_division": one.nominal_travel * 1e6,
                "taken_um_per_division": one.present_travel * 1e6,
                "learned_um_per_division": one.learned_travel * 1e6,
                "standard_uncertainty_um": one.travel_uncertainty * 1e6,
                "is_off": one.is_off,
            }
            for one in ([] if found is None else found.screws)
        ],
        "play_divisions": None if found is None else found.play,
        "play_standard_uncertainty_divisions": None if found is None else found.play_uncertainty,
        "is_worn": found is not None and found.is_worn,
        "can_take": found is not None and found.can_take,
        "sentences": list(sentences),
    }
