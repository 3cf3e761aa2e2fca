"""What damage is left in one wafer through its stages, and whether its polish ran long enough to clear it.

Everything is computed anew from the records; nothing is recorded here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from lapwright.app.run_history import BY_GAUGE, BY_READINGS
from lapwright.app.wafer_course import MeasuredCourse, measured_course
from lapwright.errors import LapwrightError
from lapwright.model.job import RecordedRun, RecordedStage
from lapwright.model.story import WaferStory

if TYPE_CHECKING:
    from lapwright.process.ledger import ClearTime, Depth, LedgerLine

_NORMAL_95 = 1.959963984540054


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerStep:
    """One stage in the damage ledger: the recorded stage, and what the ledger says after it; planned ones included."""

    stage: RecordedStage
    removed: float
    line: LedgerLine
    is_done: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PolishRate:
    """How fast a polish goes [m/s], with the deviation of its logarithm; by what its runs removed, or as planned."""

    rate: float
    log_deviation: float
    by_runs: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DamageView:
    """The damage of one wafer through its stages, and the polish that clears it. SI.

    `polish` is the first of the polishes at the end, `rate` theirs, `clear` the time they need together, `ran` how
    long they ran so far, `is_over` whether all are done, `shortfall` what is missing yet, `chance_left` the chance
    that damage remains after what they ran. The time comes of `layers`, each damage with what was taken off it before
    the polish, and of `spread`, the deviation of the logarithm of the rate it is reckoned with.
    """

    steps: tuple[LedgerStep, ...] = ()
    now: LedgerStep | None = None
    polish: RecordedStage | None = None
    rate: PolishRate | None = None
    clear: ClearTime | None = None
    ran: float | None = None
    is_over: bool = False
    shortfall: float | None = None
    chance_left: float | None = None
    missing: tuple[str, ...] = ()
    layers: tuple[tuple[Depth, float], ...] = ()
    spread: float | None = None

    @property
    def polished(self) -> Literal["too_short", "long_enough"] | None:
        """The finished polish held against the time it needed; None while it goes on or where it cannot be told."""
        if not self.is_over or self.shortfall is None:
            return None
        return "too_short" if self.shortfall > 0.0 else "long_enough"


def damage_view(
    story: WaferStory,
    *,
    start_damage: float = 0.0,
    chance: float = 0.01,
    gauge_uncertainty: float = BY_GAUGE,
    course: MeasuredCourse | None = None,
) -> DamageView:
    """The damage through the stages, done ones by what their runs removed, the others as planned.

    The time of the polish goes by the rate that its runs showed: what they removed over the time they ran, by the
    thickness before and after them as in `course`, measured when not given; else by the gauge, to `gauge_uncertainty`
    [m] a run. Where nothing tells it, by the planned rate.
    """
    from lapwright.process.ledger import Depth, Passage, damage_ledger

    removing = [one for one in story.stages if one.stage.removal > 0.0 and one.state != "skipped"]
    if not removing:
        return DamageView(missing=("No stage that removes anything is laid out for this wafer. Choose a route first.",))
    block = _polishes_at_end(removing)
    read = _removals_read(removing, measured_course(story) if course is None else course)
    passages = [
        Passage(name=one.stage.name, removal=_removed(one, story.runs, read), leaves=_depth(one)) for one in removing
    ]
    start = Depth(median=start_damage) if start_damage > 0.0 else None
    lines = damage_ledger(passages, start=start)
    steps = tuple(
        LedgerStep(stage=one, removed=passage.removal, line=line, is_done=one.state == "done")
        for one, passage, line in zip(removing, passages, lines, strict=True)
    )
    now = next((step for step in reversed(steps) if step.is_done), None)
    if not block:
        missing = "No polish is laid out: what the last lap leaves stays in the wafer."
        return DamageView(steps=steps, now=now, missing=(missing,))
    before = len(removing) - len(block)
    layers = [(passages[j].leaves, math.fsum(one.removal for one in passages[j + 1 : before])) for j in range(before)]
    if start is not None:
        layers.insert(0, (start, math.fsum(one.removal for one in passages[:before])))
    return _polish_judged(
        DamageView(steps=steps, now=now, polish=block[0], is_over=all(one.state == "done" for one in block)),
        layers,
        _polishing(block, story.runs, read, gauge_uncertainty),
        chance=chance,
    )


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Polishing:
    """The runs of a polish that are over: how long they took [s], None without a run, and the rate that they showed."""

    ran: float | None
    rate: PolishRate | None


def _polish_judged(
    view: DamageView,
    layers: list[tuple[Depth, float]],
    polishing: _Polishing,
    *,
    chance: float,
) -> DamageView:
    """The view with the time that the polish needs, and how its runs stand against it."""
    from lapwright.process.ledger import chance_remaining, clear_time

    assert view.polish is not None
    planned = _planned_rate(view.polish)
    rate = polishing.rate or planned
    ran = polishing.ran
    view = replace(view, rate=rate, ran=ran, layers=tuple(layers))
    if rate is None:
        return replace(view, missing=("The polish has no rate yet, so its time cannot be told.",))
    if not layers:
        return view
    told = rate.log_deviation
    # What is still to come may run as unevenly as planned, however well the part behind it is known.
    spread = told if view.is_over or planned is None else max(told, planned.log_deviation)
    view = replace(view, spread=spread)
    try:
        clear = clear_time(layers, rate.rate, rate_deviation=spread, chance=chance)
    except LapwrightError as error:
        return replace(view, missing=(error.sentence,))
    if ran is None:
        none_ran = "The polish is done, but none of its runs is recorded: whether it was long enough cannot be told."
        return replace(view, clear=clear, missing=(none_ran,) if view.is_over else ())
    left = chance_remaining(layers, rate.rate, rate_deviation=told, time=ran)
    # What ran already took what it took: where that was enough, an uneven rest of the polish takes nothing back.
    shortfall = 0.0 if left < chance else clear.shortfall(ran)
    return replace(view, clear=clear, shortfall=shortfall, chance_left=left)


def _removals_read(removing: list[RecordedStage], course: MeasuredCourse) -> dict[int, float]:
    """What done polishes removed by the thickness before and after: key of the stage -> removal [m]."""
    found = {}
    before = course.incoming
    for one in removing:
        after = course.after.get(one.stage_id)
        if one.stage.kind == "polish" and one.state == "done" and before is not None and after is not None:
            found[one.stage_id] = before - after
        before = after
    return found


def _removed(one: RecordedStage, runs: tuple[RecordedRun, ...], read: dict[int, float]) -> float:
    """What the runs of a stage removed, a polish by its readings and others by the gauge; else as planned."""
    if one.stage_id in read:
        return max(0.0, read[one.stage_id])
    told = [run.gauge_removal for run in runs if run.stage_id == one.stage_id and run.gauge_removal is not None]
    return math.fsum(max(0.0, value) for value in told) if told and one.state == "done" else one.stage.removal


def _depth(one: RecordedStage) -> Depth:
    from lapwright.process.ledger import Depth

    median, high = one.stage.damage_left, one.stage.damage_left_high
    spread = math.log(high / median) / _NORMAL_95 if high > median > 0.0 else 0.0
    return Depth(median=median, log_deviation=spread)


def _polishes_at_end(removing: list[RecordedStage]) -> list[RecordedStage]:
    """The polishes at the end, one after the other."""
    others = [place for place, one in enumerate(removing) if one.stage.kind != "polish"]
    return removing[others[-1] + 1 :] if others else removing


def _planned_rate(polish: RecordedStage) -> PolishRate | None:
    """The rate of the plan, with the spread that its 95 % interval tells."""
    planned = polish.stage
    if planned.rate is None:
        return None
    low, high = planned.rate_low, planned.rate_high
    spread = math.log(high / low) / (2.0 * _NORMAL_95) if low and high and high > low else 0.0
    return PolishRate(rate=planned.rate, log_deviation=spread, by_runs=False)


def _polishing(
    block: list[RecordedStage], runs: tuple[RecordedRun, ...], read: dict[int, float], gauge_uncertainty: float
) -> _Polishing:
    """The runs of these polishes that are over; what lies between their readings cancels in the sum."""
    ids = {one.stage_id for one in block}
    ended = [run for run in runs if run.stage_id in ids and run.ended is not None]
    if not ended:
        return _Polishing(None, None)
    time = math.fsum(_time_of(run) for run in ended)
    worked = {run.stage_id for run in ended}
    by_gauge = [run.gauge_removal for run in ended if run.gauge_removal is not None]
    if worked <= read.keys():
        return _Polishing(time, _rate_shown(math.fsum(read[one] for one in worked), BY_READINGS, time))
    if len(by_gauge) == len(ended):
        return _Polishing(time, _rate_shown(math.fsum(by_gauge), gauge_uncertainty * math.sqrt(len(ended)), time))
    return _Polishing(time, None)


def _time_of(run: RecordedRun) -> float:
    """How long it cut: as a clock or a recorder counted it, else between the two presses."""
    assert run.ended is not None
    return run.time or (run.ended - run.started).total_seconds()


def _rate_shown(removed: float, doubt: float, time: float) -> PolishRate | None:
    """Removal over time; None where the removal is no more than its doubt."""
    if removed <= 2.0 * doubt or time <= 0.0:
        return None
    return PolishRate(rate=removed / time, log_deviation=doubt / removed, by_runs=True)
