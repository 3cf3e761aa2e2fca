"""The tour: a dozen pages of the demonstration in the order of the job, each with what to look at.

A stop is the page itself with its number in the address (`?tour=3`); the strip over it says what to look at and leads
on. Nothing is remembered, so leaving is going elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from lapwright.app import orders
from lapwright.errors import NotFound
from lapwright.model.story import OrdersShown, OrderStory, WaferStory

_FINISHED = ("certified", "judged", "read_free")
_KINDS: tuple[OrdersShown, ...] = ("finished", "going")
_LOOKED_AT = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One page of the tour: what to look at, and its address in the order and wafer shown."""

    look: Promise
    place: Callable[[OrderStory, WaferStory], str]


def _order(name: str) -> Callable[[OrderStory, WaferStory], str]:
    return lambda order, _wafer: reverse(name, args=[order.order.order.order_id])


def _wafer(name: str) -> Callable[[OrderStory, WaferStory], str]:
    return lambda order, wafer: reverse(name, args=[order.order.order.order_id, wafer.wafer.wafer.wafer_id])


def _alone(name: str) -> Callable[[OrderStory, WaferStory], str]:
    return lambda _order, _wafer: reverse(name)


def _last_set(order: OrderStory, wafer: WaferStory) -> str:
    order_id = order.order.order.order_id
    return (
        reverse("set", args=[order_id, wafer.sets[-1].set_id]) if wafer.sets else reverse("readings", args=[order_id])
    )


STOPS = (
    Stop(look=_("What waits for a hand, the longest first; the number is the one to dial in. Press a line to do it."),
         place=_alone("hands")),
    Stop(look=_("What is promised, by due date, with the verdict so far. A late order says so in words."),
         place=_alone("orders")),
    Stop(look=_("One order: its stack to scale through the stages, and every wafer with what comes next."),
         place=_order("traveller")),
    Stop(look=_("Stages by chance, time and cost. Move a slider and everything follows; the reasons stand below."),
         place=_order("route")),
    Stop(look=_("Readings site by site. Type value, Enter; an unlikely one is questioned while the wafer is there."),
         place=_order("readings")),
    Stop(look=_("Adhesive and wafer as maps: bond again, or go on, with the price of each."),
         place=_wafer("bond_line")),
    Stop(look=_("Which screw of the jig, how far, which way; then whether it did what was said."),
         place=_wafer("tilt")),
    Stop(look=_("How deep the damage still is, and how many minutes of polish take it out."), place=_wafer("damage")),
    Stop(look=_("The finished wafer's set, with what its ± is made of. Press “why?” beside a number."),
         place=_last_set),
    Stop(look=_("One wafer from box to certificate: who, when, which gauge, what was decided."), place=_wafer("wafer")),
    Stop(look=_("May it go? Each limit with its interval, and what would settle a doubtful one."),
         place=_order("verdict")),
    Stop(look=_("How do you know? Any certified number down to its readings, and computed again."),
         place=_order("answers")),
    Stop(look=_("What is changing: rates, zeros, check standards. A letter marks what happened before a jump."),
         place=_alone("drift")),
)  # fmt: skip


def address(number: int) -> str:
    """Address of a stop. Raises `NotFound` for a number that is none, or without a simulated order to show it on."""
    if not 1 <= number <= len(STOPS):
        raise NotFound(f"The tour has {len(STOPS)} stops; {number} is none of them.")
    order = _shown_order()
    if order is None:
        raise NotFound("The tour needs the demonstration: start 'lapwright demo', then serve its data folder.")
    wafer = next((one for one in order.wafers if one.wafer.state in _FINISHED), order.wafers[0])
    return f"{STOPS[number - 1].place(order, wafer)}?tour={number}"


def first_address() -> str | None:
    """Address that begins the tour; None without a simulated order."""
    return None if _shown_order() is None else reverse("tour", args=[1])


def strip(request: HttpRequest) -> dict[str, object] | None:
    """What stands over a page that is a stop of the tour; None over any other."""
    asked = request.GET.get("tour", "")
    if not asked.isascii() or not asked.isdigit() or not 1 <= int(asked) <= len(STOPS):
        return None
    number = int(asked)
    return {
        "number": number,
        "of": len(STOPS),
        "look": STOPS[number - 1].look,
        "before": reverse("tour", args=[number - 1]) if number > 1 else "",
        "next": reverse("tour", args=[number + 1]) if number < len(STOPS) else "",
        "leave": request.path,
    }


# ----------------------------------------------------------------------------------------------------------------------


def _shown_order() -> OrderStory | None:
    """A simulated order that is finished, else one that goes on."""
    listed = (line for which in _KINDS for line in orders.list_orders(which, count=_LOOKED_AT) if line.simulated)
    line = next(listed, None)
    return None if line is None else orders.show_order(line.order_id)
