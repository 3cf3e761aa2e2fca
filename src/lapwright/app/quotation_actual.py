"""Use case: what a quoted job really took, stage by stage, at the prices it was quoted with.

Machines count from start to end of each run; a carrier with several wafers on it counts once. Readings count from the
opening of their set to its end, without pauses of more than half an hour. Bonding, taking off, rinsing, set-up and sets
that came as files are not timed on record: their planned times count, as often as each was done.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import timedelta
from typing import TYPE_CHECKING

from lapwright.app.quotations import BOND, MEASURE_IN, TAKE_OFF, quoted_prices
from lapwright.model.job import RecordedStage
from lapwright.model.quotation import ActualJob, ActualLine, Quotation
from lapwright.model.story import OrderStanding, OrderWork, RunTimes, SetTimes, WaferStanding

if TYPE_CHECKING:
    from lapwright.process.route_cost import Prices

PAUSE = 1800.0  # s without a reading from which nobody is taken to be working on a set (own judgement)
OVER_STATES = ("certified", "rejected")
_HOUR = 3600.0


def job_actual(quotation: Quotation, standing: OrderStanding) -> ActualJob | None:
    """What a job has taken so far against what was quoted; None while nothing was done."""
    from lapwright.records import work_queries

    work = work_queries.order_work(standing.order.order.order_id, pause=timedelta(seconds=PAUSE))
    return actual_of(quotation, standing, work)


def actual_of(quotation: Quotation, standing: OrderStanding, work: OrderWork) -> ActualJob | None:
    """What the work on record has cost at the prices of the quotation; None while nothing was done."""
    from lapwright.process.costing import CONSUMED, LOST, OVERHEAD, SET_UP

    prices = quoted_prices(quotation)
    counted = _Counted(quotation.prices.measuring_time)
    for wafer in standing.wafers:
        _count_wafer(counted, wafer, work, quotation, prices)
    for one in work.sets:
        if one.wafer_id is None:
            counted.read(MEASURE_IN, one)
    begun = sum(bool(one.bonds) for one in standing.wafers)
    if not counted.person and not counted.spent:
        return None
    if begun:
        counted.person[SET_UP] += quotation.prices.set_up_time
    cost = {
        name: counted.spent[name] + prices.person * counted.person[name] / _HOUR
        for name in dict.fromkeys((*counted.spent, *counted.person))
    }
    cost[CONSUMED] = begun * prices.piece_price
    cost[OVERHEAD] = quotation.prices.overhead * math.fsum(cost.values())
    states = [one.wafer.state for one in standing.wafers]
    lost = states.count("rejected")
    cost[LOST] = lost * (prices.wafer or 0.0)
    cost = {name: round(one, 2) for name, one in cost.items()}  # as an invoice has it, so that its lines add up
    return ActualJob(
        lines=tuple(sorted(_lines(quotation, cost, counted), key=lambda one: (-abs(one.difference), one.name))),
        quoted=quotation.expected,
        low=quotation.low,
        high=quotation.high,
        sure=quotation.sure,
        actual=round(math.fsum(cost.values()), 2),
        begun=begun,
        good=sum(state in ("judged", "certified") for state in states) - _odd(standing.wafers),
        lost=lost,
        is_over=_is_over(quotation, states),
        pauses=counted.pauses,
    )


def latest_actual(order_id: str) -> tuple[Quotation, ActualJob | None] | None:
    """The latest quotation of an order with what the job has taken so far; None where none was given."""
    from lapwright.records import quotation_queries, story_queries

    found = quotation_queries.quotations(order_id)
    if not found:
        return None
    quotation = found[-1].quotation
    return quotation, job_actual(quotation, story_queries.order_standing(order_id))


# ----------------------------------------------------------------------------------------------------------------------


class _Counted:
    """Times [s] and money by line while the records of a job are gone through."""

    def __init__(self, measuring_time: float) -> None:
        self.measuring_time = measuring_time
        self.person: dict[str, float] = defaultdict(float)
        self.machine: dict[str, float] = defaultdict(float)
        self.spent: dict[str, float] = defaultdict(float)
        self.pauses = 0.0

    def read(self, name: str, taken: SetTimes) -> None:
        """Count the time that a set was read in; the planned one for a set that came as a file."""
        if taken.source is not None:
            self.person[name] += self.measuring_time
            return
        moments = [taken.opened, *taken.read]
        if taken.closed is not None:
            moments.append(taken.closed)
        moments.sort()
        gaps = [(after - before).total_seconds() for before, after in itertools.pairwise(moments)]
        self.person[name] += math.fsum(gap for gap in gaps if gap <= PAUSE)
        self.pauses += math.fsum(gap for gap in gaps if gap > PAUSE)


def _count_wafer(
    counted: _Counted, wafer: WaferStanding, work: OrderWork, quotation: Quotation, prices: Prices
) -> None:
    name_of_wafer = wafer.wafer.wafer.wafer_id
    groups = _groups(wafer.stages)
    last = list(groups.values())[-1] if groups else BOND
    for taken in work.sets:
        if taken.wafer_id != name_of_wafer:
            continue
        name = {"incoming": MEASURE_IN, "stack": BOND, "on_carrier": last, "final": TAKE_OFF}.get(taken.moment)
        counted.read(groups.get(taken.stage_id or 0, last) if name is None else name, taken)
    for bond in wafer.bonds:
        counted.person[BOND] += quotation.bonding
        if bond.undone is not None:
            counted.person[TAKE_OFF] += quotation.taking_off
    for stage in wafer.stages:
        if stage.stage.kind == "clean" and stage.state == "done":
            counted.person[groups[stage.stage_id]] += stage.stage.time
    runs = [one for one in work.runs if one.wafer_id == name_of_wafer]
    _count_runs(counted, runs, wafer.stages, groups, prices)


def _count_runs(
    counted: _Counted,
    runs: Sequence[RunTimes],
    stages: Sequence[RecordedStage],
    groups: dict[int, str],
    prices: Prices,
) -> None:
    from lapwright.library import load
    from lapwright.process.route_cost import machine_hour

    kinds = {one.abrasive_id: one.kind for one in load().abrasives}
    processes = {one.stage_id: one.stage.kind for one in stages}
    for run in runs:
        if run.ended is None or run.with_run is not None:
            continue
        name = groups.get(run.stage_id, BOND)
        time = (run.ended - run.started).total_seconds()
        hour = machine_hour(
            prices,
            process=processes.get(run.stage_id, "lap"),
            abrasive_kind=kinds.get(run.abrasive or "", ""),
            plate=run.plate or "",
        )
        counted.machine[name] += time
        counted.spent[name] += hour * time / _HOUR


def _groups(stages: Sequence[RecordedStage]) -> dict[int, str]:
    """The line of each stage by its number in the records; what is read or rinsed after a cut belongs to it."""
    from lapwright.process.costing import grouped_stages

    ordered = sorted(stages, key=lambda one: one.number)
    named = grouped_stages([one.stage for one in ordered], before=BOND)
    return {one.stage_id: name for one, (name, _stage) in zip(ordered, named, strict=True)}


def _lines(quotation: Quotation, cost: dict[str, float], counted: _Counted) -> Iterable[ActualLine]:
    quoted = {one.name: one for one in quotation.lines}
    for name in dict.fromkeys((*quoted, *cost)):
        line = quoted.get(name)
        if line is None and not cost[name]:
            continue
        yield ActualLine(
            name=name,
            quoted=0.0 if line is None else line.cost,
            low=0.0 if line is None else line.low,
            high=0.0 if line is None else line.high,
            actual=cost.get(name, 0.0),
            person=counted.person.get(name, 0.0),
            machine=counted.machine.get(name, 0.0),
        )


def _odd(wafers: Sequence[WaferStanding]) -> int:
    """How many of the judged wafers do not keep their limits."""
    from lapwright.app.verdicts import latest_verdicts

    return sum(
        any(one.verdict.outcome != "conforms" for one in latest_verdicts(wafer.verdicts))
        for wafer in wafers
        if wafer.wafer.state in ("judged", "certified")
    )


def _is_over(quotation: Quotation, states: Sequence[str]) -> bool:
    """Whether no more work is to come: every wafer is through, or what was wanted is delivered."""
    return all(state in OVER_STATES for state in states) or states.count("certified") >= quotation.quantity
