"""Chance that a route ends inside an order's limits, by drawing many imagined jobs.

Each part of a cut aims at what is still to take after it, as measured directly before; the last part decides. The
gauge's limit is one error common to all measurements of a job: it does not average out. Left out: breakage, bow after
release, damage (shown beside the chance).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.model.order import Order, Quantity
from lapwright.model.readings import Gauge
from lapwright.process.workplaces import Assumptions

_FORM_SPREAD = 0.3  # deviation of the logarithm of the finished form (own judgement)
_NO_LOCAL = 0.3e-6  # m; site error taken when a gauge names none


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of a cut: what it should take, what is left after it [m], and how well it is stopped.

    `absolute` [m] is the deviation of the stop; `relative` [1] the log deviation of the rate a timed part relies on
    (zero where a gauge stops it).
    """

    removal: float
    left_after: float
    absolute: float
    relative: float


def final_thickness_errors(
    parts: Sequence[Part],
    gauge: Gauge,
    *,
    generator: np.random.Generator,
    draws: int,
) -> NDArray[np.float64]:
    """Thickness at the centre less the target, at the end of many imagined jobs.

    Parameters
    ----------
    parts : sequence of Part
        In the order worked; after each the thickness is measured directly.
    gauge : Gauge
        Its `limit` is common to all measurements of a job, its `local` differs from one to the next.
    generator : numpy Generator
        Seeded by the caller.
    draws : int
        How many jobs.

    Returns
    -------
    float array, shape (draws,) [m]
        Negative where too much was taken.

    Notes
    -----
    A part takes what was measured to be over, less what it should leave; it cannot put anything back.

    Examples
    --------
    >>> part = Part(removal=5e-6, left_after=0.0, absolute=0.0, relative=0.0)
    >>> perfect = Gauge(gauge_id="G", name="g", limit=0.0, local=0.0)
    >>> final_thickness_errors([part], perfect, generator=np.random.default_rng(1), draws=2)
    array([0., 0.])
    """
    local = _NO_LOCAL if gauge.local is None else gauge.local
    over = np.full(draws, math.fsum(part.removal for part in parts))  # what the truth lies above the target
    bias = generator.uniform(-gauge.limit, gauge.limit, draws)
    for part in parts:
        read = over + bias + local / math.sqrt(3.0) * generator.standard_normal(draws)
        asked = np.maximum(read - part.left_after, 0.0)
        taken = asked * np.exp(part.relative * generator.standard_normal(draws))
        taken += part.absolute * generator.standard_normal(draws) * (asked > 0.0)
        over -= np.maximum(taken, 0.0)
    return over


def chance_in_tolerance(
    order: Order,
    parts: Sequence[Part],
    gauge: Gauge,
    assumptions: Assumptions,
    *,
    generator: np.random.Generator,
    draws: int,
) -> float:
    """Share of imagined jobs that end inside the limits on thickness, TTV, wedge and flatness together.

    Parameters
    ----------
    order : Order
        Limits; one on bow or warp is not judged here.
    parts : sequence of Part
        In the order worked.
    gauge : Gauge
        What thickness is measured with.
    assumptions : Assumptions
        Form and wedge that the finished face keeps.
    generator : numpy Generator
        Seeded by the caller.
    draws : int
        How many jobs.

    Returns
    -------
    float [1]
        From 0 to 1, its own deviation sqrt(p (1 - p) / draws).
    """
    thickness = order.target_thickness + final_thickness_errors(parts, gauge, generator=generator, draws=draws)
    wedge = assumptions.wedge_deviation * np.hypot(generator.standard_normal(draws), generator.standard_normal(draws))
    form = assumptions.final_form * np.exp(_FORM_SPREAD * generator.standard_normal(draws))
    drawn: dict[Quantity, NDArray[np.float64]] = {
        "thickness": thickness,
        "ttv": wedge + form,
        "wedge": wedge,
        "flatness": form,
    }
    good = np.ones(draws, dtype=bool)
    for limit in order.limits:
        values = drawn.get(limit.quantity)
        if values is None:
            continue
        if limit.lower is not None:
            good &= values >= limit.lower
        if limit.upper is not None:
            good &= values <= limit.upper
    return float(np.mean(good))
