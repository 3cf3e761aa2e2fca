"""Use case: the customer changes the terms of an order that is under way; what waits to be worked follows at once.

Only heights are moved: a target moved by so much moves every height that waits by the same, so that each later stage
still takes what the damage before it asks for, and the first removing one takes the difference. Whether another route
would serve the new terms better is for a person to look at.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields, replace
from datetime import datetime

from lapwright.app import orders, routes
from lapwright.errors import Conflict
from lapwright.model.job import RecordedOrder
from lapwright.model.order import Order
from lapwright.model.plan import Plan, Stage
from lapwright.model.readings import Signature
from lapwright.units import printed

#: States of a wafer whose waiting stages follow a moved target.
_UNDER_WAY = ("in_work", "set_aside")


def change_terms(order: Order, *, version: int, by: str, reason: str, at: datetime) -> RecordedOrder:
    """Record changed terms; with another target the chosen route and all stages that wait move along.

    What changed and why is kept as a note of the order. Raises `Conflict` when the terms have changed since `version`,
    when nothing changed, when a wafer is running and the target moves, and as `orders.amend_order` does.
    """
    from lapwright.records import queries, writer

    why = {"by": by, "reason": reason, "at": at}
    with writer.transaction():
        before = queries.order(order.order_id).order
        told = "; ".join(_changed(before, order))
        if not told:
            raise Conflict(f"Nothing of order {order.order_id!r} was changed. Type what is new, or leave the page.")
        recorded = orders.amend_order(order, version=version, by=by, reason=reason, at=at)
        moved = order.target_thickness - before.target_thickness
        if moved:
            _need_still(order.order_id)
            _move_route(order.order_id, moved, Signature(by=by, at=at, reason=reason))
        orders.add_note(order.order_id, f"Terms changed: {told}. {reason}", **why)  # type: ignore[arg-type]
        return recorded


def moved_plan(plan: Plan, moved: float) -> Plan:
    """A route whose heights all lie so much [m] higher; the first removing stage takes so much less.

    Its time, cost and chances stay those of the target they were reckoned for, and its warnings say so.
    Raises `Conflict` when that stage would have nothing left to take.
    """
    stages, rest = [], moved
    for stage in plan.stages:
        if stage.removal <= 0.0 or not rest:
            stages.append(replace(stage, thickness_after=stage.thickness_after + moved - rest))
            continue
        removal = stage.removal - rest
        if removal <= 0.0:
            raise Conflict(
                f"Stage {stage.name!r} of the chosen route takes {stage.removal * 1e6:.1f} µm, and the target moved by"
                f" {moved * 1e6:+.1f} µm: the route fits no more. Choose another first, then change this."
            )
        preset = None if stage.preset is None else stage.preset - rest
        share = removal / stage.removal
        height = stage.thickness_after + moved
        stages.append(replace(stage, removal=removal, preset=preset, time=stage.time * share, thickness_after=height))
        rest = 0.0
    target = plan.target_thickness + moved
    before = plan.target_thickness if plan.reckoned_for is None else plan.reckoned_for
    is_back = math.isclose(target, before, rel_tol=0.0, abs_tol=1e-10)
    warnings = [one for one in plan.warnings if plan.reckoned_for is None or one != _as_of(plan.reckoned_for)]
    return replace(
        plan,
        stages=tuple(stages),
        target_thickness=target,
        reckoned_for=None if is_back else before,
        warnings=tuple(warnings) if is_back else (*warnings, _as_of(before)),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _changed(before: Order, after: Order) -> Iterator[str]:
    """What differs, each in words: lengths with both values, the rest by name."""
    for field in fields(Order):
        old, new = getattr(before, field.name), getattr(after, field.name)
        if old == new:
            continue
        name = field.name.replace("_", " ")
        if field.name == "limits":
            kept = {one.quantity: one for one in before.limits}
            for one in after.limits:
                if kept.pop(one.quantity, None) != one:
                    yield f"limit of {one.quantity.replace('_', ' ')}"
            yield from (f"no limit of {quantity.replace('_', ' ')} any more" for quantity in kept)
        elif field.name == "target_thickness":
            yield f"{name} {printed(old, 'µm', 'length')} → {printed(new, 'µm', 'length')}"
        else:
            yield name


def _need_still(order_id: str) -> None:
    """Raise `Conflict` while a wafer of the order runs: its stop was set for the old target."""
    from lapwright.records import queries

    mine = {one.wafer.wafer_id for one in queries.wafers(order_id)}
    for run in queries.running_runs():
        if run.wafer_id in mine:
            raise Conflict(
                f"Wafer {run.wafer_id!r} runs on {run.station_id} towards the old target. Stop it first, or wait for"
                " its end; then change the terms."
            )


def _move_route(order_id: str, moved: float, signature: Signature) -> None:
    from lapwright.records import queries, writer

    chosen = queries.chosen_route(order_id)
    if chosen is None:
        return
    why = {"by": signature.by, "reason": signature.reason, "at": signature.at}
    route = routes.choose_route(order_id, moved_plan(chosen.plan, moved), **why)  # type: ignore[arg-type]
    for wafer in queries.wafers(order_id):
        if wafer.state not in _UNDER_WAY:
            continue
        for one in queries.stages(wafer.wafer.wafer_id):
            if one.state == "waiting":
                writer.replan_stage(one.stage_id, route.route_id, _higher(one.stage, moved), signature)


def _as_of(target: float) -> str:
    return (
        f"Time, cost and chance of this route were reckoned for a target of {printed(target, 'µm', 'length')}, before"
        " the target was moved. Search for routes anew to have them for the target of now."
    )


def _higher(stage: Stage, moved: float) -> Stage:
    return replace(stage, thickness_after=stage.thickness_after + moved)
