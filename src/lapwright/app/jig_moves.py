"""Use cases: what was turned at a jig, recorded as it was done, and what its adjusters really move by their own moves.

A move teaches where the wedge was read before and after it on one wafer in one bond, with a cut on this jig before each
reading: only then is the change of the wedge the move's alone. A jig that was squared in between, another bond or a cut
too shallow to reach the turned face teach nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise
from typing import TYPE_CHECKING

from lapwright.app import wafer_maps
from lapwright.app.kept_results import kept_in_parts
from lapwright.errors import BadInput, Conflict, Fault, LapwrightError
from lapwright.model.jig_moves import JigLearning, JigMove, LearnedScrew, RecordedMove, ScrewTurn, ScrewWay
from lapwright.model.job import RecordedBond, RecordedSet
from lapwright.model.readings import Signature
from lapwright.model.shelf import Jig, RecordedJig
from lapwright.model.story import WaferStory

if TYPE_CHECKING:
    from lapwright.process.adjuster_learning import AdjusterTrial, LearnedAdjusters

#: Standard uncertainty of each part of a wedge whose own is not known [m]; as `lapwright adjusters` takes it.
USUAL_DOUBT = 0.3e-6
#: Jigs with three adjusters are learned; with more a move need not lie in one plane.
LEARNED_SCREWS = 3
#: Moves, the latest, that are learned from: threads wear, and older ones have said what they know.
RECENT_MOVES = 40
_WORN = 0.2  # divisions; play below is what any thread has


def record_move(
    jig_id: str, divisions: Sequence[float], *, wafer_id: str | None, by: str, reason: str, at: datetime,
    corrects: int | None = None,
) -> RecordedMove:  # fmt: skip
    """Record what was turned at a jig, screw by screw; positive brings the wafer nearer the plate there.

    The zeros taken on the jig no longer hold after a move; the correction of a record turns nothing and voids none.
    Raises `BadInput` for another number of screws than the jig has, `Conflict` for a move corrected already.
    """
    from lapwright.process.jig import ADJUSTERS_VOID_ZERO
    from lapwright.records import jig_queries, queries, writer

    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        jig = queries.jig(jig_id).jig
        if len(divisions) != len(jig.adjuster_azimuths):
            sentence = (
                f"Divisions of {len(divisions)} screws were given; jig {jig_id} has {len(jig.adjuster_azimuths)}."
            )
            raise BadInput([Fault(sentence=sentence, field="divisions")])
        turns = tuple(
            ScrewTurn(screw=number, divisions=far + 0.0, screw_way=way_of(far, jig))
            for number, far in enumerate(divisions, 1)
        )
        move = JigMove(jig_id=jig_id, wafer_id=wafer_id, turns=turns, corrects=corrects)
        number = writer.add_jig_move(move, signature)
        if corrects is None:
            for zero in queries.holding_zeros(jig_id=jig_id):
                writer.void_zero(zero.zero_id, ADJUSTERS_VOID_ZERO, signature)
        return next(one for one in jig_queries.moves(jig_id, newest=1) if one.move_id == number)


def list_moves(jig_id: str, *, newest: int | None = None) -> tuple[RecordedMove, ...]:
    """The moves of a jig, the earliest first, those corrected among them; all, or the newest so many."""
    from lapwright.records import jig_queries

    return jig_queries.moves(jig_id, newest=newest)


def way_of(divisions: float, jig: Jig) -> ScrewWay | None:
    """Which way a screw is turned, seen by who turns it; None when it stays or the way of the thread is not known."""
    if jig.clockwise_brings_near is None or math.isclose(divisions, 0.0):
        return None
    return "clockwise" if (divisions > 0.0) == jig.clockwise_brings_near else "counter_clockwise"


def learned_jig(jig_id: str) -> JigLearning | None:
    """What the latest moves of a jig teach of its adjusters; None without one, or for a jig with more than three."""
    from lapwright.process.adjuster_learning import learned_adjusters
    from lapwright.process.jig import geometry_of
    from lapwright.records import jig_queries, queries

    jig = queries.jig(jig_id).jig
    latest = jig_queries.moves(jig_id, newest=RECENT_MOVES)
    standing = [one for one in latest if one.replaced_by is None and any(one.move.divisions)]
    if not standing or len(jig.adjuster_azimuths) != LEARNED_SCREWS:
        return None
    told = _trials(jig_id, standing)
    diameter = told[0].diameter if told else 2.0 * jig.adjuster_radius
    doubts = [one.doubt for one in told] or [USUAL_DOUBT]
    found = learned_adjusters(
        [one.scaled(diameter) for one in told],
        geometry_of(replace(jig, learned_advances=None)),
        diameter,
        wedge_uncertainty=math.sqrt(math.fsum(one * one for one in doubts) / len(doubts)),
    )
    return _learning(jig, found, moves=len(told), recorded=len(standing))


def sentences_of(found: JigLearning | None) -> tuple[str, ...]:
    """What is learned, in words: each screw that is off, the play, or why nothing can be said."""
    if found is None:
        return ("No move of this jig is recorded, so nothing is learned of its screws.",)
    counted = "1 move" if found.teaching == 1 else f"{found.teaching} moves"
    if found.teaching == 0:
        return (
            f"Of {found.recorded} recorded none teaches: read the stack after a cut, turn, cut again and read again.",
        )
    told = [
        f"Screw {one.number} moves {one.learned_travel * 1e6:.2f} ± {2e6 * one.travel_uncertainty:.2f} µm a division,"
        f" not {one.nominal_travel * 1e6:.2f}."
        for one in found.screws
        if one.is_off
    ] or ["No screw is off its nominal value beyond doubt."]
    if found.is_worn:
        told.append(f"Worn: play {found.play:.1f} div. End every move in the same direction.")
    return (f"From {counted}.", *told)


def learned_before(jig_id: str, advance: float, azimuths: tuple[float, ...]) -> tuple[float, ...] | None:
    """What was learned and accepted of a jig's screws, for one recorded anew with the same ones; else None."""
    from lapwright.records import queries

    jig = next((one.jig for one in queries.jigs() if one.jig.jig_id == jig_id), None)
    if jig is None or (jig.advance_per_division, jig.adjuster_azimuths) != (advance, azimuths):
        return None
    return jig.learned_advances


