"""How often each site of a set is to be read: as often as the limits of the order ask for with that gauge.

A limit asks that the result be known to a quarter of it (of half the tolerance where there are two), expanded: the
ratio of four to one of ANSI/NCSL Z540.3-2006, clause 5.3 (from memory). Where more readings cannot do that, because
what stays is the gauge's own error, the number is the one from which a further reading gains little.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from lapwright.model.order import Limit, Order, Quantity
from lapwright.model.readings import Gauge

SHARE = 0.25
MOST_PROPOSED = 5  # beyond, another gauge is the better answer (common practice, no source)
GAINS_LITTLE = 0.1  # of the expanded uncertainty, by a further reading
UNKNOWN = 2  # readings from which the scatter of a gauge shows, where it is not on record


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingPlan:
    """Readings at each site, and the limit that asks for them: its share, and how well it is known so and by one [m].

    Without a `quantity` nothing is limited, or the repeatability of the gauge is not on record.
    """

    gauge_id: str
    repeats: int
    is_repeatability_known: bool = True
    quantity: Quantity | None = None
    wanted: float = math.nan
    known_to: float = math.nan
    known_by_one: float = math.nan

    @property
    def is_enough(self) -> bool:
        """Whether that many readings bring what the limit asks for."""
        return self.known_to <= self.wanted * (1.0 + 1e-9)


def reading_plan(order: Order, gauge: Gauge, *, sites: int) -> ReadingPlan:
    """The readings at each of some sites that the limits of an order ask for with a gauge."""
    if gauge.repeatability is None:
        return ReadingPlan(gauge_id=gauge.gauge_id, repeats=UNKNOWN, is_repeatability_known=False)
    plans = [_plan(gauge, limit, sites) for limit in order.limits if limit.quantity in ("thickness", "ttv")]
    asked = [one for one in plans if not math.isnan(one.wanted)]
    return max(asked, key=lambda one: one.repeats, default=ReadingPlan(gauge_id=gauge.gauge_id, repeats=1))


# ----------------------------------------------------------------------------------------------------------------------


def _plan(gauge: Gauge, limit: Limit, sites: int) -> ReadingPlan:
    wanted = SHARE * _half_width(limit)
    known = _known(gauge, limit.quantity, sites)
    by_number = {number: known(number) for number in range(1, MOST_PROPOSED + 2)}
    enough = [number for number in range(1, MOST_PROPOSED + 1) if by_number[number] <= wanted * (1.0 + 1e-9)]
    little = [n for n in range(1, MOST_PROPOSED + 1) if by_number[n + 1] > (1.0 - GAINS_LITTLE) * by_number[n]]
    repeats = (enough or little or [MOST_PROPOSED])[0]
    return ReadingPlan(
        gauge_id=gauge.gauge_id,
        repeats=repeats,
        quantity=limit.quantity,
        wanted=wanted,
        known_to=by_number[repeats],
        known_by_one=by_number[1],
    )


def _half_width(limit: Limit) -> float:
    if limit.quantity != "thickness":
        return math.nan if limit.upper is None else limit.upper
    if limit.lower is None or limit.upper is None:
        return math.nan
    return 0.5 * (limit.upper - limit.lower)


def _known(gauge: Gauge, quantity: Quantity, sites: int) -> Callable[[int], float]:
    """Expanded uncertainty by the number of readings at each site."""
    from lapwright.metrology import ready_budgets
    from lapwright.metrology.uncertainty import combined_uncertainty

    def known(repeats: int) -> float:
        if quantity == "thickness":
            budget = ready_budgets.thickness_budget(gauge, repeats=repeats * sites)
        else:
            budget = ready_budgets.ttv_budget(gauge, repeats=repeats)
        return float(combined_uncertainty(budget, value=0.0).expanded_uncertainty)

    return known
