"""Numbers of plans and prices worked out: chance, time and cost of a route, a quotation."""

from __future__ import annotations

import math
from collections.abc import Callable

from django.urls import reverse
from django.utils.translation import gettext as _
from pydantic import ValidationError

from lapwright.app import quotations, route_questions
from lapwright.app.route_questions import Aim, Asked
from lapwright.errors import LapwrightError, NotFound
from lapwright.model.quotation import Quotation
from lapwright.process.route_cost import machine_hour
from lapwright.process.route_making import Route
from lapwright.web.limits import limit_text
from lapwright.web.named_parts import line_word
from lapwright.web.questions import TunedQuestion
from lapwright.web.route_words import chance_word, tuning_fields
from lapwright.web.sentences import said
from lapwright.web.surroundings import now
from lapwright.web.why.case import Case, Given, Other, Table, bare, figures, per_cent, put
from lapwright.web.why.place import Place, picked

_MINUTE, _HOUR = 60.0, 3600.0


def route_chance(place: Place) -> Case:
    """Share of imagined jobs that keep every limit, and each limit by itself."""
    asked, route, number = _asked_for(place)
    plan, draws = route.plan, asked.question.draws
    kept = round(plan.chance_in_tolerance * draws)
    spread = math.sqrt(plan.chance_in_tolerance * (1.0 - plan.chance_in_tolerance) / draws)
    rows = tuple(
        (chance_word(one.limit), per_cent(one.chance, 2), str(round(one.chance * draws))) for one in plan.chances
    )
    limits = tuple(put("T", _("limit of the order"), limit_text(one)) for one in asked.order.limits)
    return Case(
        of=f"{number}. {said(plan.name)}",
        result=per_cent(plan.chance_in_tolerance, 2),
        given=(put("N", _("imagined jobs"), str(draws)), *limits),
        steps=(
            f"P = {kept}/{draws} = {per_cent(plan.chance_in_tolerance, 2)}",
            *(str(said(one)) for one in plan.assumptions),
        ),
        tables=(
            Table(title=_("Limit by limit"), heads=(_("Limit"), _("kept by"), _("jobs")), rows=rows),
            _rates(route),
        ),
        doubt=_(
            "± %(u)s (95 %%) from the number of jobs alone; what hangs on each assumption stands on the page Route."
        )
        % {"u": per_cent(1.96 * spread, 2)},
        others=_others(asked, route),
    )


def route_time(place: Place) -> Case:
    """The times of the stages and the money they cost."""
    asked, route, number = _asked_for(place)
    plan, prices = route.plan, asked.question.prices
    rows = tuple(
        (
            str(said(stage.name)),
            bare(stage.removal * 1e6, 2) if stage.removal else "–",
            figures(stage.rate * 60e6, 4) if stage.rate else "–",
            bare(stage.time / _MINUTE, 2),
        )
        for stage in plan.stages
    )
    times = Table(title=_("The stages"), heads=(_("Stage"), "h, µm", "r, µm/min", _("time, min")), rows=rows)
    total = math.fsum(stage.time for stage in plan.stages) / _MINUTE
    costs, sum_of = _costs(asked, route)
    loss = 0.0 if prices.wafer is None else prices.wafer * (1.0 - plan.chance_in_tolerance)
    steps = [f"T = Σ = {bare(total, 2)}\u00a0min"]
    if plan.total_cost is not None:
        steps.append(
            f"K = {bare(sum_of, 2)} + {bare(prices.piece_price, 2)} + {bare(loss, 2)} = {bare(plan.total_cost, 2)}"
        )
    spread = _("the interval of the rates cannot be told")
    if plan.time_low is not None and plan.time_high is not None:
        spread = _("%(low)s to %(high)s min in nine of ten imagined jobs, from the spread of the rates.") % {
            "low": bare(plan.time_low / _MINUTE, 1),
            "high": bare(plan.time_high / _MINUTE, 1),
        }
    return Case(
        of=f"{number}. {said(plan.name)}",
        result=f"{bare(total, 1)}\u00a0min" + ("" if plan.total_cost is None else f", {bare(plan.total_cost, 0)}"),
        given=(
            put("p", _("a person's hour"), bare(prices.person, 2), reverse("prices")),
            put("", _("what each wafer uses up besides"), bare(prices.piece_price, 2)),
            put("V", _("what a lost wafer costs"), "–" if prices.wafer is None else bare(prices.wafer, 2)),
            put("P", _("chance of keeping every limit"), per_cent(plan.chance_in_tolerance, 2)),
        ),
        steps=tuple(steps),
        tables=(times, costs),
        doubt=spread,
        others=_others(asked, route),
    )


