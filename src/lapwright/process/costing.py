"""What a job will cost, stage by stage and in total, as a spread: time, consumables, labour, set-up, loss, overhead.

Many imagined jobs of one order are drawn. The luck of a rate is common to all wafers of a job (one plate, one slurry,
one week), hands are quick or slow for a whole job, and the wafers that do not pass follow the belief about the yield.
Every wafer is reckoned as worked to its end, also one that is lost on the way. Left out: waiting, and prices that move.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.library import Library
from lapwright.model.plan import Plan, Stage
from lapwright.model.quotation import QuotedLine
from lapwright.process.removal import BAND_QUANTILE
from lapwright.process.route_cost import Prices, machine_hour
from lapwright.process.spare_wafers import YieldBelief

_HOUR = 3600.0
HAND_SPREAD = 0.15  # log deviation of the time that people take for a whole job (own judgement)
USUAL_DRAWS = 4000
SET_UP, CONSUMED, LOST, OVERHEAD = "set-up", "consumables", "lost wafers", "overhead"


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkLine:
    """What one wafer asks of a stage: times [s], money, and how well the time at the machine is known.

    `person` is a person's time, `machine` the time at the machine that costs `hour` an hour; `rate_deviation` the log
    deviation of that time.
    """

    name: str
    person: float = 0.0
    machine: float = 0.0
    hour: float = 0.0
    rate_deviation: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class JobTerms:
    """What an order adds to the work on a wafer: wafers `started`, set-up, pieces, loss, overhead.

    `set_up` [s] is a person's, once for the order; `overhead` [1] is a share on all that the lab spends itself.
    """

    started: int
    set_up: float = 0.0
    overhead: float = 0.0
    hand_spread: float = HAND_SPREAD

    def __post_init__(self) -> None:
        if self.started < 1:
            raise OutOfValidRange("started", self.started, "at least 1")
        for name in ("set_up", "overhead", "hand_spread"):
            if not 0.0 <= getattr(self, name) < math.inf:
                raise OutOfValidRange(name, getattr(self, name), "zero or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class JobCost:
    """Cost of a whole order: lines that add up to `expected`, quantiles of cost, and of the hours of work [s].

    `even` and `sure` are the sums that half and nine tenths of all such jobs stay within; `low` and `high` hold nine of
    ten. `costs` and `times` are the imagined jobs themselves.
    """

    lines: tuple[QuotedLine, ...]
    expected: float
    even: float
    sure: float
    low: float
    high: float
    time: float
    time_low: float
    time_high: float
    time_even: float
    time_sure: float
    costs: NDArray[np.float64]
    times: NDArray[np.float64]


def stage_group(name: str) -> str:
    """The stage that a part belongs to: what stands before the comma of its name.

    Parameters
    ----------
    name : str
        Of a stage of a plan.

    Returns
    -------
    str

    Examples
    --------
    >>> stage_group("Coarse lap, first part")
    'Coarse lap'
    """
    return name.partition(",")[0]


def grouped_stages(stages: Sequence[Stage], *, before: str) -> tuple[tuple[str, Stage], ...]:
    """Every stage with the line it is reckoned in: what is rinsed and measured after a cut goes with that cut.

    Parameters
    ----------
    stages : sequence of Stage
        Of a plan, in the order worked.
    before : str
        Line of what comes before the first cut.

    Returns
    -------
    tuple of (str, Stage)
    """
    found = []
    for stage in stages:
        if stage.removal > 0.0:
            before = stage_group(stage.name)
        found.append((before, stage))
    return tuple(found)


def work_lines(
    plan: Plan, prices: Prices, library: Library, *, bench: Mapping[str, float], before: str
) -> tuple[WorkLine, ...]:
    """What one wafer asks of each stage of a plan, and of the bench before and after.

    Parameters
    ----------
    plan : Plan
        As chosen, with times and the band of each rate.
    prices : Prices
        Of hours, slurry and pads.
    library : Library
        With the abrasives of the plan.
    bench : mapping of str to float [s]
        A person's time by hand beside the plan, by line, in the order told.
    before : str
        Line of what comes before the first cut.

    Returns
    -------
    tuple of WorkLine
        In the order told; a line of the plan after those of the bench that are named no later than `before`.
    """
    lines = {name: WorkLine(name=name, person=time) for name, time in bench.items()}
    cuts: dict[str, WorkLine] = {}
    for name, stage in grouped_stages(plan.stages, before=before):
        held = lines if name in lines else cuts
        line = held.get(name, WorkLine(name=name))
        held[name] = replace(line, person=line.person + stage.time) if stage.removal <= 0.0 else _cut(
            line, stage, prices, library
        )  # fmt: skip
    names = list(lines)
    place = names.index(before) + 1 if before in names else 0
    return (*(lines[one] for one in names[:place]), *cuts.values(), *(lines[one] for one in names[place:]))


def job_cost(
    lines: Sequence[WorkLine],
    prices: Prices,
    terms: JobTerms,
    belief: YieldBelief,
    *,
    generator: np.random.Generator,
    draws: int = USUAL_DRAWS,
) -> JobCost:
    r"""Cost of a whole order as a spread, and line by line.

    Parameters
    ----------
    lines : sequence of WorkLine
        What one wafer asks of each stage.
    prices : Prices
        Of hours and pieces, and of a lost wafer; nothing is added for one where nobody has said.
    terms : JobTerms
        Wafers started, set-up and overhead.
    belief : YieldBelief
        What is believed of the yield.
    generator : numpy Generator
        Seeded by the caller.
    draws : int, >= 1
        Imagined jobs.

    Returns
    -------
    JobCost
        Its lines add up to the expected cost.

    Raises
    ------
    OutOfValidRange
        No draws.

    Notes
    -----
    .. math:: C = (1+o)\Big[w_p s H + n\big(q + \sum_k (w_p p_k H + w_k m_k e^{-\sigma_k L_k})\big)\Big] + v X

    with overhead o, prices w of an hour, set-up s, a person's time p and machine time m, hands
    :math:`H = e^{h Z - h^2/2}`, luck L of a cut, price q of a piece and v of a lost wafer,
    :math:`X \sim \mathrm{Bin}(n, 1-Y)`, :math:`Y \sim \mathrm{Beta}`. Times are medians at the planned rate.

    Examples
    --------
    >>> line = WorkLine(name="lap", person=3600.0)
    >>> found = job_cost([line], Prices(person=60.0), JobTerms(started=2, hand_spread=0.0),
    ...     YieldBelief(good=9.0, lost=1.0), generator=np.random.default_rng(1), draws=10)
    >>> found.expected, found.sure
    (120.0, 120.0)
    """
    if draws < 1:
        raise OutOfValidRange("draws", draws, "at least 1")
    n, share = terms.started, terms.hand_spread
    hands = np.exp(share * generator.standard_normal(draws) - 0.5 * share**2)
    yields = generator.beta(belief.good, belief.lost, draws)
    lost = generator.binomial(n, 1.0 - yields).astype(np.float64)
    spent: dict[str, NDArray[np.float64]] = {}
    times: dict[str, tuple[NDArray[np.float64], NDArray[np.float64]]] = {}
    for line in lines:
        luck = generator.standard_normal(draws)
        person = n * line.person * hands
        machine = n * line.machine * np.exp(-line.rate_deviation * luck)
        spent[line.name] = (prices.person * person + line.hour * machine) / _HOUR
        times[line.name] = (person, machine)
    setting = terms.set_up * hands
    spent[SET_UP] = prices.person * setting / _HOUR
    times[SET_UP] = (setting, np.zeros(draws))
    spent[CONSUMED] = np.full(draws, n * prices.piece_price)
    spent[OVERHEAD] = terms.overhead * _sum(spent.values(), draws)
    spent[LOST] = lost * (prices.wafer or 0.0)
    told = [_line(name, values, times.get(name)) for name, values in spent.items() if values.any()]
    work = _sum([one for both in times.values() for one in both], draws)
    return _spread(told, _sum(spent.values(), draws), work)


# ----------------------------------------------------------------------------------------------------------------------


def _cut(line: WorkLine, stage: Stage, prices: Prices, library: Library) -> WorkLine:
    """A line with one more part of its cut; its parts share plate and abrasive, so price and luck are common."""
    kind = "" if stage.abrasive is None else library.abrasive(stage.abrasive).kind
    hour = machine_hour(prices, process=stage.kind, abrasive_kind=kind, plate=stage.plate or "")
    deviation = 0.0
    if stage.rate_low and stage.rate_high:
        deviation = math.log(stage.rate_high / stage.rate_low) / (2.0 * BAND_QUANTILE)
    return replace(line, machine=line.machine + stage.time, hour=hour, rate_deviation=deviation)


def _sum(parts: Iterable[NDArray[np.float64]], draws: int) -> NDArray[np.float64]:
    total = np.zeros(draws)
    for part in parts:
        total = total + part
    return total


def _line(
    name: str, values: NDArray[np.float64], times: tuple[NDArray[np.float64], NDArray[np.float64]] | None
) -> QuotedLine:
    low, high = (float(one) for one in np.quantile(values, (0.05, 0.95)))
    person, machine = (0.0, 0.0) if times is None else (float(np.mean(one)) for one in times)
    return QuotedLine(name=name, cost=float(np.mean(values)), low=low, high=high, person=person, machine=machine)


def _spread(lines: list[QuotedLine], costs: NDArray[np.float64], times: NDArray[np.float64]) -> JobCost:
    low, even, sure, high = (float(one) for one in np.quantile(costs, (0.05, 0.5, 0.9, 0.95)))
    time_low, time_even, time_sure, time_high = (float(one) for one in np.quantile(times, (0.05, 0.5, 0.9, 0.95)))
    return JobCost(
        lines=tuple(lines), expected=math.fsum(one.cost for one in lines), even=even, sure=sure, low=low, high=high,
        time=float(np.mean(times)), time_low=time_low, time_high=time_high, time_even=time_even, time_sure=time_sure,
        costs=costs, times=times,
    )  # fmt: skip
