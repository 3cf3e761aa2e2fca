"""Route: how shall we do it? Alternatives side by side, one of them changed by hand, one to choose."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods
from pydantic import ValidationError

from lapwright.app import orders, prices, route_questions, route_searches, routes
from lapwright.app.route_kept import Findings
from lapwright.app.route_questions import Aim, Asked
from lapwright.errors import TABLE, CannotAnswer, WrongQuestion
from lapwright.model.job import RecordedRoute
from lapwright.model.plan import Plan
from lapwright.process.route_making import Route
from lapwright.web.lettering import route_rulers
from lapwright.web.questions import TunedQuestion
from lapwright.web.route_words import chance_word, hand_faults, label_word, tuning_fields
from lapwright.web.sentences import said
from lapwright.web.surroundings import now, shown, signed

_TUNED = ("tools", "load_percent", "speed_percent", "lap_margin", "finish_margin")


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """A route on offer, with the mark by which it is asked for.

    `chosen` is the one the order follows; `moved` when readings have changed its figures since. `chances` are the
    limits with their words, the least kept first; `tuning` the fields by which it is set by hand.
    """

    plan: Plan
    mark: str
    chosen: bool
    moved: bool
    holds: bool
    labels: tuple[str, ...]
    chances: tuple[tuple[str, float], ...]
    tuning: dict[str, str]
    warnings: tuple[str, ...]


@require_http_methods(["GET", "HEAD", "POST"])
def route(request: HttpRequest, order_id: str) -> HttpResponse:
    """The page, with the routes as soon as they are found; a POST chooses one it showed, or the one set by hand."""
    order = orders.recorded_order(order_id).order
    chosen = routes.chosen_route(order_id)
    given = request.POST if request.method == "POST" else request.GET
    aim, wrong = _aim(given)
    frame: dict[str, Any] = {
        "prices": prices.recorded_prices(),
        "here": "route", "order_id": order_id, "order": order, "chosen": chosen, "aim": aim, "wrong": wrong,
        "target_percent": round(100.0 * aim.target_chance, 1), "under_way": route_questions.wafers_under_way(order_id),
    }  # fmt: skip
    refused = ""
    try:
        asked = route_questions.ask(order_id, aim)
        if request.method == "POST":
            refused = _choose(request, order_id, asked, aim)
            if not refused:
                return redirect("wafer", order_id, aim.wafer_id) if aim.wafer_id else redirect("traveller", order_id)
        seen = route_searches.look(asked, now())
        if seen.refusal is not None:
            raise seen.refusal
    except CannotAnswer as error:
        return shown(request, "route.html", impossible=error.sentence, status=TABLE[error.code][1], **frame)
    frame |= {"state": asked.state, "stages_done": asked.stages_done, "refused": refused}
    if seen.findings is None:
        frame |= {"search": seen, "again": _again(given)}
    else:
        frame |= _found(seen.findings, asked, given, frame)
    return shown(request, "route.html", status=409 if refused else 200, **frame)


# ----------------------------------------------------------------------------------------------------------------------


def _again(given: QueryDict) -> str:
    """The query by which the page is looked at again."""
    query = QueryDict(mutable=True)
    for name in ("objective", "chance", "wafer", *_TUNED):
        if given.get(name):
            query[name] = str(given[name])
    return query.urlencode()


def _found(findings: Findings, asked: Asked, given: QueryDict, frame: dict[str, Any]) -> dict[str, Any]:
    """What the page tells of the routes that were found."""
    found, aim = findings.searched, frame["aim"]
    common = _common_warnings(found.plans)
    offered = [_alternative(one, asked, frame["chosen"], common, aim) for one in found.routes]
    return {
        "alternatives": offered, "common": common, "weighed": found.weighed, "rulers": route_rulers(found.plans),
        "remedies": findings.remedies, "sensitivities": findings.sensitivities,
        "hand": _by_hand(given, asked, offered, findings, aim), "tools": _tools(found.routes, offered),
    }  # fmt: skip


def _aim(given: QueryDict) -> tuple[Aim, str]:
    """What the page is asked for; the usual aim, and a sentence, where that cannot be."""
    text = given.get("chance", "").strip().replace(",", ".")
    wafer = given.get("wafer") or None
    objective = "cost" if given.get("objective") == "cost" else "time"
    try:
        percent = float(text) if text else 90.0
    except ValueError:
        percent = float("nan")
    if not 50.0 <= percent <= 99.9:
        sentence = _("The chance aimed at was given as “%(text)s”; it must lie between 50 and 99.9 %%. 90 %% is used.")
        return Aim(objective="cost" if objective == "cost" else "time", wafer_id=wafer), sentence % {"text": text}
    return Aim(objective="cost" if objective == "cost" else "time", target_chance=percent / 100.0, wafer_id=wafer), ""


def _alternative(one: Route, asked: Asked, chosen: RecordedRoute | None, common: list[str], aim: Aim) -> Alternative:
    plan = one.plan
    return Alternative(
        plan=plan,
        mark=_mark(plan),
        chosen=chosen is not None and aim.wafer_id is None and plan.name == chosen.plan.name,
        moved=chosen is not None and plan.stages != chosen.plan.stages,
        holds=plan.chance_in_tolerance >= aim.target_chance,
        labels=tuple(label_word(label) for label in plan.labels),
        chances=tuple(
            (chance_word(limit.limit), limit.chance) for limit in sorted(plan.chances, key=lambda one: one.chance)
        ),
        tuning=tuning_fields(asked.tuning_of(one)),
        warnings=tuple(text for text in plan.warnings if text not in common),
    )


def _tools(found: tuple[Route, ...], offered: list[Alternative]) -> list[tuple[str, Alternative]]:
    """The different choices of plates and abrasives, in words, each with the first route that makes it."""
    kept: dict[str, tuple[str, Alternative]] = {}
    for one, alternative in zip(found, offered, strict=True):
        words = _(", then ").join(
            _("%(abrasive)s on %(place)s") % {"abrasive": said(cut.abrasive.name), "place": said(cut.workplace.name)}
            for cut in one.candidate.chain
        )
        kept.setdefault(alternative.tuning["tools"], (words, alternative))
    return list(kept.values())


def _by_hand(
    given: QueryDict, asked: Asked, offered: list[Alternative], findings: Findings, aim: Aim
) -> dict[str, Any]:
    """The route set by hand: as the form says, else as the first on offer; with what speaks against it."""
    fields = {name: str(given[name]) for name in _TUNED if given.get(name)}
    start = next((one.tuning for one in offered if one.tuning["tools"] == fields.get("tools")), offered[0].tuning)
    wanted = {**start, **fields}
    plan, refused = offered[0].plan, ""
    try:
        if not fields and findings.by_hand is not None:
            plan = findings.by_hand
        else:
            plan = asked.tuned(TunedQuestion.model_validate(wanted).tuning()).plan
    except (CannotAnswer, WrongQuestion) as error:
        refused = error.sentence
    except ValidationError as error:
        wanted, refused = start, hand_faults(error)
    return {
        "fields": wanted,
        "plan": plan,
        "refused": refused,
        "holds": plan.chance_in_tolerance >= aim.target_chance,
        "chances": [(chance_word(one.limit), one.limit, one.chance) for one in plan.chances],
        "ruler": route_rulers((plan,)),
    }


def _choose(request: HttpRequest, order_id: str, asked: Asked, aim: Aim) -> str:
    """Record the choice; a sentence when what was chosen is no longer on offer."""
    wanted = request.POST.get("route", "")
    if wanted == "by hand":
        try:
            wish = TunedQuestion.model_validate({name: request.POST.get(name, "") for name in _TUNED})
            plan = asked.tuned(wish.tuning()).plan
        except (CannotAnswer, WrongQuestion) as error:
            return error.sentence
        except ValidationError as error:
            return " ".join([hand_faults(error), _("Nothing was chosen.")])
    else:
        found = next((one for one in asked.searched.plans if _mark(one) == wanted), None)
        if found is None:
            return _(
                "The routes have changed since the page was made, because something was recorded meanwhile. "
                "Nothing was chosen. Look at them as they are now and choose again."
            )
        plan = found
    reason = request.POST.get("reason", "").strip() or _("chosen on the Route page")
    if aim.wafer_id:
        route_questions.replan_wafer(aim.wafer_id, plan, **signed(request, reason))
        messages.success(request, _("The rest of wafer %(wafer)s is planned anew.") % {"wafer": aim.wafer_id})
    else:
        routes.choose_route(order_id, plan, **signed(request, reason))
        messages.success(request, _("Route “%(name)s” is chosen.") % {"name": said(plan.name)})
    return ""


def _common_warnings(plans: tuple[Plan, ...]) -> list[str]:
    """Warnings that every route carries; with one route alone they are its own."""
    if len(plans) < 2:
        return []
    return [text for text in plans[0].warnings if all(text in plan.warnings for plan in plans)]


def _mark(plan: Plan) -> str:
    return hashlib.sha256(repr(plan).encode()).hexdigest()[:16]
