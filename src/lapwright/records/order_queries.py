"""Reading the list of orders."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

from django.db.models import Count, F, Model, Q, QuerySet

from lapwright.model.job import WaferState
from lapwright.model.order import Limit, Order
from lapwright.model.story import OrderLine, OrdersShown
from lapwright.model.verdict import Outcome
from lapwright.records import models
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated
from lapwright.records.queries import GOING

_BY_WAFER = "wafer__order__order_id"
#: Tables whose rows belong to one order each -> the model, and how its order is come by.
OF_AN_ORDER: dict[str, tuple[type[Model], str]] = {
    "order": (models.Order, "order_id"),
    "route": (models.Route, "order__order_id"),
    "wafer": (models.Wafer, "order__order_id"),
    "readingset": (models.ReadingSet, "order__order_id"),
    "bond": (models.Bond, _BY_WAFER),
    "stage": (models.Stage, _BY_WAFER),
    "cleancheck": (models.CleanCheck, "stage__wafer__order__order_id"),
    "zero": (models.Zero, _BY_WAFER),
    "run": (models.Run, _BY_WAFER),
    "weighing": (models.Weighing, _BY_WAFER),
    "surface": (models.Surface, _BY_WAFER),
    "finding": (models.Finding, _BY_WAFER),
    "verdict": (models.Verdict, _BY_WAFER),
    "odddecision": (models.OddDecision, _BY_WAFER),
}
#: From good to bad; a wafer is as good as the worst of its limits.
OUTCOMES: tuple[Outcome, ...] = ("conforms", "cannot_be_decided", "does_not_conform")


def order_lines(
    *, which: OrdersShown = "all", find_text: str = "", start: int = 0, count: int | None = None
) -> tuple[OrderLine, ...]:
    """Orders with the states of their wafers and the worst verdict, the earliest due first, those without a date last.

    Finished ones (every wafer certified or rejected) alone come the latest due first. `find_text` is looked for in
    number and customer.
    """
    with translated():
        found = _orders_shown(which, find_text)
        chosen = list(found[start:] if count is None else found[start : start + count])
        within = None if count is None and which == "all" and not find_text else [row.pk for row in chosen]
        states, worst = _states_of(within), _worst_outcomes(within)
        return tuple(
            OrderLine(
                order_id=row.order_id,
                customer=row.customer,
                material=row.material,
                quantity=row.quantity,
                start_thickness=row.definition["start_thickness"],
                thickness=_thickness_limit(row.definition),
                due=row.due,
                states=tuple(sorted(states.get(row.pk, []))),
                worst=worst.get(row.pk),
                simulated=row.simulated,
                received=row.at,
            )
            for row in chosen
        )


def orders_named(order_ids: Iterable[str]) -> dict[str, Order]:
    """Orders by their numbers."""
    with translated():
        found = models.Order.objects.filter(order_id__in=list(order_ids))
        return {row.order_id: from_plain(row.definition) for row in found}


def orders_with_wafers_in(states: Iterable[WaferState]) -> dict[str, Order]:
    """Orders of which a wafer is in one of some states, by number."""
    with translated():
        keys = models.Wafer.objects.filter(state__in=list(states)).order_by().values_list("order", flat=True)
        found = models.Order.objects.filter(pk__in=list(keys.distinct()))
        return {row.order_id: from_plain(row.definition) for row in found}


def orders_with_wafers(states: Iterable[WaferState]) -> frozenset[str]:
    """The numbers of the orders of which a wafer is in one of some states."""
    with translated():
        found = models.Wafer.objects.filter(state__in=list(states)).order_by()
        return frozenset(found.values_list("order__order_id", flat=True).distinct())


def orders_of_rows(table: str, keys: Collection[int]) -> frozenset[str]:
    """The orders that some rows of a table of `OF_AN_ORDER` belong to."""
    with translated():
        model, path = OF_AN_ORDER[table]
        rows = model._default_manager.filter(pk__in=list(keys)).order_by()  # noqa: SLF001  Django's public name
        return frozenset(rows.exclude(**{path: None}).values_list(path, flat=True).distinct())


def are_of_carriers(keys: Collection[int]) -> bool:
    """Whether one of some sets is of a bare carrier."""
    with translated():
        return models.ReadingSet.objects.filter(pk__in=list(keys), subject="carrier").exists()


def orders_count(which: OrdersShown, find_text: str = "") -> int:
    """How many orders `order_lines` would give."""
    with translated():
        return _orders_shown(which, find_text).count()


def orders_with_route(order_ids: Iterable[str]) -> frozenset[str]:
    """Those of some orders for which a route is chosen."""
    with translated():
        found = models.Route.objects.filter(order__order_id__in=list(order_ids), chosen=True)
        return frozenset(found.values_list("order__order_id", flat=True))


# ----------------------------------------------------------------------------------------------------------------------


def _orders_shown(which: OrdersShown, find_text: str) -> QuerySet[models.Order]:
    found = models.Order.objects.order_by(F("due").asc(nulls_last=True), "order_id")
    if find_text:
        found = found.filter(Q(order_id__icontains=find_text) | Q(customer__icontains=find_text))
    if which == "all":
        return found
    going = Q(pk__in=models.Wafer.objects.filter(state__in=GOING).values("order_id"))
    if which == "going":
        return found.filter(going)
    return found.filter(~going).order_by(F("due").desc(nulls_last=True), "-order_id")


def _thickness_limit(definition: dict[str, Any]) -> Limit | None:
    """The limit on the thickness in an order as it is stored; the rest of it is left as it is, for a list is long."""
    return next((from_plain(one) for one in definition["limits"] if one["quantity"] == "thickness"), None)


def _states_of(order_keys: list[int] | None) -> dict[int, list[tuple[WaferState, int]]]:
    found = models.Wafer.objects.order_by().values_list("order_id", "state").annotate(wafers=Count("pk"))
    states: dict[int, list[tuple[WaferState, int]]] = {}
    for order_key, state, wafers in found if order_keys is None else found.filter(order_id__in=order_keys):
        states.setdefault(order_key, []).append((state, wafers))
    return states


def _worst_outcomes(order_keys: list[int] | None) -> dict[int, Outcome]:
    """Order row -> worst outcome of the latest verdict on each limit of each of its wafers, rejected ones left out."""
    judged = models.Verdict.objects.filter(~Q(wafer__state="rejected")).order_by()
    if order_keys is not None:
        judged = judged.filter(wafer__order_id__in=order_keys)
    worst: dict[int, Outcome] = dict.fromkeys(judged.values_list("wafer__order_id", flat=True).distinct(), OUTCOMES[0])
    # of a wafer that nothing was ever held against every verdict conforms: most need not be read
    doubted = judged.exclude(outcome=OUTCOMES[0]).values("wafer_id")
    last: dict[tuple[int, str], tuple[int, Outcome]] = {}
    columns = ("wafer_id", "quantity", "wafer__order_id", "outcome")
    for wafer_key, quantity, order_key, outcome in (
        judged.filter(wafer_id__in=doubted).order_by("pk").values_list(*columns)
    ):
        last[wafer_key, quantity] = (order_key, outcome)
    for order_key, outcome in last.values():
        worst[order_key] = max(worst[order_key], outcome, key=OUTCOMES.index)
    return worst
