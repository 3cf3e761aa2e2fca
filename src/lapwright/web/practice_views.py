"""What the practice pages show: the run as Countdown would show it, and the rounds held against each other."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from lapwright.app import practice
from lapwright.model.practice import FaultName, PracticeRound, PracticeTask
from lapwright.sim.practice import practice_run
from lapwright.sim.runs import SimulatedRun
from lapwright.web.live_fields import SHOWN_SHARE, STALE, TIME_DIGITS, live_fields
from lapwright.web.sentences import decimal, printed


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundLine:
    """One round in the list: how it ended in words."""

    held: PracticeRound
    state: str
    mark: str
    over: str
    time: float | None
    fault: str


def played(held: PracticeRound) -> tuple[PracticeTask, SimulatedRun]:
    """The task and the run of a round."""
    return practice_run(held.seed, held.number)


def practice_fields(held: PracticeRound, *, at: datetime, since: float = 0.0) -> dict[str, Any]:
    """The fields of Countdown for a round, with the state, the sentence and the number that the page puts large.

    Points are those told with a time after `since`, which is a time told before, or 0.
    """
    task, run = played(held)
    batch = practice.live_batch(held, task, run, at=at, since=since + 0.5 * 10.0**-TIME_DIGITS)
    fields = live_fields(batch)
    age = fields["age_s"]
    is_old = age is None or age > SHOWN_SHARE * STALE
    if held.view == "gauge":
        return fields | _gauge_alone(fields, is_old=is_old) | {"over": _over(held, task, at)}
    shape, state, alarm = fields["shape"], _("running"), fields["sentence"]
    if fields["word"] == "stopping":
        shape, state = "ending", _("stop now")
        alarm = _("The target is reached within its margin. This stop is not connected: press it yourself.")
    elif shape == "wrong":
        state = _("fault")
    elif is_old and fields["elapsed_s"] and fields["elapsed_s"] > STALE:
        shape, state, alarm = "doubt", _("gauge silent"), _("The gauge says nothing. Look at the machine.")
    number = None if is_old or shape == "wrong" else fields["left_um"]
    return fields | {
        "shape": shape,
        "state": state,
        "alarm": alarm,
        "number": state if number is None else decimal(f"{number:.1f}").replace("-", "\u2212"),
        "unit": "" if number is None else _("µm left"),
        "over": _over(held, task, at),
    }


def round_line(held: PracticeRound) -> RoundLine:
    """A round for the list."""
    score = held.score
    if score is None:
        state = _("goes on") if held.stopped_after is None else _("stopped, not answered")
        return RoundLine(held=held, state=state, mark="next", over="", time=None, fault="")
    if score.lost:
        state, mark = _("wafer lost"), "does_not_conform"
    elif score.over < -practice_run(held.seed, held.number)[0].tolerance:
        state, mark = _("too much left on"), "next"
    else:
        state, mark = _("on target"), "conforms"
    return RoundLine(
        held=held, state=state, mark=mark, over=over_text(score.over), time=score.time, fault=fault_sentence(held)
    )


def over_text(over: float) -> str:
    """How far over or short, in words."""
    length = printed(abs(over), "µm", "length", digits=2)
    return _("%(d)s over") % {"d": length} if over > 0.0 else _("%(d)s left on") % {"d": length}


def fault_sentence(held: PracticeRound) -> str:
    """What was planted and what was said."""
    score = held.score
    if score is None:
        return ""
    task, _run = played(held)
    if not score.shown_up:
        truth = _("nothing was wrong yet") if task.fault != "none" else _("nothing was planted")
    else:
        truth = _("planted: %(fault)s") % {"fault": fault_word(task.fault)}
    found = _("you found it") if score.is_found and score.shown_up else _("as you said") if score.is_found else ""
    said = found or _("you said: %(fault)s") % {"fault": fault_word(held.said or "none")}
    return f"{truth}; {said}"


def fault_word(fault: FaultName) -> str:
    """A fault in words."""
    return {
        "none": _("nothing was wrong"),
        "silent": _("the gauge fell silent"),
        "frozen": _("the gauge froze at one value"),
        "jumped": _("the gauge jumped"),
        "backwards": _("the gauge ran backwards"),
        "dry": _("the slurry ran dry, the rate fell"),
        "surged": _("the rate shot up"),
        "noisy": _("the readings became noisy"),
    }[fault]


# ----------------------------------------------------------------------------------------------------------------------


def _gauge_alone(fields: dict[str, Any], *, is_old: bool) -> dict[str, Any]:
    reading = fields["reading_um"]
    state = _("running")
    return {
        "shape": "calm",
        "state": state,
        "alarm": "",
        "number": state if reading is None or is_old else f"{reading:.0f}".replace("-", "\u2212"),
        "unit": "" if reading is None or is_old else _("µm on the gauge"),
    }


def _over(held: PracticeRound, task: PracticeTask, at: datetime) -> bool:
    return held.stopped_after is not None or practice.is_over(held, task, at=at)
