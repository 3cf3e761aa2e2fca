"""Stock of what is used up: how long it lasts, and when to order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.errors import OutOfValidRange
from lapwright.metrology.distributions import normal_quantile


@dataclass(frozen=True, slots=True, kw_only=True)
class StockOutlook:
    """How long a stock lasts: `use` and its deviation a day, days until it runs out, and until it is to be ordered.

    `lasts`, `lasts_low` and `lasts_high` hold nine of ten courses; None where nothing is used. `reorder_point` is the
    stock at which to order; `order_in` the days until it is reached, below zero when that is past.
    """

    use: float
    deviation: float
    lasts: float | None
    lasts_low: float | None
    lasts_high: float | None
    reorder_point: float
    order_in: float | None


def stock_outlook(
    left: float, daily_use: Sequence[float], *, lead_days: float, planned: float = 0.0, service: float = 0.95
) -> StockOutlook:
    r"""How long a stock lasts, and when the next one is to be ordered.

    Parameters
    ----------
    left : float, >= 0
        What is left, in the measure of the use.
    daily_use : float sequence, length n >= 1
        What was used on each day looked back at, idle days as nought.
    lead_days : float, >= 0 [d]
        From the order to the delivery.
    planned : float, >= 0
        What the work in hand will use; taken off before the rest is spread over days.
    service : float, 0.5 <= service < 1 [1]
        Chance that the stock holds until the delivery.

    Returns
    -------
    StockOutlook

    Raises
    ------
    OutOfValidRange
        A negative amount, an empty history, or a service outside its range.

    Notes
    -----
    Use over t days has mean :math:`\mu t` and deviation :math:`s\sqrt t`; the reorder point is
    :math:`\mu L + z s\sqrt L` with :math:`z` the normal quantile of the service. The time that stock S lasts solves
    :math:`\mu t \pm z_{0.95}\, s\sqrt t = S`. Valid for independent days; use that comes in campaigns goes otherwise.

    Source: Silver, Pyke and Thomas, Inventory and Production Management in Supply Chains, 4th ed., chapter 6 (from
    memory).

    Examples
    --------
    >>> found = stock_outlook(20.0, [1.0, 0.0, 1.0, 2.0, 1.0], lead_days=4.0)
    >>> round(found.lasts), round(found.reorder_point, 2), round(found.order_in, 1)
    (20, 6.33, 13.7)
    """
    if not daily_use:
        raise OutOfValidRange("number of days", 0, "at least 1")
    for name, value in (("left", left), ("planned", planned), ("lead_days", lead_days), ("use", min(daily_use))):
        if not 0.0 <= value < math.inf:
            raise OutOfValidRange(name, value, "zero or more")
    if not 0.5 <= service < 1.0:
        raise OutOfValidRange("service", service, "0.5 or more, less than 1")
    days = len(daily_use)
    use = math.fsum(daily_use) / days
    deviation = math.sqrt(math.fsum((one - use) ** 2 for one in daily_use) / max(1, days - 1))
    point = planned + use * lead_days + normal_quantile(service) * deviation * math.sqrt(lead_days)
    if use <= 0.0:
        return StockOutlook(
            use=0.0, deviation=0.0, lasts=None, lasts_low=None, lasts_high=None, reorder_point=point, order_in=None
        )
    free = max(0.0, left - planned)
    spread = normal_quantile(0.95) * deviation
    return StockOutlook(
        use=use,
        deviation=deviation,
        lasts=free / use,
        lasts_low=_lasts(free, use, spread),
        lasts_high=_lasts(free, use, -spread),
        reorder_point=point,
        order_in=(left - point) / use,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _lasts(stock: float, use: float, spread: float) -> float:
    """Days t at which use t + spread sqrt(t) reaches a stock."""
    root = (-spread + math.sqrt(spread * spread + 4.0 * use * stock)) / (2.0 * use)
    return root * root
