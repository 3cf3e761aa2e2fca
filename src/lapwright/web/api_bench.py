"""The JSON of Bond line, Tilt and Damage, and of the bonding model."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from ninja import Router, Schema

from lapwright.app import bench_advice, jig_moves, runs, shelf
from lapwright.app.bond_models import ZERO_CELSIUS, FilmQuestion, film_of
from lapwright.app.wafer_damage import DamageView, damage_view
from lapwright.formats.bond_results import damage_dict, debond_dict, film_dict, programme_dict, stack_dict
from lapwright.formats.jig_move_results import learned_dict, move_dict
from lapwright.formats.json_line import one_line, success, warning_dict
from lapwright.formats.results import bond_dict, jig_dict

router = Router()


class BondModelQuestion(Schema):
    """How thick a film gets; a viscosity, or an adhesive of the library and its temperature."""

    load_n: float
    radius_mm: float
    start_um: float
    time_s: float
    viscosity_pa_s: float | None = None
    adhesive: str | None = None
    temperature_c: float | None = None
    wanted_um: float | None = None


@router.post("/bond/model", summary="The film that a press leaves")
def bond_model(request: HttpRequest, question: BondModelQuestion) -> HttpResponse:  # noqa: ARG001
    """As `lapwright bond --model`."""
    celsius, wanted = question.temperature_c, question.wanted_um
    found = film_of(
        FilmQuestion(
            load=question.load_n,
            radius=question.radius_mm / 1e3,
            start=question.start_um / 1e6,
            time=question.time_s,
            viscosity=question.viscosity_pa_s,
            adhesive=question.adhesive,
            temperature=None if celsius is None else celsius + ZERO_CELSIUS,
            wanted=None if wanted is None else wanted / 1e6,
        )
    )
    result = film_dict(
        film=found.film,
        low=found.low,
        high=found.high,
        pressure=found.pressure,
        viscosity=found.viscosity,
        source=found.viscosity_from,
        wanted=found.wanted,
        time_to_wanted=found.time_to_wanted,
    )
    return _given(result, [warning_dict(*one) for one in found.warnings])


@router.get("/orders/{order_id}/wafers/{wafer_id}/bond", summary="The latest bond of a wafer and what it will cost")
def bond_line(request: HttpRequest, order_id: str, wafer_id: str) -> HttpResponse:  # noqa: ARG001
    """What the page Bond line shows."""
    order, story = bench_advice.wafer_story(order_id, wafer_id)
    found = bench_advice.bond_outlook(story, order)
    if found is None:
        return _given({"wafer": wafer_id, "bond": None})
    stack, programme = found.stack, found.programme
    result: dict[str, Any] = {
        "wafer": wafer_id,
        "bond": None if found.result is None else bond_dict(found.result, found.bond.verdict),
        "chance_of_scrap": found.chance_of_scrap,
        "wafer_value": found.wafer_value,
        "expected_loss": found.expected_loss,
        "stack": None if stack is None else stack_dict(stack.now, stack.target, stack.pair),
        "programme": None if programme is None else programme_dict(programme),
        **debond_dict(found.ways),
        "cautions": list(found.cautions),
        "missing": list(found.missing),
    }
    return _given(result)


@router.get("/orders/{order_id}/wafers/{wafer_id}/tilt", summary="What to turn at the jig for a wafer")
def tilt(request: HttpRequest, order_id: str, wafer_id: str, jig: str = "") -> HttpResponse:  # noqa: ARG001
    """What the page Tilt shows."""
    bench_advice.wafer_story(order_id, wafer_id)
    jigs = [one.jig for one in shelf.list_jigs()]
    chosen = next((one for one in jigs if one.jig_id == jig), jigs[0] if jigs else None)
    stage = runs.next_stage(wafer_id, jig_id=None if chosen is None else chosen.jig_id)
    found = None if chosen is None else jig_moves.learned_jig(chosen.jig_id)
    result = {
        "wafer": wafer_id,
        "jig": None if chosen is None else chosen.jig_id,
        "clockwise_brings_near": None if chosen is None else chosen.clockwise_brings_near,
        "correction": None if stage is None or stage.correction is None else jig_dict(stage.correction),
        "turned_since": [] if stage is None else [move_dict(one) for one in stage.turned],
        "learned": None if chosen is None else learned_dict(chosen.jig_id, found, jig_moves.sentences_of(found)),
    }
    return _given(result)


@router.get("/orders/{order_id}/wafers/{wafer_id}/damage", summary="The damage of a wafer through its stages")
def damage(request: HttpRequest, order_id: str, wafer_id: str) -> HttpResponse:  # noqa: ARG001
    """What the page Damage shows."""
    order, story = bench_advice.wafer_story(order_id, wafer_id)
    view = damage_view(story, start_damage=order.order.start_damage)
    steps = [(one.line, one.is_done) for one in view.steps]
    ledger = damage_dict(steps, view.clear, view.ran, view.shortfall)
    return _given({"wafer": wafer_id, **ledger, **_polish_dict(view), "missing": list(view.missing)})


# ----------------------------------------------------------------------------------------------------------------------


def _given(result: dict[str, Any], warnings: list[dict[str, Any]] | None = None) -> HttpResponse:
    return HttpResponse(one_line(success(result, warnings or [])) + "\n", content_type="application/json")


def _polish_dict(view: DamageView) -> dict[str, Any]:
    """How fast the polish went, what chance it left, and whether it was long enough once it is over."""
    rate = view.rate
    return {
        "polished": view.polished,
        "chance_left": None if view.chance_left is None else float(f"{view.chance_left:.6g}"),
        "rate_um_per_min": None if rate is None else float(f"{rate.rate * 60e6:.6g}"),
        "rate_by": None if rate is None else "runs" if rate.by_runs else "plan",
    }