def take_learned(jig_id: str, *, by: str, at: datetime, version: int | None = None) -> RecordedJig:
    """Take what was learned for the corrections to come; the nominal value stays beside it, and so do the zeros.

    Raises `Conflict` when nothing is learned that could be taken.
    """
    from lapwright.records import queries, writer

    with writer.transaction():
        found = learned_jig(jig_id)
        if found is None or not found.can_take:
            raise Conflict(f"The moves of jig {jig_id} show no adjuster off its value. Nothing was changed.")
        jig = queries.jig(jig_id).jig
        reason = f"learned from {found.teaching} moves"
        advances = tuple(one.learned_travel if one.is_off else one.nominal_travel for one in found.screws)
        return writer.put_jig(
            replace(jig, learned_advances=advances), Signature(by=by, at=at, reason=reason), version=version
        )


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """A move with the wedges around it, on a wafer of a diameter [m], and the standard uncertainty of a wedge [m]."""

    trial: AdjusterTrial
    diameter: float
    doubt: float
    at: datetime

    def scaled(self, diameter: float) -> AdjusterTrial:
        """The same tilt on a wafer of another diameter."""
        share = diameter / self.diameter
        return replace(
            self.trial, wedge_before=self.trial.wedge_before * share, wedge_after=self.trial.wedge_after * share
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Read:
    """A wedge read on a wafer after a cut, with its doubt [m] and when; and the cuts since the reading before."""

    wedge: complex
    doubt: float
    at: datetime
    cuts: tuple[datetime, ...]
    removed: float | None


def _learning(jig: Jig, found: LearnedAdjusters, *, moves: int, recorded: int) -> JigLearning:
    taken = jig.learned_advances or (jig.advance_per_division,) * len(jig.adjuster_azimuths)
    screws = tuple(
        LearnedScrew(
            number=number,
            nominal_travel=jig.advance_per_division,
            present_travel=now,
            learned_travel=float(travel),
            travel_uncertainty=float(doubt),
            is_off=number - 1 in found.off and travel > 0.0,
        )
        for number, (now, travel, doubt) in enumerate(
            zip(taken, found.travel, found.travel_uncertainty, strict=True), start=1
        )
    )
    return JigLearning(
        screws=screws,
        play=found.play,
        play_uncertainty=found.play_uncertainty,
        is_worn=found.play > 2.0 * found.play_uncertainty and found.play > _WORN,
        teaching=moves,
        recorded=recorded,
        can_take=any(
            one.is_off and abs(one.learned_travel - one.present_travel) > one.travel_uncertainty for one in screws
        ),
    )


def _trials(jig_id: str, standing: Sequence[RecordedMove]) -> list[_Told]:
    """The moves that teach, in the order made."""
    from lapwright.records import jig_queries, story_queries

    turned: dict[str, tuple[int, ...]] = {}
    for one in standing:
        if one.move.wafer_id is not None:
            turned[one.move.wafer_id] = (*turned.get(one.move.wafer_id, ()), one.move_id)
    wafers = list(turned.items())

    def written(table: jig_queries.WaferTable) -> Callable[[frozenset[int]], Collection[tuple[str, tuple[int, ...]]]]:
        def stale(keys: frozenset[int]) -> Collection[tuple[str, tuple[int, ...]]]:
            if table == "jigmove" and jig_queries.is_a_correction(keys):
                return wafers
            names = jig_queries.wafers_of_rows(table, keys)
            return [wafer for wafer in wafers if wafer[0] in names]

        return stale

    found = kept_in_parts(
        ("told by a jig", jig_id),
        wafers,
        {table: written(table) for table in jig_queries.WAFER_TABLES}
        | {table: lambda _keys: wafers for table in ("gauge", "calibration")},
        lambda wafer: tuple(_of_wafer(story_queries.wafer_story(wafer[0]), jig_id, standing)),
    )
    return sorted((told for of_wafer in found.values() for told in of_wafer), key=lambda one: one.at)


def _of_wafer(story: WaferStory, jig_id: str, standing: Sequence[RecordedMove]) -> Iterator[_Told]:
    from lapwright.metrology.outlines import furthest_reach
    from lapwright.process.adjuster_learning import AdjusterTrial

    diameter = 2.0 * furthest_reach(story.wafer.wafer.outline)
    for bond in story.bonds:
        reads = list(_reads(story, bond, jig_id))
        for before, after in pairwise(reads):
            between = [one for one in standing if before.at < one.made_at < after.at]
            if not between or between[-1].made_at > after.cuts[-1]:
                continue  # nothing was turned, or not cut since
            total = tuple(math.fsum(one) for one in zip(*(one.move.divisions for one in between), strict=True))
            change = abs(after.wedge - before.wedge)
            if any(total) and (after.removed is None or after.removed >= change):
                trial = AdjusterTrial(divisions=total, wedge_before=before.wedge, wedge_after=after.wedge)
                doubt = math.sqrt(0.5 * (before.doubt**2 + after.doubt**2))
                yield _Told(trial=trial, diameter=diameter, doubt=doubt, at=between[0].made_at)


def _reads(story: WaferStory, bond: RecordedBond, jig_id: str) -> Iterator[_Read]:
    """The wedges read in a bond after cuts on a jig, in their order; a cut elsewhere begins anew after it."""
    from lapwright.records import story_queries

    wafer = story_queries.wafer_at_work(story.wafer.wafer.wafer_id)
    judged_by = tuple(one for one in story.sets if one.set_id in (bond.wafer_set_id, bond.stack_set_id))
    undone = None if bond.undone is None else bond.undone.at
    since = bond.made.at
    for taken in story.sets:
        if not _is_reading(taken, bond.made.at, undone):
            continue
        cuts = [
            run for run in story.runs
            if run.ended is not None and since <= run.started and run.ended <= taken.opened.at and run.jig_id
        ]  # fmt: skip
        since = taken.opened.at
        if not cuts or any(run.jig_id != jig_id for run in cuts):
            continue
        try:
            result = wafer_maps.wafer_now(replace(wafer, bond=bond, bond_sets=judged_by, latest=taken)).result
        except LapwrightError:
            continue
        if result.wedge_vector is None:
            continue
        removals = [run.gauge_removal for run in cuts]
        doubt = result.wedge_uncertainty
        yield _Read(
            wedge=complex(*result.wedge_vector),
            doubt=USUAL_DOUBT if doubt is None else doubt.expanded_uncertainty / doubt.coverage_factor,
            at=taken.opened.at,
            cuts=tuple(run.started for run in cuts),
            removed=None if None in removals else math.fsum(one for one in removals if one is not None),
        )


def _is_reading(taken: RecordedSet, made: datetime, undone: datetime | None) -> bool:
    inside = taken.opened.at >= made and (undone is None or taken.opened.at <= undone)
    return inside and taken.state == "closed" and taken.subject == "stack"
