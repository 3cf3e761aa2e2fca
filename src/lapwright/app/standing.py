"""Use case: may a wafer go? How each of its limits stands, and the cheapest way to be sure of a doubtful one.

Nothing is judged anew here: the verdicts are those on record. A limit is called proved only when the whole interval of
the value lies inside it; what the agreed rule accepts all the same is called that.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from lapwright.errors import LapwrightError
from lapwright.model.job import RecordedSet, RecordedVerdict, RecordedWafer
from lapwright.model.odd_ones import OddWafer
from lapwright.model.order import Limit, Order, Quantity
from lapwright.model.readings import Gauge

if TYPE_CHECKING:
    from lapwright.metrology.thickness import ThicknessResult
    from lapwright.metrology.uncertainty import Budget, CombinedUncertainty

Standing = Literal["proved", "by_rule", "doubtful", "fails", "not_judged"]
#: Worst last: what stands worst answers for the wafer.
_WORST: tuple[Standing, ...] = ("proved", "by_rule", "not_judged", "doubtful", "fails")
_TRUSTED = ("in_date", "due_soon")
_MOST_ELSEWHERE = 10  # repeats at each site that are looked at for another gauge


@dataclass(frozen=True, slots=True, kw_only=True)
class WayToBeSure:
    """A new set that would decide if the value stays: gauge, repeats at each site, readings, what it would cost.

    `time` [s] goes by the pace of the last set, None when that cannot be told. `expanded_uncertainty` [SI] is what the
    new value would have, `chance_accepted` how likely it is accepted then.
    """

    gauge_id: str
    repeats: int
    readings: int
    time: float | None
    expanded_uncertainty: float
    chance_accepted: float
    is_other_gauge: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitStanding:
    """How one limit stands: its verdict, the range that the rule accepts, and what would make sure. SI.

    `ways` are there for a doubtful limit, the cheapest first. `needed` is the expanded uncertainty at which it would be
    decided; `stays` names the line of the budget that no repeats bring down. `repeats` were read at each site.
    """

    limit: Limit
    recorded: RecordedVerdict | None
    standing: Standing
    accepted: tuple[float | None, float | None] | None = None
    ways: tuple[WayToBeSure, ...] = ()
    needed: float | None = None
    stays: str = ""
    repeats: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WaferStanding:
    """How a wafer stands: each limit, the worst of them, and whether it was read again since it was judged."""

    wafer: RecordedWafer
    limits: tuple[LimitStanding, ...]
    is_behind: bool

    @property
    def wafer_id(self) -> str:
        """The wafer."""
        return self.wafer.wafer.wafer_id

    @property
    def standing(self) -> Standing:
        """The worst of its limits; never better than any of them."""
        return max((one.standing for one in self.limits), key=_WORST.index, default="not_judged")


def order_standing(order_id: str, order: Order, *, on: date) -> tuple[WaferStanding, ...]:
    """How each wafer of an order stands that has been read free, judged or let go."""
    from lapwright.records import odd_queries

    finals = odd_queries.latest_finals(order_id)
    return tuple(
        wafer_standing(one, order, latest_final=finals.get(one.wafer.wafer.wafer_id), on=on)
        for one in odd_queries.wafers_of(order_id)
        if one.verdicts or one.wafer.state == "read_free"
    )


def wafer_standing(judged: OddWafer, order: Order, *, latest_final: int | None, on: date) -> WaferStanding:
    """How one wafer stands against each limit of its order; `latest_final` is its last closed final set."""
    latest = {one.verdict.limit.quantity: one for one in judged.verdicts}
    limits = tuple(_stands(limit, latest.get(limit.quantity), on) for limit in order.limits)
    sets = [one.set_id for one in latest.values() if one.set_id is not None]
    is_behind = bool(sets) and latest_final is not None and latest_final > max(sets)
    return WaferStanding(wafer=judged.wafer, limits=limits, is_behind=is_behind)


def is_crossed(limit: Limit, value: float, expanded_uncertainty: float) -> bool:
    """Whether an interval reaches beyond a limit, or its middle does."""
    below = limit.lower is not None and value - expanded_uncertainty < limit.lower
    return below or (limit.upper is not None and value + expanded_uncertainty > limit.upper)


# ----------------------------------------------------------------------------------------------------------------------


def _stands(limit: Limit, recorded: RecordedVerdict | None, on: date) -> LimitStanding:
    from lapwright.process.decisions import acceptance_range

    if recorded is None:
        return LimitStanding(limit=limit, recorded=None, standing="not_judged")
    verdict = recorded.verdict
    if verdict.expanded_uncertainty is None or verdict.coverage_factor is None:
        standing: Standing = "fails" if verdict.outcome == "does_not_conform" else "doubtful"
        return LimitStanding(limit=verdict.limit, recorded=recorded, standing=standing)
    accepted = acceptance_range(
        verdict.limit,
        verdict.expanded_uncertainty / verdict.coverage_factor,
        rule=verdict.rule,
        degrees_of_freedom=freedom_of(verdict.coverage_factor),
    )
    found = LimitStanding(limit=verdict.limit, recorded=recorded, standing=_word(recorded), accepted=accepted)
    return found if found.standing != "doubtful" else _with_ways(found, on)


@lru_cache(maxsize=4096)
def freedom_of(coverage_factor: float) -> float:
    """The degrees of freedom that a coverage factor for 95 % stands for; the verdict keeps the factor alone."""
    from lapwright.metrology.distributions import student_t_quantile

    low, high = 0.0, math.log(1e6)  # of their logarithm
    if coverage_factor <= student_t_quantile(0.975, math.exp(high)):
        return math.inf
    for _ in range(20):  # to one part in 100 000
        middle = 0.5 * (low + high)
        if student_t_quantile(0.975, math.exp(middle)) > coverage_factor:
            low = middle
        else:
            high = middle
    return math.exp(0.5 * (low + high))


def _word(recorded: RecordedVerdict) -> Standing:
    verdict = recorded.verdict
    assert verdict.expanded_uncertainty is not None
    if verdict.outcome == "conforms":
        return "by_rule" if is_crossed(verdict.limit, verdict.value, verdict.expanded_uncertainty) else "proved"
    return "fails" if verdict.outcome == "does_not_conform" else "doubtful"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """What a set says of the uncertainty of one quantity."""

    result: ThicknessResult
    budget: Budget
    combined: CombinedUncertainty

    @property
    def repeats(self) -> float:
        """Repeats at each site, as they count in a mean."""
        return len(self.result.repeats) / math.fsum(1.0 / one for one in self.result.repeats)


def _known(quantity: Quantity, taken: RecordedSet) -> _Known | None:
    from lapwright.app import set_values

    try:
        result = set_values.result_of(taken)
    except LapwrightError:
        return None
    budget, combined = {
        "thickness": (result.mean_budget, result.mean_uncertainty),
        "ttv": (result.ttv_budget, result.ttv_uncertainty),
        "wedge": (result.wedge_budget, result.wedge_uncertainty),
    }.get(quantity, (None, None))
    if budget is None or combined is None:
        return None
    return _Known(result=result, budget=budget, combined=combined)


def _with_ways(found: LimitStanding, on: date) -> LimitStanding:
    from lapwright.process.surer import uncertainty_that_decides
    from lapwright.records import queries

    recorded = found.recorded
    assert recorded is not None
    verdict = recorded.verdict
    assert verdict.expanded_uncertainty is not None
    assert verdict.coverage_factor is not None
    needed = uncertainty_that_decides(
        verdict.limit,
        verdict.value,
        standard_uncertainty=verdict.expanded_uncertainty / verdict.coverage_factor,
        degrees_of_freedom=freedom_of(verdict.coverage_factor),
        rule=verdict.rule,
    )
    found = replace(found, needed=None if needed is None else needed * verdict.coverage_factor)
    taken = None if recorded.set_id is None else queries.reading_set(recorded.set_id)
    known = None if taken is None else _known(verdict.limit.quantity, taken)
    if taken is None or known is None:
        return found
    ways = [*_same_gauge(recorded, taken, known), *_other_gauges(recorded, taken, known, on)]
    ways.sort(key=lambda way: (way.readings, way.is_other_gauge, -way.chance_accepted))
    return replace(found, ways=tuple(ways), stays=_largest_that_stays(known.budget), repeats=taken.repeats)


def _same_gauge(recorded: RecordedVerdict, taken: RecordedSet, known: _Known) -> Iterator[WayToBeSure]:
    from lapwright.metrology.uncertainty import coverage_factor
    from lapwright.process.surer import repeats_to_decide

    verdict = recorded.verdict
    enough = repeats_to_decide(
        verdict.limit,
        verdict.value,
        known.budget,
        repeats=known.repeats,
        rule=verdict.rule,
        least_sensitivity=_zero_part(verdict.limit.quantity, known),
    )
    if enough is not None:
        readings = enough.repeats * known.result.n_sites
        yield WayToBeSure(
            gauge_id=taken.gauge_id,
            repeats=enough.repeats,
            readings=readings,
            time=_time(taken, readings),
            expanded_uncertainty=coverage_factor(enough.degrees_of_freedom) * enough.standard_uncertainty,
            chance_accepted=enough.chance_accepted,
            is_other_gauge=False,
        )


def _zero_part(quantity: Quantity, known: _Known) -> float:
    """The part of the scatter's sensitivity in a mean that comes from the zero readings; nought for differences."""
    from lapwright.process.surer import SCATTER

    if quantity != "thickness":
        return 0.0
    line = next((one for one in known.budget.contributions if one.name == SCATTER), None)
    if line is None:
        return 0.0
    sites = 1.0 / (known.result.n_sites * known.repeats)
    return math.sqrt(max(0.0, line.sensitivity**2 - sites))


