"""The JSON API: the questions that need no records, and the orders. One shape of answer, as the commands give it.

``{"ok": true, "result": {…}, "warnings": […]}`` or ``{"ok": false, "code": …, "error": …, "errors": […]}``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from ninja import NinjaAPI, Query
from ninja.errors import HttpError, ValidationError

from lapwright import __version__
from lapwright.app import orders
from lapwright.app.measure import BondFiles, Circumstances, bond_of_files, thickness_of_file
from lapwright.app.measure import BondQuestion as BondTerms
from lapwright.app.route_files import routes_of_file
from lapwright.app.route_questions import ask
from lapwright.errors import TABLE, BadInput, Fault, LapwrightError
from lapwright.formats.job_results import order_brief_dict, order_line_dict
from lapwright.formats.json_line import failure, one_line, success, warning_dict
from lapwright.formats.plans import order_dict, plan_dict, search_dict
from lapwright.formats.results import bond_dict, jig_dict, notice_dicts, thickness_dict
from lapwright.process.jig import adjuster_corrections
from lapwright.web.api_bench import router as bench_router
from lapwright.web.api_board import router as board_router
from lapwright.web.api_desk import router as desk_router
from lapwright.web.lettering import route_rulers
from lapwright.web.questions import (
    BondQuestion,
    JigQuestion,
    OrdersQuestion,
    PieceQuestion,
    RouteQuestion,
    ThicknessQuestion,
    TunedQuestion,
    as_files,
    si,
    si_or_none,
)

USUAL_TTV_LIMIT_UM = 2.0

api = NinjaAPI(
    title="Lapwright", version=__version__, docs_url=None, openapi_url="openapi.json", urls_namespace="api",
    description=__doc__,
)  # fmt: skip
api.add_router("", bench_router)
api.add_router("", board_router)
api.add_router("", desk_router)


@api.post("/thickness", summary="What a readings file says about each wafer in it")
def thickness(request: HttpRequest, question: ThicknessQuestion) -> HttpResponse:  # noqa: ARG001
    """As `lapwright thickness`."""
    with as_files(readings=question.readings_csv) as paths:
        measured = thickness_of_file(paths["readings"], _circumstances(question), wafer=question.wafer)
    wafers = [thickness_dict(result, with_sites=question.sites) for result in measured.results]
    warnings = [{"code": one.error.code, "sentence": one.error.sentence, "wafer": one.piece} for one in measured.void]
    for result in measured.results:
        warnings += notice_dicts(result.warnings, wafer=result.piece)
    answer = {
        "file": measured.name,
        "n_rows": measured.n_rows,
        "edge_exclusion_mm": question.edge_exclusion_mm,
        "wafers": wafers,
    }
    return given({**wafers[0], **answer} if len(wafers) == 1 else answer, warnings)


@api.post("/bond", summary="The bond line of a stack, and the wafer it will give")
def bond(request: HttpRequest, question: BondQuestion) -> HttpResponse:  # noqa: ARG001
    """As `lapwright bond`."""
    wafer_frame, carrier_frame = question.frames()
    limit_um = USUAL_TTV_LIMIT_UM if question.ttv_limit_um is None else question.ttv_limit_um
    terms = BondTerms(
        ttv_limit=si(limit_um, "µm"),
        target_thickness=si_or_none(question.target_um, "µm"),
        carrier_diameter=si_or_none(question.carrier_diameter_mm, "mm"),
        rebond_cost=question.rebond_cost,
        wafer_value=question.wafer_value,
    )
    with as_files(wafer=question.wafer_csv, carrier=question.carrier_csv, stack=question.stack_csv) as paths:
        files = BondFiles(
            wafer=paths["wafer"],
            carrier=paths["carrier"],
            stack=paths["stack"],
            wafer_id=question.wafer_id,
            carrier_id=question.carrier_id,
            stack_id=question.stack_id,
            wafer_frame=wafer_frame,
            carrier_frame=carrier_frame,
        )
        measured = bond_of_files(files, _circumstances(question), terms)
    warnings = notice_dicts(measured.result.warnings)
    if question.ttv_limit_um is None:
        sentence = f"No limit of TTV was given; the bond is judged by {limit_um:g} µm."
        warnings.append(warning_dict("bond.limit_assumed", sentence))
    for role, one in (("wafer", measured.wafer), ("carrier", measured.carrier), ("stack", measured.stack)):
        warnings += notice_dicts(one.warnings, set=role)
    answer = {
        "wafer": measured.wafer.piece,
        "carrier": measured.carrier.piece,
        "ttv_limit_um": limit_um,
        **bond_dict(measured.result, measured.verdict, with_sites=question.sites),
    }
    return given(answer, warnings)


@api.post("/jig", summary="What to turn at each adjuster to take a wedge out")
def jig(request: HttpRequest, question: JigQuestion) -> HttpResponse:  # noqa: ARG001
    """As `lapwright jig`."""
    fixed = None if question.fixed_adjuster is None else question.fixed_adjuster - 1
    correction = adjuster_corrections(
        question.wedge(),
        si(question.wafer_diameter_mm, "mm"),
        question.geometry(),
        fixed_adjuster=fixed,
        only_positive=question.only_positive,
    )
    return given(jig_dict(correction))


@api.post("/route", summary="The routes that meet an order, best first")
def route(request: HttpRequest, question: RouteQuestion) -> HttpResponse:  # noqa: ARG001
    """As `lapwright route`."""
    gauge = question.gauge()
    with as_files("toml", order=question.order_toml) as paths:
        answer = routes_of_file(paths["order"], question.terms(gauge))
    plans = answer.searched.plans
    warnings = [
        warning_dict("route.warning", sentence, route=plan.name) for plan in plans[:1] for sentence in plan.warnings
    ]
    if gauge is None:
        sentence = "No gauge was given; planned with one good to 1 µm. Give gauge_limit_um."
        warnings.append(warning_dict("route.gauge_assumed", sentence))
    return given(
        {
            "order": order_dict(answer.order),
            "seed": question.seed,
            "objective": question.objective,
            "target_chance_percent": question.target_chance_percent,
            **search_dict(answer.searched, answer.remedies, answer.sensitivities),
        },
        warnings,
    )


@api.get("/orders/{order_id}/route", summary="A route of an order, set by hand")
def tuned(request: HttpRequest, order_id: str, wish: Query[TunedQuestion]) -> HttpResponse:  # noqa: ARG001
    """What the sliders of the Route page ask."""
    asked = ask(order_id, wish.aim())
    plan = asked.tuned(wish.tuning()).plan
    answer = {**plan_dict(plan), "holds": plan.chance_in_tolerance >= wish.target_chance_percent / 100.0}
    if wish.drawing:
        answer["drawing"] = route_rulers((plan,))
    return given(answer, [warning_dict("route.warning", sentence, route=plan.name) for sentence in plan.warnings])


@api.get("/orders", summary="Orders, the earliest due first")
def list_orders(request: HttpRequest, asked: Query[OrdersQuestion]) -> HttpResponse:  # noqa: ARG001
    """As the page Orders: so many at once, and where the next ones start."""
    lines = orders.list_orders(asked.show, find_text=asked.find, start=asked.start, count=asked.count)
    total = orders.count_orders(asked.show, find_text=asked.find)
    end = asked.start + len(lines)
    return given({
        "orders": [order_line_dict(line) for line in lines], "total": total, "next_start": end if end < total else None,
    })  # fmt: skip


@api.get("/orders/{order_id}", summary="One order with its wafers")
def show_order(request: HttpRequest, order_id: str) -> HttpResponse:  # noqa: ARG001
    """As the Traveller, without readings."""
    return given(order_brief_dict(orders.order_brief(order_id)))


def given(result: Mapping[str, Any], warnings: Sequence[Mapping[str, Any]] = ()) -> HttpResponse:
    """The answer to a question that could be answered."""
    return _json(one_line(success(result, warnings)), 200)


@api.exception_handler(LapwrightError)
def _refused(request: HttpRequest, error: LapwrightError) -> HttpResponse:  # noqa: ARG001
    return _json(one_line(failure(error)), TABLE[error.code][1])


@api.exception_handler(ValidationError)
def _misshapen(request: HttpRequest, error: ValidationError) -> HttpResponse:  # noqa: ARG001
    faults = [
        Fault(sentence=f"{_place(one['loc'])}: {one['msg']}.", field=_place(one["loc"]) or None) for one in error.errors
    ]
    told = BadInput(faults, subject="The request")
    return _json(one_line(failure(told)), 422)


@api.exception_handler(HttpError)
def _unreadable(request: HttpRequest, error: HttpError) -> HttpResponse:  # noqa: ARG001
    told = {"ok": False, "code": "request.unreadable", "error": str(error), "errors": []}
    return _json(one_line(told), error.status_code)


# ----------------------------------------------------------------------------------------------------------------------


def _circumstances(question: PieceQuestion) -> Circumstances:
    return Circumstances(
        outline=question.piece_outline(),
        edge_exclusion=si(question.edge_exclusion_mm, "mm"),
        gauge=question.gauge(),
        conditions=question.conditions(),
        allowed_drift=si_or_none(question.allowed_drift_um, "µm"),
    )


def _place(location: Sequence[object]) -> str:
    """Where in the request, without the words of the library."""
    return ".".join(str(part) for part in location if part not in ("body", "question"))


def _json(line: str, status: int) -> HttpResponse:
    return HttpResponse(line, status=status, content_type="application/json; charset=utf-8")