def quotation(place: Place) -> Case:
    """The lines of a quotation, and how many wafers are begun for it."""
    order_id = place.name("order_id")
    recorded = quotations.quotations(order_id)
    try:
        held = recorded[-1].quotation if recorded else quotations.reckon_order(order_id, on=now().date())
    except LapwrightError as error:
        raise NotFound(str(said(error.sentence))) from error
    rows = tuple(
        (
            line_word(one.name),
            bare(one.person / _HOUR, 3),
            bare(one.machine / _HOUR, 3),
            bare(one.cost, 2),
            bare(one.low, 2),
            bare(one.high, 2),
        )
        for one in held.lines
    )
    heads = (_("Stage"), _("person, h"), _("machine, h"), _("expected"), _("5 %"), _("95 %"))
    told, belief = held.told, _belief(held)
    steps = [
        "C = Σ = " + " + ".join(bare(one.cost, 2) for one in held.lines) + f" = {bare(held.expected, 2)}",
        _("a piece at 50 %% and at 90 %%: %(even)s/%(n)d = %(a)s, %(sure)s/%(n)d = %(b)s")
        % {
            "even": bare(held.even, 2),
            "sure": bare(held.sure, 2),
            "n": held.quantity,
            "a": bare(held.even / held.quantity, 2),
            "b": bare(held.sure / held.quantity, 2),
        },
        _("a wafer passes with a/(a + b) = %(p)s") % {"p": per_cent(told.expected, 2)},
        _("%(n)d begun give %(k)d good ones with %(p)s")
        % {"n": held.started, "k": held.quantity, "p": per_cent(held.chance_of_enough, 2)},
    ]
    labour = held.prices.labour
    return Case(
        of=order_id,
        result=f"{bare(held.expected, 2)} {held.prices.currency}",
        given=(
            put("w_p", _("a person's hour"), bare(labour, 2), reverse("prices")),
            put("o", _("overhead"), per_cent(held.prices.overhead, 1)),
            put("n", _("wafers begun"), str(held.started)),
            put("v", _("what a lost wafer costs"), "–" if held.wafer_price is None else bare(held.wafer_price, 2)),
            put("P", _("chance of a wafer by the route"), per_cent(held.told.chance, 1)),
            put("", _("own wafers that passed and did not"), f"{held.told.good}, {held.told.lost}"),
            *belief,
        ),
        steps=tuple(steps),
        tables=(Table(title=_("Its lines"), heads=heads, rows=rows), _offered(held)),
        doubt=_("Nine of ten such jobs come to between %(low)s and %(high)s.")
        % {"low": bare(held.low, 2), "high": bare(held.high, 2)},
    )


ROUTES: dict[str, Callable[[Place], Case]] = {
    "route_chance": route_chance,
    "route_time": route_time,
    "quotation": quotation,
}


# ----------------------------------------------------------------------------------------------------------------------


def _asked_for(place: Place) -> tuple[Asked, Route, str]:
    """The route of the page that is asked about; the first of them, which is the best, when none is named."""
    order_id = place.name("order_id")
    if not order_id:
        raise NotFound(_("This is told of a draft; its numbers stand on the Route page once it is an order."))
    objective = "cost" if place.asked.get("objective") == "cost" else "time"
    try:
        percent = float(place.asked.get("chance", "90").replace(",", ".") or "90")
    except ValueError:
        percent = 90.0
    percent = percent if 50.0 <= percent <= 99.9 else 90.0
    aim = Aim(objective=objective, target_chance=percent / 100.0, wafer_id=place.asked.get("wafer") or None)  # type: ignore[arg-type]  # one of the two
    asked = route_questions.ask(order_id, aim)
    found = asked.searched.routes
    if place.of == "hand":
        return asked, _by_hand(place, asked), _("set by hand")
    number = picked(place.of, {str(n): n for n in range(1, len(found) + 1)}, "")
    return asked, found[number - 1], str(number)


