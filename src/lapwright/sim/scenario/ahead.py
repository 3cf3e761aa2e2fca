"""What lies ahead when the demonstration ends: two orders in the queue, places and hours on the Board, a schedule.

One order is promised for a day by which it cannot be done; what the Board says of it comes from the program alone.
"""

from __future__ import annotations

from lapwright.app import orders, queue, queue_settings, routes
from lapwright.errors import CannotAnswer
from lapwright.model.board import BoardPlace, ShopHours, WeekShift
from lapwright.model.request import SetRequest
from lapwright.process.queue_solver import solver_library
from lapwright.sim import cast, shop
from lapwright.sim.scenario.day import Day
from lapwright.sim.scenario.measuring import measure
from lapwright.sim.scenario.visit import Visit

WHO = cast.ENGINEER.name
HOUR = 3600.0
WORK = 0.15  # so that the demonstration is the same on every machine, and quick
PLACES = (
    BoardPlace(place_id="B1", name="bonder, two wafers", kind="bond", positions=2),
    BoardPlace(place_id="G1", name="drop gauge", kind="measure"),
    BoardPlace(place_id="C1", name="cleaning bench", kind="clean", positions=2),
)
HOURS = ShopHours(week=tuple(WeekShift(weekday=day, start=8 * HOUR, end=17 * HOUR, people=2) for day in range(5)))


def fill_the_board(day: Day) -> None:
    """Routes for the orders that wait, the shop's places and hours, and the schedule accepted from them."""
    day.tell("week ahead planned")
    urgent = day.calendar.order(cast.URGENT_ORDER)
    orders.receive_order(urgent, simulated=True, by=WHO, reason="customer's order", at=day.wait(minutes=5.0))
    _measure_first(day)
    for order in (cast.SECOND_ORDER, cast.URGENT_ORDER):
        proposed = routes.propose_routes(order.order_id)
        routes.choose_route(order.order_id, proposed[0], by=WHO, reason="best found", at=day.wait(minutes=5.0))
    for place in PLACES:
        queue_settings.put_place(place, by=WHO, reason="in use", at=day.wait(minutes=1.0))
    queue_settings.put_hours(HOURS, by=WHO, reason="agreed", at=day.wait(minutes=1.0))
    question = queue.BoardQuestion()
    now = day.wait(minutes=5.0)
    if _solver_installed():
        queue.accept(question, queue.moment(now), seen=None, by=WHO, reason="week ahead", now=now, work=WORK)


# ----------------------------------------------------------------------------------------------------------------------


def _solver_installed() -> bool:
    """The solver is an extra: without it the demonstration runs all the same, with a Board that holds no schedule."""
    try:
        solver_library()
    except CannotAnswer:
        return False
    return True


def _measure_first(day: Day) -> None:
    """The first wafer of the urgent order read as it came, so that a carrier can be found for it."""
    first = f"{cast.URGENT_ORDER.order_id}-01"
    day.shop = shop.with_wafers(day.shop, (first,), cast.WAFER_KIND)
    request = SetRequest(piece=first, subject="wafer", moment="incoming", gauge_id="G1", repeats=3)
    measure(day, Visit(request=request, truth=day.shop.wafers[first].thickness, sites=cast.WAFER_SITES, minutes=12.0))
