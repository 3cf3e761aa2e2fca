"""Lines of the Tilt page: the boxes for what was turned, the moves made, and what the screws really move."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from lapwright.model.jig_moves import JigLearning, RecordedMove, ScrewTurn
from lapwright.model.shelf import Jig
from lapwright.web import bench_views
from lapwright.web.sentences import decimal
from lapwright.web.words import clock


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrewBox:
    """One screw of the form: where it stands, how far it is to go, and where the wafer goes."""

    number: int
    clock: str
    far: str
    effect: str
    near_word: str
    away_word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveLine:
    """A move in words; `is_gone` says that a later record says it was not made, or otherwise."""

    move_id: int
    made_at: datetime
    by: str
    wafer_id: str
    words: tuple[str, ...]
    is_correction: bool
    is_gone: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedLine:
    """A screw with what its division moves: nominal, taken now, learned with ± (k = 2), in µm."""

    number: int
    nominal: str
    taken: str
    learned: str
    doubt: str
    is_off: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedView:
    """What is learned of a jig, in lines."""

    lines: tuple[LearnedLine, ...]
    play: str
    play_doubt: str
    found: JigLearning


def screw_boxes(
    turns: Sequence[bench_views.ScrewTurn], jig: Jig | None, sent: Mapping[str, str] | None
) -> list[ScrewBox]:
    """The boxes of every screw, filled with what is asked for, or with what was sent."""
    if jig is None:
        return []
    asked = {one.number: one for one in turns}
    boxes = []
    for number, azimuth in enumerate(jig.adjuster_azimuths, 1):
        turn = asked.get(number)
        far = "" if turn is None or turn.stays else f"{turn.amount:g}"
        effect = "" if turn is None or turn.stays else "near" if turn.divisions > 0.0 else "away"
        boxes.append(
            ScrewBox(
                number=number,
                clock=clock(math.pi - azimuth),
                far=far if sent is None else sent.get(f"far_{number}", ""),
                effect=effect if sent is None else sent.get(f"effect_{number}", ""),
                near_word=_with_way(_("wafer nearer the plate"), jig, near=True),
                away_word=_with_way(_("wafer away from the plate"), jig, near=False),
            )
        )
    return boxes


def move_lines(moves: Sequence[RecordedMove]) -> list[MoveLine]:
    """The moves in words, in their order."""
    return [
        MoveLine(
            move_id=one.move_id,
            made_at=one.made_at,
            by=one.signature.by,
            wafer_id=one.move.wafer_id or "",
            words=tuple(_turn_words(turn) for turn in one.move.turns if turn.divisions),
            is_correction=one.move.corrects is not None,
            is_gone=one.replaced_by is not None,
        )
        for one in moves
    ]


def learned_view(found: JigLearning | None) -> LearnedView | None:
    """What is learned, in µm; None before the first move."""
    if found is None:
        return None
    lines = tuple(
        LearnedLine(
            number=one.number,
            nominal=decimal(f"{one.nominal_travel * 1e6:.2f}"),
            taken=decimal(f"{one.present_travel * 1e6:.2f}"),
            learned=decimal(f"{one.learned_travel * 1e6:.2f}"),
            doubt=decimal(f"{2e6 * one.travel_uncertainty:.2f}"),
            is_off=one.is_off,
        )
        for one in found.screws
    )
    play, doubt = decimal(f"{found.play:.1f}"), decimal(f"{2.0 * found.play_uncertainty:.1f}")
    return LearnedView(lines=lines, play=play, play_doubt=doubt, found=found)


# ----------------------------------------------------------------------------------------------------------------------


def _with_way(effect: str, jig: Jig, *, near: bool) -> str:
    """Where the wafer goes, and which way the screw goes for it, once a test turn has told."""
    if jig.clockwise_brings_near is None:
        return effect
    way = _("clockwise") if near == jig.clockwise_brings_near else _("counter-clockwise")
    return f"{way}: {effect}"


def _turn_words(turn: ScrewTurn) -> str:
    effect = _("nearer the plate") if turn.divisions > 0.0 else _("away from the plate")
    way = {"clockwise": _("clockwise"), "counter_clockwise": _("counter-clockwise"), None: ""}[turn.screw_way]
    told = _("screw %(n)d: %(far)s div, %(effect)s") % {
        "n": turn.screw, "far": decimal(f"{abs(turn.divisions):g}"), "effect": effect
    }  # fmt: skip
    return f"{told} ({way})" if way else told
