"""Plans and orders as dictionaries: every number with its unit in the field's name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from lapwright.formats.edge_values import edge_value, mm, um
from lapwright.model.order import Limit, Order
from lapwright.model.plan import Plan, Stage
from lapwright.model.wafer import Outline, Polygon, Rectangle
from lapwright.process.planning import Searched
from lapwright.process.route_limits import Remedy, Sensitivity
from lapwright.process.route_words import route_name
from lapwright.process.search import Candidate

if TYPE_CHECKING:
    from lapwright.process.feasibility import Feasibility


def route_dict(plans: Sequence[Plan]) -> dict[str, Any]:
    """The alternatives of a route, best first."""
    return {"alternatives": [plan_dict(plan) for plan in plans]}


def search_dict(searched: Searched, remedies: Sequence[Remedy], sensitivities: Sequence[Sensitivity]) -> dict[str, Any]:
    """The routes of a search, best first, with how many were weighed, the front, and what the best one hangs on."""
    best = searched.routes[0].plan
    binding = min(best.chances, key=lambda one: one.chance)
    return {
        **route_dict(searched.plans),
        "weighed": searched.weighed,
        "front": [candidate_dict(one) for one in searched.front],
        "limited_by": {"limit": binding.limit, "chance": binding.chance},
        "remedies": [remedy_dict(one) for one in remedies],
        "sensitivities": [sensitivity_dict(one) for one in sensitivities],
    }


def candidate_dict(candidate: Candidate) -> dict[str, Any]:
    """One route of the front as it was screened."""
    return {
        "name": route_name(candidate.chain),
        "total_time_min": edge_value(candidate.time, "total_time_min", "time"),
        "total_cost": candidate.cost,
        "chance_in_tolerance": candidate.chance,
        "n_cuts": len(candidate.chain),
    }


def remedy_dict(remedy: Remedy) -> dict[str, Any]:
    """Something that would raise the chance of a route."""
    return {
        "name": remedy.name,
        "sentence": remedy.sentence,
        "chance_in_tolerance": remedy.chance,
        "gain": remedy.gain,
        "time_change_min": edge_value(remedy.time_change, "time_change_min", "time"),
    }


def sensitivity_dict(one: Sensitivity) -> dict[str, Any]:
    """What hangs on one assumption."""
    return {
        "assumption": one.assumption,
        "words": one.words,
        "chance_low": one.chance_low,
        "chance_high": one.chance_high,
        "total_time_low_min": edge_value(one.time_low, "total_time_low_min", "time"),
        "total_time_high_min": edge_value(one.time_high, "total_time_high_min", "time"),
    }


def plan_dict(plan: Plan) -> dict[str, Any]:
    """One plan with its stages."""
    return {
        "name": plan.name,
        "stages": [stage_dict(stage) for stage in plan.stages],
        "start_thickness_um": um(plan.start_thickness),
        "target_thickness_um": um(plan.target_thickness),
        "total_time_min": edge_value(plan.total_time, "total_time_min", "time"),
        "chance_in_tolerance": plan.chance_in_tolerance,
        "damage_left_um": um(plan.damage_left),
        "assumptions": list(plan.assumptions),
        "warnings": list(plan.warnings),
        "chances": [{"limit": one.limit, "chance": one.chance} for one in plan.chances],
        "time_low_min": edge_value(plan.time_low, "time_low_min", "time"),
        "time_high_min": edge_value(plan.time_high, "time_high_min", "time"),
        "total_cost": plan.total_cost,
        "labels": list(plan.labels),
        "why": list(plan.why),
        "clear_time_min": edge_value(plan.clear_time, "clear_time_min", "time"),
    }


def stage_dict(stage: Stage) -> dict[str, Any]:
    """One stage of a plan."""
    return {
        "kind": stage.kind,
        "name": stage.name,
        "abrasive": stage.abrasive,
        "plate": stage.plate,
        "abrasive_name": stage.abrasive_name,
        "plate_name": stage.plate_name,
        "removal_um": um(stage.removal),
        "preset_um": um(stage.preset),
        "preset_datum": stage.preset_datum,
        "allowance_um": um(stage.allowance),
        "pressure_kpa": edge_value(stage.pressure, "pressure_kpa", "pressure"),
        "load_kg": edge_value(stage.load, "load_kg", "load"),
        "speed_m_per_s": edge_value(stage.speed, "speed_m_per_s", "speed"),
        "plate_speed_rpm": edge_value(stage.plate_speed, "plate_speed_rpm", "rotation"),
        "rate_um_per_min": _rate(stage.rate),
        "rate_low_um_per_min": _rate(stage.rate_low),
        "rate_high_um_per_min": _rate(stage.rate_high),
        "time_min": edge_value(stage.time, "time_min", "time"),
        "thickness_after_um": um(stage.thickness_after),
        "damage_left_um": um(stage.damage_left),
        "damage_left_high_um": um(stage.damage_left_high),
        "damage_chance": stage.damage_chance,
        "cautions": list(stage.cautions),
        "why": stage.why,
    }


def order_dict(order: Order) -> dict[str, Any]:
    """An order with all its definitions."""
    return {
        "order": order.order_id,
        "customer": order.customer,
        "quantity": order.quantity,
        "spares": order.spares,
        "due": order.due.isoformat() if order.due else None,
        "value_per_wafer": order.value_per_wafer,
        "notes": order.notes,
        "material": order.material,
        "orientation": order.orientation,
        "outline": outline_dict(order.outline),
        "start_thickness_um": um(order.start_thickness),
        "start_ttv_um": um(order.start_ttv),
        "start_damage_um": um(order.start_damage),
        "target_thickness_um": um(order.target_thickness),
        "limits": [limit_dict(limit) for limit in order.limits],
        "edge_exclusion_mm": mm(order.edge_exclusion),
        "hold": order.hold,
        "rule": order.rule.kind,
        "false_accept_percent": edge_value(order.rule.false_accept, "false_accept_percent", "share"),
        "guard_factor": order.rule.guard_factor,
    }


def limit_dict(limit: Limit) -> dict[str, Any]:
    """One limit of an order."""
    return {"quantity": limit.quantity, "lower_um": um(limit.lower), "upper_um": um(limit.upper)}


def outline_dict(outline: Outline) -> dict[str, Any]:
    """An outline, told apart by its shape."""
    if isinstance(outline, Rectangle):
        return {"shape": "rectangle", "width_mm": mm(outline.width), "height_mm": mm(outline.height)}
    if isinstance(outline, Polygon):
        return {"shape": "polygon", "corners_mm": [[mm(x), mm(y)] for x, y in outline.corners]}
    flat = mm(outline.flat_length) if outline.mark == "flat" else None
    return {"shape": "round", "diameter_mm": mm(outline.diameter), "mark": outline.mark, "flat_length_mm": flat}


def feasibility_dict(found: Feasibility) -> dict[str, Any]:
    """Whether an order can be met: lines, checks, remarks."""
    return {
        "answer": found.answer,
        "binding": found.binding,
        "lines": list(found.lines),
        "checks": [
            {
                "limit": one.limit,
                "has_um": um(one.has),
                "needs_um": um(one.needs),
                "answer": one.answer,
                "sentence": one.sentence,
                "remedy": one.remedy,
            }
            for one in found.checks
        ],
        "remarks": list(found.remarks),
    }


# ----------------------------------------------------------------------------------------------------------------------


def _rate(value: float | None) -> float | None:
    return edge_value(value, "rate_um_per_min", "removal_rate")
