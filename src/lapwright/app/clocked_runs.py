"""Use cases: runs by the clock once they have ended: which pieces they had, what was expected and what was measured."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.app.after_run import Measured, measured_removal
from lapwright.app.clock_curves import removal_expected
from lapwright.model.job import RecordedRun


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockedRun:
    """A run by the clock that has ended: for each piece its name, what was expected and what was measured [m]."""

    run: RecordedRun
    pieces: tuple[tuple[str, float | None, Measured | None], ...]

    @property
    def waits(self) -> bool:
        """Whether the first of two steps still has to be measured."""
        return self.run.step == "first" and any(measured is None for _, _, measured in self.pieces)


def after_the_clock(run_id: int) -> ClockedRun | None:
    """What became of a run by the clock; None for one by the gauge. Raises `NotFound`."""
    from lapwright.records import queries, run_queries

    run = queries.run(run_id)
    if run.time is None:
        return None
    every = (run, *run_queries.companions(run_id))
    pieces = tuple((one.wafer_id, removal_expected(one), measured_removal(one)) for one in every)
    return ClockedRun(run=run, pieces=pieces)


def ran_together(wafer_id: str) -> tuple[str, ...]:
    """The pieces of a wafer's last run by the clock, or the wafer alone."""
    from lapwright.records import queries, run_queries

    last = next((one for one in reversed(run_queries.runs_of_wafer(wafer_id)) if one.time is not None), None)
    if last is None:
        return (wafer_id,)
    first = last if last.with_run is None else queries.run(last.with_run)
    return (first.wafer_id, *(one.wafer_id for one in run_queries.companions(first.run_id)))
