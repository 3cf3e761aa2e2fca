"""Chance that a route ends inside an order's limits, by drawing many imagined jobs.

Each part of a cut aims at what is still to take after it, as measured directly before; the last part decides. The
gauge's limit is one error common to all measurements of a job: it does not average out. Damage counts where a later
stage took less than it reached; roughness, bow and breakage where they are known. Left out: faults of a person.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.model.order import Order, Quantity
from lapwright.model.readings import Gauge
from lapwright.process.ledger import Depth
from lapwright.process.workplaces import Assumptions

_NO_LOCAL = 0.3e-6  # m; site error taken when a gauge names none
NO_DAMAGE = Depth(median=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of a cut: what it should take, what is left after it [m], and how well it is stopped.

    `absolute` [m] is the deviation of the stop and `doubt` [1] the log deviation of what that deviation may truly be;
    `relative` [1] the log deviation of the rate a timed part relies on (zero where a gauge stops it). The last part of
    a cut has the `depth` of damage that the cut leaves and the `form` [m] that hides it from the next one. `rate`
    [m/s], `rate_deviation` [1] and `around` [s], the time beside the machine, make the time.
    """

    removal: float
    left_after: float
    absolute: float
    relative: float
    doubt: float = 0.0
    depth: Depth | None = None
    form: float = 0.0
    rate: float = 0.0
    rate_deviation: float = 0.0
    around: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """What the finished piece will be beside its thickness.

    `form` [m] without wedge and `wedge_deviation` [m] of each component of the wedge, known to `wedge_doubt` [1, log
    deviation]; `roughness` lognormal (median
    and log deviation), `bow` likewise, `breakage` [1] the chance that it breaks; None where nothing is known.
    """

    form: float
    form_spread: float
    wedge_deviation: float
    wedge_doubt: float = 0.0
    roughness: Depth | None = None
    bow: Depth | None = None
    breakage: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Imagined jobs judged: chance of all limits together and of each [1], and the 90 % interval of the time [s]."""

    together: float
    each: Mapping[str, float]
    time_low: float
    time_high: float


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
    return _heights(parts, gauge, generator, draws)[-1]


def imagined_jobs(
    order: Order,
    parts: Sequence[Part],
    gauge: Gauge,
    finish: Finish,
    *,
    start: Depth = NO_DAMAGE,
    generator: np.random.Generator,
    draws: int,
) -> Outcome:
    """Share of imagined jobs that keep all limits, and each of them.

    Parameters
    ----------
    order : Order
        Limits; one on bow, warp or roughness is judged where the finish knows it.
    parts : sequence of Part
        In the order worked.
    gauge : Gauge
        What thickness is measured with.
    finish : Finish
        What the finished piece will be beside its thickness.
    start : Depth
        Damage of the face before the first part.
    generator : numpy Generator
        Seeded by the caller.
    draws : int
        How many jobs.

    Returns
    -------
    Outcome
        Each chance has a deviation of its own, sqrt(p (1 - p) / draws).

    Notes
    -----
    Damage of a cut remains where its depth and the form over it are more than what was taken afterwards and more than
    what the last cut leaves itself.
    """
    heights = _heights(parts, gauge, generator, draws)
    kept = {"damage": ~_damaged(parts, heights, start, finish, generator)}
    drawn = _drawn(order, heights[-1], finish, generator)
    for limit in order.limits:
        values = drawn.get(limit.quantity)
        if values is None:
            continue
        good = np.ones(draws, dtype=bool)
        if limit.lower is not None:
            good &= values >= limit.lower
        if limit.upper is not None:
            good &= values <= limit.upper
        kept[limit.quantity] = good
    if finish.breakage is not None:
        kept["breakage"] = generator.random(draws) >= finish.breakage
    times = _times(parts, heights, generator)
    together = np.logical_and.reduce(list(kept.values()))
    low, high = (float(time) for time in np.quantile(times, (0.05, 0.95)))
    return Outcome(
        together=float(np.mean(together)),
        each={name: float(np.mean(good)) for name, good in kept.items()},
        time_low=low,
        time_high=high,
    )


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
        Limits; one on bow, warp or roughness is not judged here.
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
    finish = Finish(
        form=assumptions.final_form,
        form_spread=assumptions.form_spread,
        wedge_deviation=assumptions.wedge_deviation,
        wedge_doubt=assumptions.wedge_doubt,
    )
    return imagined_jobs(order, parts, gauge, finish, generator=generator, draws=draws).together


# ----------------------------------------------------------------------------------------------------------------------


def _heights(
    parts: Sequence[Part], gauge: Gauge, generator: np.random.Generator, draws: int
) -> list[NDArray[np.float64]]:
    """What the truth lies above the target before the first part and after each [m]."""
    local = _NO_LOCAL if gauge.local is None else gauge.local
    over = np.full(draws, math.fsum(part.removal for part in parts))
    heights = [over]
    bias = generator.uniform(-gauge.limit, gauge.limit, draws)
    for part in parts:
        read = over + bias + local / math.sqrt(3.0) * generator.standard_normal(draws)
        asked = np.maximum(read - part.left_after, 0.0)
        taken = asked * np.exp(part.relative * generator.standard_normal(draws))
        taken += part.absolute * _scales(part.doubt, generator, draws) * generator.standard_normal(draws) * (asked > 0)
        over = over - np.maximum(taken, 0.0)
        heights.append(over)
    return heights


def _damaged(
    parts: Sequence[Part],
    heights: Sequence[NDArray[np.float64]],
    start: Depth,
    finish: Finish,
    generator: np.random.Generator,
) -> NDArray[np.bool_]:
    """Jobs in which damage of an earlier cut reaches deeper than what the last one leaves."""
    draws = heights[-1].size
    own = _lognormal(parts[-1].depth or NO_DAMAGE, generator, draws)
    remains = np.zeros(draws, dtype=bool)
    layers = [(start, 0.0, heights[0])]
    for part, height in zip(parts[:-1], heights[1:-1], strict=True):
        if part.depth is not None:
            layers.append((part.depth, part.form, height))
    for depth, form, height in layers:
        if depth.median == 0.0:
            continue
        hidden = form * np.exp(finish.form_spread * generator.standard_normal(draws))
        remains |= _lognormal(depth, generator, draws) + hidden - (height - heights[-1]) > own
    return remains


def _drawn(
    order: Order, error: NDArray[np.float64], finish: Finish, generator: np.random.Generator
) -> dict[Quantity, NDArray[np.float64]]:
    draws = error.size
    wedge = finish.wedge_deviation * np.hypot(generator.standard_normal(draws), generator.standard_normal(draws))
    wedge *= _scales(finish.wedge_doubt, generator, draws)
    form = finish.form * np.exp(finish.form_spread * generator.standard_normal(draws))
    drawn: dict[Quantity, NDArray[np.float64]] = {
        "thickness": order.target_thickness + error,
        "ttv": wedge + form,
        "wedge": wedge,
        "flatness": form,
    }
    if finish.roughness is not None:
        drawn["roughness_ra"] = _lognormal(finish.roughness, generator, draws)
    if finish.bow is not None:
        drawn["bow"] = drawn["warp"] = _lognormal(finish.bow, generator, draws)
    return drawn


def _scales(doubt: float, generator: np.random.Generator, draws: int) -> NDArray[np.float64] | float:
    """Factors on a deviation that is known to a log deviation only; a mixture of normal laws, much like Student's."""
    if doubt == 0.0:
        return 1.0
    scales: NDArray[np.float64] = np.exp(doubt * generator.standard_normal(draws))
    return scales


def _lognormal(depth: Depth, generator: np.random.Generator, draws: int) -> NDArray[np.float64]:
    if depth.median == 0.0:
        return np.zeros(draws)
    drawn: NDArray[np.float64] = depth.median * np.exp(depth.log_deviation * generator.standard_normal(draws))
    return drawn


def _times(
    parts: Sequence[Part], heights: Sequence[NDArray[np.float64]], generator: np.random.Generator
) -> NDArray[np.float64]:
    """Time of each job; the luck of a rate is common to the parts of a cut."""
    draws = heights[-1].size
    total = np.full(draws, math.fsum(part.around for part in parts))
    luck = generator.standard_normal(draws)
    for part, before, after in zip(parts, heights[:-1], heights[1:], strict=True):
        if part.rate > 0.0:
            total += (before - after) / part.rate * np.exp(-part.rate_deviation * luck)
        if part.depth is not None:
            luck = generator.standard_normal(draws)
    return total
