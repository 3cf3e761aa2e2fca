"""Working out a schedule: lateness first, then changeovers, then the end of all work, each with its bound.

The solver starts from the best schedule by a plain rule, so there is always an answer; what it finds is tidied and
checked by a module that shares nothing with the model. It stops at a deterministic amount of work, so the same shop
gives the same schedule; a wall limit, if the caller sets one, may cut it shorter and is then told.
"""

from __future__ import annotations

from collections.abc import Sequence

from lapwright.errors import BadInput
from lapwright.model.queue import Booking, Shop
from lapwright.process.queue_loads import rounded_shop
from lapwright.process.queue_measures import AIMS, Aim, Effort, Scheduled
from lapwright.process.queue_placing import kept_order
from lapwright.process.queue_search import Search
from lapwright.process.queue_setup import shop_faults
from lapwright.process.queue_solver import solver_library


def schedule(
    shop: Shop,
    *,
    effort: Effort = Effort(),  # noqa: B008  a frozen value
    tick: float = 60.0,
    aims: Sequence[Aim] = AIMS,
    previous: Sequence[Booking] = (),
) -> Scheduled:
    """A schedule of a shop, best in its first aim, then in the next among those as good in the first, and so on.

    Parameters
    ----------
    shop : Shop
        Places, people, jobs, tasks, what is fixed.
    effort : Effort
        How long is searched.
    tick : float [s]
        Grain of time; durations are rounded up to it, hours inwards.
    aims : sequence of str
        Of ``lateness`` (hours times priority), ``moves`` (away from `previous`), ``changeovers``, ``makespan``.
    previous : sequence of Booking
        The schedule in force; as little of it as possible is moved.

    Returns
    -------
    Scheduled
        Checked; tasks that run are where they are.

    Raises
    ------
    BadInput
        The shop cannot be scheduled as given, every fault at once.
    CannotAnswer
        The hours end before the work does, or the solver is not installed.
    """
    faults = shop_faults(shop)
    if faults:
        raise BadInput(faults, subject="The shop")
    solver_library()
    if not shop.tasks:
        return Scheduled(bookings=(), reached=())
    return Search(shop, tick, effort, aims, previous).run()


def keeps(shop: Shop, bookings: Sequence[Booking], *, tick: float = 60.0) -> tuple[Booking, ...]:
    """A schedule in force, moved along to what is true now: the same order on the same places, new tasks at the end.

    Parameters
    ----------
    shop : Shop
        The shop as it is now.
    bookings : sequence of Booking
        The schedule in force, of which tasks may be done or running by now.
    tick : float [s]
        Grain of time.

    Returns
    -------
    tuple of Booking
        By start.

    Raises
    ------
    CannotAnswer
        The order cannot be kept, or the hours end before the work does.
    """
    return kept_order(rounded_shop(shop, tick), bookings)
