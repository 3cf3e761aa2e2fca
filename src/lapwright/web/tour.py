"""The tour: pages of the demonstration in the order of the job, each with what to look at.

A stop is the page itself with its number in the address (`?tour=3`); the strip over it says what to look at and leads
on. The browser remembers the last stop, so that whoever went elsewhere takes it up there again; over a demonstration
that nobody was shown round yet the tour offers itself on the first page, once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from lapwright.app import orders, wiring
from lapwright.errors import NotFound
from lapwright.model.story import OrdersShown, OrderStory, WaferStory

#: Cookie of this browser: the last stop seen, or that the tour was ended.
COOKIE = "lapwright_tour"
ENDED = "ended"
_REMEMBERED_S = 180 * 24 * 3600
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
    Stop(look=_("Routes by chance, time and cost. Move a slider and everything follows; the reasons stand below."),
         place=_order("route")),
    Stop(look=_("Readings site by site. Type value, Enter; an unlikely one is questioned while the wafer is there."),
         place=_order("readings")),
    Stop(look=_("Adhesive and wafer as maps: bond again, or go on, with the price of each."),
         place=_wafer("bond_line")),
    Stop(look=_("Before a lap: which screw of the jig, how far, which way. This wafer is done; below stands how its"
                " wedge went from set to set."),
         place=_wafer("tilt")),
    Stop(look=_("The stations. While one runs, its page counts down what is left, to be read from across the room."),
         place=_alone("stations")),
    Stop(look=_("How deep the damage still is, and how many minutes of polish take it out."), place=_wafer("damage")),
    Stop(look=_("The finished wafer's set, with what its ± is made of. Press “why?” beside a number."),
         place=_last_set),
    Stop(look=_("One wafer from box to certificate: who, when, which gauge, what was decided."), place=_wafer("wafer")),
    Stop(look=_("May it go? Each limit with its interval, and what would settle a doubtful one."),
         place=_order("verdict")),
    Stop(look=_("How do you know? Any certified number down to its readings, and computed again."),
         place=_order("answers")),
    Stop(look=_("Is the plate still true? Its form from the side, and where the ring goes next, for how long."),
         place=_alone("plates")),
    Stop(look=_("What is changing: rates, zeros, check standards. A letter marks what happened before a jump."),
         place=_alone("drift")),
    Stop(look=_("What is left, how long it lasts, and when to order; what may be used stands in words."),
         place=_alone("shelf")),
    Stop(look=_("Who works on what, when; what is late, and why. Drag a load and see what would change."),
         place=_alone("board")),
    Stop(look=_("Now you: a run to stop by hand and a bond to judge, on invented wafers that nobody misses."),
         place=_alone("practice")),
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


def stop_of(request: HttpRequest) -> int | None:
    """The stop that a page is shown as; None where it is no stop."""
    asked = request.GET.get("tour", "")
    known = asked.isascii() and asked.isdigit() and len(asked) < 3 and 1 <= int(asked) <= len(STOPS)
    return int(asked) if known else None


def strip(request: HttpRequest) -> dict[str, object] | None:
    """What stands over a page that is a stop of the tour; None over any other."""
    number = stop_of(request)
    if number is None:
        return None
    return {
        "number": number,
        "of": len(STOPS),
        "look": STOPS[number - 1].look,
        "before": reverse("tour", args=[number - 1]) if number > 1 else "",
        "next": reverse("tour", args=[number + 1]) if number < len(STOPS) else "",
        "leave": f"{reverse('tour_end')}?{urlencode({'from': request.path})}",
    }


def offer(request: HttpRequest) -> dict[str, object] | None:
    """What the first page offers: the tour where nobody was shown round, or to go on with it; None elsewhere."""
    seen = request.COOKIES.get(COOKIE, "")
    if seen == ENDED or strip(request) is not None or not wiring.is_invented() or first_address() is None:
        return None
    return {**standing(request), "end": f"{reverse('tour_end')}?{urlencode({'from': request.path})}"}


def standing(request: HttpRequest) -> dict[str, object]:
    """How many stops there are, and the one at which this browser left the tour; 0 where it is not under way."""
    seen = request.COOKIES.get(COOKIE, "")
    number = int(seen) if seen.isascii() and seen.isdigit() and len(seen) < 3 else 0
    number = number if 1 <= number <= len(STOPS) else 0
    return {"of": len(STOPS), "at": number, "address": reverse("tour", args=[number or 1])}


def remember(answer: HttpResponse, number: int | None) -> None:
    """Keep in the browser which stop was seen last; that the tour has ended for None, and at its last stop."""
    seen = ENDED if number in (None, len(STOPS)) else str(number)
    answer.set_cookie(COOKIE, seen, max_age=_REMEMBERED_S, httponly=True, samesite="Lax")


# ----------------------------------------------------------------------------------------------------------------------


def _shown_order() -> OrderStory | None:
    """A simulated order that is finished, else one that goes on."""
    listed = (line for which in _KINDS for line in orders.list_orders(which, count=_LOOKED_AT) if line.simulated)
    line = next(listed, None)
    return None if line is None else orders.show_order(line.order_id)
