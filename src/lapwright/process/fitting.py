"""A route fitted to one wafer: its own thickness on its own bond, instead of the order's nominal start."""

from __future__ import annotations

import math
from dataclasses import replace

from lapwright.errors import ImpossibleOrder, OutOfValidRange
from lapwright.model.plan import Plan, Stage
from lapwright.process.preset import Heights, preset_travel


def fitted_plan(plan: Plan, start_thickness: float, *, rise: float) -> Plan:
    """A plan for one wafer: the first part of the first lap takes what this wafer has more or less than nominal.

    Parameters
    ----------
    plan : Plan
        The route chosen for the order.
    start_thickness : float [m]
        Thickness at this wafer's centre.
    rise : float [m]
        How much higher than the centre the stack is where plate and wafer touch first: half the wedge, and the dome.

    Returns
    -------
    Plan
        Same stages; first removal, its preset, its time and the start changed. The later stages stay as they are.

    Raises
    ------
    ImpossibleOrder
        The wafer is too thin for this route.
    OutOfValidRange
        `rise` is negative, or the thickness not above zero.

    Notes
    -----
    The preset from first touch is removal + rise - allowance. When tilt is corrected before the cut, the rise is that
    of the corrected stack.

    Examples
    --------
    >>> stage = Stage(kind="lap", name="Lap", removal=100e-6, preset=99e-6, preset_datum="first_touch",
    ...               allowance=1e-6, rate=1e-6, time=100.0, thickness_after=400e-6)
    >>> route = Plan(name="r", stages=(stage,), start_thickness=500e-6, target_thickness=400e-6, total_time=100.0,
    ...              chance_in_tolerance=1.0, damage_left=0.0)
    >>> fitted = fitted_plan(route, 503e-6, rise=2e-6).stages[0]
    >>> round(fitted.removal * 1e6, 3), round(fitted.preset * 1e6, 3)
    (103.0, 104.0)
    """
    if not start_thickness > 0.0:
        raise OutOfValidRange("start_thickness", start_thickness, "more than zero [m]")
    if not rise >= 0.0:
        raise OutOfValidRange("rise", rise, "zero or more [m]")
    first = next(index for index, stage in enumerate(plan.stages) if stage.removal > 0.0)
    extra = start_thickness - plan.start_thickness
    stage = plan.stages[first]
    if not stage.removal + extra > stage.allowance:
        raise ImpossibleOrder(
            f"This wafer is {start_thickness * 1e6:.1f} um thick; the route starts from "
            f"{plan.start_thickness * 1e6:.1f} um and its first stage takes {stage.removal * 1e6:.1f} um. "
            "Plan this wafer anew from its own thickness.",
            start_thickness=start_thickness,
        )
    before = tuple(replace(measured, thickness_after=start_thickness) for measured in plan.stages[:first])
    stages = (*before, _refitted(stage, extra, rise), *plan.stages[first + 1 :])
    return replace(
        plan, stages=stages, start_thickness=start_thickness, total_time=math.fsum(stage.time for stage in stages)
    )


# ----------------------------------------------------------------------------------------------------------------------


def _refitted(stage: Stage, extra: float, rise: float) -> Stage:
    removal = stage.removal + extra
    time = stage.time if stage.rate is None else removal / stage.rate
    if stage.preset_datum is None:
        return replace(stage, removal=removal, time=time)
    heights = Heights(contact=removal + rise, target=0.0)
    travel = (
        preset_travel("first_touch", heights=heights, allowance=stage.allowance).travel
        if stage.preset_datum == "first_touch"
        else preset_travel("conforming", removal=removal, allowance=stage.allowance).travel
    )
    return replace(stage, removal=removal, time=time, preset=travel)