def _by_hand(place: Place, asked: Asked) -> Route:
    """The route that the sliders of the page were set to; where they were not moved, the first on offer."""
    first = tuning_fields(asked.tuning_of(asked.searched.routes[0]))
    wanted = {name: place.asked.get(name, usual) for name, usual in first.items()}
    try:
        return asked.tuned(TunedQuestion.model_validate(wanted).tuning())
    except ValidationError as error:
        raise NotFound(_("What was set by hand was not understood.")) from error


def _belief(held: Quotation) -> tuple[Given, ...]:
    """The beta distribution believed of the yield, where own wafers tell how much the route's chance is worth."""
    told = held.told
    own = told.good + told.lost
    if not own or abs(told.chance - told.expected) < 1e-9:
        return ()
    worth = (told.expected * own - told.good) / (told.chance - told.expected)
    if not worth > 0.0:
        return ()
    a, b = worth * told.chance + told.good, worth * (1.0 - told.chance) + told.lost
    return (
        put("m", _("own wafers that the route's chance is worth"), figures(worth, 4)),
        put("a, b", _("belief of the yield: m·P + passed, m·(1 − P) + lost"), f"{figures(a, 5)}, {figures(b, 5)}"),
    )


def _others(asked: Asked, route: Route) -> tuple[Other, ...]:
    return tuple(
        Other(name=f"{number}. {said(one.plan.name)}", of=str(number))
        for number, one in enumerate(asked.searched.routes, start=1)
        if one is not route
    )


def _rates(route: Route) -> Table:
    rows = tuple(
        (
            str(said(stage.name)),
            bare(stage.removal * 1e6, 2),
            figures((stage.rate or 0.0) * 60e6, 4),
            figures((stage.rate_low or 0.0) * 60e6, 4),
            figures((stage.rate_high or 0.0) * 60e6, 4),
            bare(stage.damage_left * 1e6, 2),
            bare(stage.damage_left_high * 1e6, 2),
        )
        for stage in route.plan.stages
        if stage.removal
    )
    heads = (
        _("Stage"),
        "h, µm",
        "r, µm/min",
        _("2.5 %"),
        _("97.5 %"),
        _("damage, µm"),
        _("at most, µm"),
    )
    return Table(title=_("What is drawn at random, stage by stage"), heads=heads, rows=rows)


def _costs(asked: Asked, route: Route) -> tuple[Table, float]:
    """Machine and person of each step in money, and their sum."""
    prices, rows, total = asked.question.prices, [], 0.0
    measuring = asked.question.assumptions.measuring_time
    parts = [(_("reading it in"), 0.0, 0.0, measuring)]
    for step in route.steps:
        cut = step.cut
        hour = machine_hour(prices, process=cut.process, abrasive_kind=cut.abrasive.kind, plate=cut.workplace.plate)
        parts.append((str(said(step.name)), hour, step.part.removal / cut.rate, step.part.around))
    for name, hour, time, around in parts:
        cost = hour * time / _HOUR + prices.person * around / _HOUR
        total += cost
        rows.append((name, bare(hour, 2), bare(time / _MINUTE, 2), bare(around / _MINUTE, 1), bare(cost, 2)))
    heads = (_("Part"), _("an hour at the machine"), _("machine, min"), _("person, min"), _("cost"))
    return Table(title=_("Machine and person in money"), heads=heads, rows=tuple(rows)), total


def _offered(held: Quotation) -> Table:
    rows = (
        (_("at even odds (50 %)"), bare(held.even, 2)),
        (_("in nine of ten such jobs (90 %)"), bare(held.sure, 2)),
    )
    return Table(title=_("Quantiles of the imagined jobs"), heads=(_("Offer"), held.prices.currency or "–"), rows=rows)