def _other_gauges(recorded: RecordedVerdict, taken: RecordedSet, known: _Known, on: date) -> Iterator[WayToBeSure]:
    """For each further gauge that may be used and whose repeatability is known, the fewest repeats that decide."""
    from lapwright.app import gauges

    for one in gauges.list_gauges(on=on):
        gauge = one.gauge
        if gauge.gauge_id == taken.gauge_id or gauge.repeatability is None or one.calibration_state not in _TRUSTED:
            continue
        way = _by_gauge(recorded, taken, known, gauge)
        if way is not None:
            yield way


def _by_gauge(recorded: RecordedVerdict, taken: RecordedSet, known: _Known, gauge: Gauge) -> WayToBeSure | None:
    from lapwright.metrology.uncertainty import combined_uncertainty
    from lapwright.process.decisions import judge
    from lapwright.process.surer import chance_of_acceptance

    verdict = recorded.verdict
    for repeats in range(1, _MOST_ELSEWHERE + 1):
        budget = _budget_of(verdict.limit.quantity, gauge, taken, known, repeats)
        combined = combined_uncertainty(budget, value=verdict.value)
        uncertainty, rule = combined.standard_uncertainty, verdict.rule
        if uncertainty >= known.combined.standard_uncertainty:
            return None
        if judge(verdict.limit, verdict.value, uncertainty, rule=rule).outcome == "cannot_be_decided":
            continue
        readings = repeats * known.result.n_sites
        return WayToBeSure(
            gauge_id=gauge.gauge_id,
            repeats=repeats,
            readings=readings,
            time=_time(taken, readings),
            expanded_uncertainty=combined.expanded_uncertainty,
            chance_accepted=chance_of_acceptance(
                verdict.limit,
                verdict.value,
                math.hypot(known.combined.standard_uncertainty, uncertainty),
                standard_uncertainty=uncertainty,
                rule=rule,
            ),
            is_other_gauge=True,
        )
    return None


