"""Drawings of where the work stands: the stack through the stages, and the wheels of the jig."""

from __future__ import annotations

import math

from django.utils.translation import gettext as _

from lapwright.app.runs import NextStage
from lapwright.model.job import RecordedStage
from lapwright.model.plan import Plan
from lapwright.model.story import OrderStory, WaferStory
from lapwright.reports.drawing.stack import StackStep, stack_through_stages
from lapwright.reports.drawing.wheel import WheelAdjuster, jig_wheel


def order_stack(story: OrderStory) -> str | None:
    """The stack of the chosen route, as planned; None while no route is chosen."""
    chosen = next((route.plan for route in reversed(story.routes) if route.chosen), None)
    if chosen is None:
        return None
    furthest = _furthest(story)
    return _drawing_of(chosen, furthest, story.order.order.target_thickness)


def wafer_stack(story: WaferStory, target_thickness: float) -> str | None:
    """The stack of one wafer through its own stages; None while it has none."""
    if not story.stages:
        return None
    bond = next((one for one in reversed(story.bonds) if one.undone is None), None)
    mean_bond = bond.numbers.mean if bond and bond.numbers else None
    first = StackStep(label=_("as it came"), wafer=story.wafer.wafer.nominal_thickness, bond=mean_bond, state="done")
    steps = [first]
    damage, waiting_seen = 0.0, False
    for one in story.stages:
        if one.stage.removal <= 0.0:
            continue
        damage = one.stage.damage_left
        state = _state(one, waiting_seen=waiting_seen)
        waiting_seen = waiting_seen or state != "done"
        steps.append(
            StackStep(
                label=one.stage.name, wafer=one.stage.thickness_after, bond=mean_bond, damage=damage,
                state=state,  # type: ignore[arg-type]
            )
        )  # fmt: skip
    return stack_through_stages(steps, target_thickness=target_thickness)


def wheel_drawing(stage: NextStage | None) -> str | None:
    """The jig with its screws as the operator sees it; None when nothing is to be turned."""
    if stage is None or stage.correction is None:
        return None
    adjusters = [
        WheelAdjuster(azimuth=one.azimuth, correction=one.correction, divisions=one.divisions_to_set, label=str(number))
        for number, one in enumerate(stage.correction.moves, 1)
    ]
    if all(math.isclose(one.divisions, 0.0) for one in adjusters):
        return None
    return jig_wheel(adjusters)


# ----------------------------------------------------------------------------------------------------------------------


def _furthest(story: OrderStory) -> int:
    """How many removing stages the slowest wafer in work has behind it."""
    counts = [
        sum(one.state in ("done", "skipped") and one.stage.removal > 0.0 for one in wafer.stages)
        for wafer in story.wafers
        if wafer.stages
    ]
    return min(counts, default=0)


def _drawing_of(plan: Plan, done: int, target_thickness: float) -> str:
    steps = [StackStep(label=_("as it came"), wafer=plan.start_thickness, state="done")]
    removing = [stage for stage in plan.stages if stage.removal > 0.0]
    for number, stage in enumerate(removing):
        state = "done" if number < done else "next" if number == done else "planned"
        steps.append(
            StackStep(
                label=stage.name, wafer=stage.thickness_after, damage=stage.damage_left,
                state=state,  # type: ignore[arg-type]
            )
        )  # fmt: skip
    return stack_through_stages(steps, target_thickness=target_thickness)


def _state(one: RecordedStage, *, waiting_seen: bool) -> str:
    if one.state in ("done", "skipped"):
        return "done"
    return "planned" if waiting_seen else "next"
