"""Drawings of where the work stands: the stack through the stages, and the wheels of the jig."""

from __future__ import annotations

import math
from dataclasses import dataclass

from django.utils.translation import gettext as _

from lapwright.app import shelf
from lapwright.app.runs import NextStage
from lapwright.app.wafer_course import measured_course, stage_read
from lapwright.model.job import RecordedSet, RecordedStage
from lapwright.model.shelf import Jig
from lapwright.model.story import OrderStanding, WaferStory
from lapwright.reports.drawing.stack import StackStep, StepState
from lapwright.reports.drawing.wheel import Turn as Way
from lapwright.reports.drawing.wheel import WheelAdjuster
from lapwright.web.lettering import jig_wheel, stack_through_stages
from lapwright.web.sentences import decimal, printed, said
from lapwright.web.words import MOMENTS, clock


def order_stack(standing: OrderStanding) -> str | None:
    """The stack of the chosen route, each stage with how many wafers are past it; None while no route is chosen."""
    plan = next((route.plan for route in reversed(standing.routes) if route.chosen), None)
    if plan is None:
        return None
    counts, wafers = _passed(standing)
    steps = [StackStep(label=_("as it came"), wafer=plan.start_thickness, state="done")]
    state: StepState = "done"
    for number, stage in enumerate((one for one in plan.stages if one.removal > 0.0), 1):
        past = sum(count >= number for count in counts)
        state = "done" if past == wafers else "next" if state == "done" else "planned"
        note = _("%(past)d of %(wafers)d wafers") % {"past": past, "wafers": wafers} if past else ""
        steps.append(
            StackStep(label=stage.name, wafer=stage.thickness_after, damage=stage.damage_left, state=state, note=note)
        )
    return stack_through_stages(steps, target_thickness=standing.order.order.target_thickness)


def wafer_stack(story: WaferStory, target_thickness: float) -> str | None:
    """The stack of one wafer through its own stages; None while it has none."""
    if not story.stages:
        return None
    return stack_through_stages(stack_steps(story), target_thickness=target_thickness)


def stack_steps(story: WaferStory) -> list[StackStep]:
    """The steps of one wafer: what is done as it was measured, the rest as it is planned."""
    bond, carrier = _below(story)
    measured = measured_course(story)
    came = story.wafer.wafer.nominal_thickness if measured.incoming is None else measured.incoming
    note = "" if measured.incoming is None else _measured_words(measured.incoming)
    steps = [StackStep(label=_("as it came"), wafer=came, bond=bond, carrier=carrier, state="done", note=note)]
    waiting_seen = False
    for one in story.stages:
        if one.stage.removal <= 0.0:
            continue
        state = _state(one, waiting_seen=waiting_seen)
        waiting_seen = waiting_seen or state != "done"
        found = measured.after.get(one.stage_id) if state == "done" else None
        steps.append(
            StackStep(
                label=one.stage.name,
                wafer=one.stage.thickness_after if found is None else found,
                bond=bond,
                carrier=carrier,
                damage=one.stage.damage_left,
                state=state,
                note="" if found is None else _measured_words(found),
            )
        )
    return steps


def moment_words(one: RecordedSet, story: WaferStory) -> str:
    """When in the job a set was read; at a stage with the name of the last one that had removed by then."""
    read = stage_read(one, story)
    if read is not None:
        before = [each for each in story.stages if each.number <= read.stage.number and each.stage.removal > 0.0]
        if before:
            name = said(before[-1].stage.name)
            if read.is_within:
                return _("between the steps of %(stage)s") % {"stage": name}
            return _("after %(stage)s") % {"stage": name}
    return str(MOMENTS[one.moment])


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """What to do at one adjuster, in words."""

    number: int
    clock: str
    text: str


def turns(stage: NextStage | None) -> list[Turn]:
    """What to do at each adjuster as the operator sees the jig; empty when nothing is to be turned."""
    if stage is None or stage.correction is None:
        return []
    moves = stage.correction.moves
    if all(math.isclose(one.divisions_to_set, 0.0) for one in moves):
        return []
    return [
        Turn(number=number, clock=clock(math.pi - one.azimuth), text=_turn_text(one.divisions_to_set))
        for number, one in enumerate(moves, 1)
    ]


def wheel_drawing(stage: NextStage | None) -> str | None:
    """The only jig with its screws as the operator sees it; None when nothing is to be turned."""
    return screw_wheel(stage, _only_jig()) if turns(stage) else None


def screw_wheel(stage: NextStage | None, jig: Jig | None) -> str | None:
    """A jig with its screws as the operator sees it, turned or not; None while no correction is known."""
    adjusters = wheel_adjusters(stage, jig)
    return jig_wheel(adjusters) if adjusters else None


def wheel_adjusters(stage: NextStage | None, jig: Jig | None) -> list[WheelAdjuster]:
    """What each adjuster is to do, for the drawing of the wheel."""
    if stage is None or stage.correction is None:
        return []
    return [
        WheelAdjuster(
            azimuth=one.azimuth,
            correction=one.correction,
            divisions=one.divisions_to_set,
            turn=turn_of(one.divisions_to_set, jig),
            label=str(number),
        )
        for number, one in enumerate(stage.correction.moves, 1)
    ]


def turn_of(divisions: float, jig: Jig | None) -> Way | None:
    """Which way a screw is turned, seen by the person who turns it; None when it stays or the thread is not known."""
    if jig is None or jig.clockwise_brings_near is None or math.isclose(divisions, 0.0):
        return None
    return "clockwise" if (divisions > 0.0) == jig.clockwise_brings_near else "counter_clockwise"


# ----------------------------------------------------------------------------------------------------------------------


def _measured_words(thickness: float) -> str:
    return _("measured %(t)s") % {"t": printed(thickness, "µm", "length")}


def _only_jig() -> Jig | None:
    """The jig, where there is only one; the correction of this page is that jig's."""
    jigs = shelf.list_jigs()
    return jigs[0].jig if len(jigs) == 1 else None


def _turn_text(divisions: float) -> str:
    """Divisions and which way the wafer goes there; the thread decides which way the screw goes."""
    if math.isclose(divisions, 0.0):
        return _("stays")
    amount = decimal(f"{abs(divisions):g}")
    if divisions > 0.0:
        return _("%(n)s divisions, wafer nearer the plate") % {"n": amount}
    return _("%(n)s divisions, wafer away from the plate") % {"n": amount}


def _below(story: WaferStory) -> tuple[float | None, float | None]:
    """Mean bond and carrier thickness of the bond the wafer was worked on; None where not known."""
    if not story.bonds:
        return None, None
    bond = story.bonds[-1]
    carrier = shelf.show_carrier(bond.carrier_id).nominal_thickness
    return (bond.numbers.mean if bond.numbers else None), carrier


def _passed(standing: OrderStanding) -> tuple[list[int], int]:
    """How many removing stages each wafer in the work has behind it, and how many wafers that are."""
    in_work = [wafer for wafer in standing.wafers if wafer.wafer.state != "rejected"]
    counts = [
        sum(one.state in ("done", "skipped") and one.stage.removal > 0.0 for one in wafer.stages) for wafer in in_work
    ]
    return counts, len(in_work)


def _state(one: RecordedStage, *, waiting_seen: bool) -> StepState:
    if one.state in ("done", "skipped"):
        return "done"
    return "planned" if waiting_seen else "next"
