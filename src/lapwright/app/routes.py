"""Use cases: proposing routes for an order, choosing one, and fitting it to each wafer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime

from lapwright.app import route_basis, steps, wafer_maps
from lapwright.errors import Conflict
from lapwright.model.job import RecordedRoute, RecordedStage, WaferState
from lapwright.model.plan import Plan, Stage
from lapwright.model.readings import Signature

#: States of a wafer in which its stages can be laid out, because no stage has begun.
BEFORE_WORK: tuple[WaferState, ...] = ("ready",)


def propose_routes(order_id: str) -> tuple[Plan, ...]:
    """Routes that keep the order's limits, best first, from the wafers as they were read. Raises `ImpossibleOrder`.

    While no wafer has been read, the order's own figures are planned with.
    """
    from lapwright.app import route_questions

    return route_questions.ask(order_id).searched.plans


def choose_route(order_id: str, plan: Plan, *, by: str, reason: str, at: datetime) -> RecordedRoute:
    """Record the route the order follows; wafers with a kept bond get their stages at once, the others in turn.

    A later choice holds for the wafers on which no stage has begun.
    """
    from lapwright.records import queries, writer

    with writer.transaction():
        route = writer.choose_route(order_id, plan, Signature(by=by, at=at, reason=reason))
        for wafer in queries.wafers(order_id):
            if wafer.state in BEFORE_WORK:
                lay_out_stages(wafer.wafer.wafer_id, by=by, reason=reason, at=at)
        return route


def chosen_route(order_id: str) -> RecordedRoute | None:
    """The route an order follows, None while none is chosen."""
    from lapwright.records import queries

    return queries.chosen_route(order_id)


def lay_out_stages(wafer_id: str, *, by: str, reason: str, at: datetime) -> tuple[RecordedStage, ...]:
    """Fit the chosen route to one wafer: removals, presets and times from its own map, not from the order's mean.

    A measurement that the route begins or ends with is left out: the job itself asks for the stack before the first
    stage and for the wafer on its carrier after the last.
    Raises `Conflict` when no route is chosen, a stage has begun, or the wafer is too thin for the route.
    """
    from lapwright.records import queries, story_queries, writer

    with writer.transaction():
        wafer = story_queries.wafer_at_work(wafer_id)
        route = queries.chosen_route(wafer.wafer.order_id)
        if route is None:
            raise Conflict(f"Order {wafer.wafer.order_id!r} has no route yet. Choose one first.")
        steps.need_state(wafer.wafer, BEFORE_WORK, "Laying out the stages")
        now = wafer_maps.wafer_now(wafer)
        rise = 0.5 * now.wedge.amount if now.wedge is not None and now.wedge.azimuth is not None else 0.0
        fitted = tuple(_fitted(route.plan, now.thickness, rise, wafer_id))
        signature = Signature(by=by, at=at, reason=reason)
        return writer.replace_stages(wafer_id, route.route_id, list(enumerate(fitted, start=1)), signature)


# ----------------------------------------------------------------------------------------------------------------------


def _fitted(plan: Plan, thickness: float, rise: float, wafer_id: str) -> Iterator[Stage]:
    """The stages of a plan for a wafer of this thickness: the same heights to reach, so other removals and times.

    `rise` is how far its thick edge stands above the centre, where it touches first.
    """
    from lapwright.process.preset import Heights, preset_travel

    before = thickness
    for stage in route_basis.between(plan.stages):
        if stage.removal <= 0.0:
            yield replace(stage, thickness_after=before)
            continue
        removal = before - stage.thickness_after
        if removal <= 0.0:
            raise Conflict(
                f"Wafer {wafer_id!r} is {before * 1e6:.1f} µm thick and stage {stage.name!r} ends at"
                f" {stage.thickness_after * 1e6:.1f} µm: nothing is left for it. Choose a route for this wafer's stock."
            )
        preset = stage.preset
        if preset is not None and stage.preset_datum is not None:
            heights = Heights(contact=before + rise, target=stage.thickness_after, block=before)
            preset = preset_travel(
                stage.preset_datum, allowance=stage.allowance, removal=removal, heights=heights
            ).travel
        yield replace(stage, removal=removal, preset=preset, time=stage.time * removal / stage.removal)
        before = stage.thickness_after