def _budget_of(quantity: Quantity, gauge: Gauge, taken: RecordedSet, known: _Known, repeats: int) -> Budget:
    from lapwright.metrology import ready_budgets
    from lapwright.metrology.outlines import extent

    if quantity == "thickness":
        return ready_budgets.thickness_budget(gauge, repeats=repeats * known.result.n_sites)
    if quantity == "ttv":
        return ready_budgets.ttv_budget(gauge, repeats=repeats)
    sites, outline = known.result.sites, taken.surroundings.outline
    across = max(extent(outline, azimuth=0.0), extent(outline, azimuth=0.5 * math.pi))
    return ready_budgets.wedge_budget(gauge, x=sites.x, y=sites.y, diameter=across, repeats=repeats)


def _largest_that_stays(budget: Budget) -> str:
    from lapwright.process.surer import SCATTER

    lines = [one for one in budget.contributions if one.name != SCATTER and one.effect]
    return max(lines, key=lambda one: abs(one.effect)).name if lines else ""


def _time(taken: RecordedSet, readings: int) -> float | None:
    """How long so many readings take at the pace of a set: the middle step from one to the next; None if unknown."""
    moments = sorted(one.signature.at for one in taken.readings)
    steps = [(late - early).total_seconds() for early, late in pairwise(moments)]
    pace = statistics.median(steps) if steps else 0.0
    return pace * readings if pace > 0.0 else None
