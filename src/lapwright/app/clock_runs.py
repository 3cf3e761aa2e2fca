"""Use cases: runs by the clock, for polish stages that remove too little for the gauge.

The rate comes from the lab's own runs of these tools and material, from the route where there are too few of them, or,
once a first step was run and measured, from that step. Several pieces on one carrier share the load: the thickest
carries it first, and the piece that is done first decides when all stop.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from lapwright.app import after_run, set_values
from lapwright.app.next_stages import NextStage, next_stage
from lapwright.errors import Conflict, LapwrightError, OutOfValidRange
from lapwright.model.job import RecordedRun
from lapwright.model.plan import Stage
from lapwright.process.timed_stop import (
    LoadedStep,
    TimedStop,
    TwoStepStop,
    corrected_rate,
    loaded_steps,
    timed_stop,
    two_step_stop,
)
from lapwright.units import printed

OVER_TO_UNDER = (
    100.0  # a polish that takes too much is worth this many that take too little; common practice, no source
)


#: Low end, middle and high end of what is believed of a rate [m/s], and whose belief it is.
Believed = tuple[tuple[float, float, float], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece of a run by the clock. SI.

    `height` is that of its face above the carriers' common ground, `removal` what it loses until all stop, `above` what
    it then has left above its own aim. `decides` is true for the piece whose aim stops them all.
    """

    wafer_id: str
    height: float
    area: float
    removal: float
    above: float
    decides: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockAdvice:
    """How to run a stage by the clock. SI.

    `removal` is the mean over the worked area, as a balance would tell it; `steps` say which pieces carry the load for
    how long; `rates` are the low end, the middle and the high end of the rate's interval, and `origin` says whose they
    are. `two_steps` is None for the run that finishes a stage begun. `missing` says what must be done before, if
    anything.
    """

    removal: float
    pieces: tuple[Piece, ...]
    steps: tuple[LoadedStep, ...]
    rates: tuple[float, float, float]
    origin: str
    one_step: TimedStop
    two_steps: TwoStepStop | None
    missing: str = ""

    @property
    def finishes(self) -> bool:
        """Whether this run finishes a stage that a first step began."""
        return self.two_steps is None


def clock_advice(wafer_id: str, *, together: Sequence[str] = (), at: datetime | None = None) -> ClockAdvice:
    """How long to run the wafer's next stage by the clock, alone or together with other pieces; `at` ages the slurry.

    Raises `Conflict` when the next stage is no run, has no rate, or nothing is left to remove; and for pieces that
    cannot run together: another stage, or a face that the plate would not reach.
    """
    ahead = _ahead(wafer_id)
    believed = _believed(wafer_id, ahead.planned, at)
    names = (wafer_id, *(one for one in dict.fromkeys(together) if one != wafer_id))
    every = [ahead, *(_ahead(name) for name in names[1:])]
    for name, other in zip(names, every, strict=True):
        _check_fits(name, other, ahead)
    rates, origin, is_begun, missing = _rates(ahead, believed)
    pieces, steps = _shared(names, every, rate=rates[1])
    removal = math.fsum(step.removal * step.area for step in steps) / math.fsum(piece.area for piece in pieces)
    low, middle, high = rates
    asked = {"rate_low": low, "rate": middle, "rate_high": high, "over_to_under": OVER_TO_UNDER}
    return ClockAdvice(
        removal=removal,
        pieces=pieces,
        steps=steps,
        rates=rates,
        origin=origin,
        one_step=timed_stop(removal, **asked),
        two_steps=None if is_begun else two_step_stop(removal, **asked),
        missing=missing,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _ahead(wafer_id: str) -> NextStage:
    ahead = next_stage(wafer_id)
    if ahead is None or ahead.planned.kind not in ("lap", "polish"):
        raise Conflict(f"The next stage of wafer {wafer_id!r} is no run; there is nothing to time.")
    return ahead


def _check_fits(wafer_id: str, other: NextStage, first: NextStage) -> None:
    same = ("kind", "plate", "abrasive")
    if any(getattr(other.planned, name) != getattr(first.planned, name) for name in same):
        raise Conflict(
            f"Wafer {wafer_id!r} waits for {other.planned.name!r}, not for {first.planned.name!r}; they cannot run"
            " together."
        )
    if not other.removal > 0.0:
        raise Conflict(f"Stage {other.planned.name!r} of wafer {wafer_id!r} has nothing left to remove.")


def _believed(wafer_id: str, planned: Stage, at: datetime | None) -> Believed:
    """What is believed of the rate before the stage is begun: by own runs where there are enough, else by the route."""
    from lapwright.app import learning
    from lapwright.process.learning import rate_interval
    from lapwright.records import queries

    found = learning.next_rate(planned, queries.wafer(wafer_id).wafer.material, at=at)
    if found is not None and found[2].trust == "own":
        bounds = rate_interval(found[2], coverage=0.9)
        return (bounds.low, bounds.median, bounds.high), "by the lab's own runs"
    if not (planned.rate and planned.rate_low and planned.rate_high):
        raise Conflict(f"The plan has no rate for stage {planned.name!r}. Time a trial piece first.")
    return (planned.rate_low, planned.rate, planned.rate_high), "by the route"


def _rates(ahead: NextStage, believed: Believed) -> tuple[tuple[float, float, float], str, bool, str]:
    """The rate's interval, whose it is, whether the stage is begun already, and what is missing."""
    from lapwright.records import run_queries

    begun = [one for one in run_queries.runs_of_stage(ahead.stage.stage_id) if one.ended and one.time]
    if not begun:
        return *believed, False, ""
    measured = after_run.measured_removal(begun[-1])
    if measured is None:
        missing = "A first step was run and is not measured. Rinse, then read the stack or weigh it."
        return *believed, begun[-1].step == "first", missing
    return _corrected(begun[-1], measured, believed)


def _corrected(
    run: RecordedRun, measured: after_run.Measured, believed: Believed
) -> tuple[tuple[float, float, float], str, bool, str]:
    assert run.time is not None
    before, whose = believed
    try:
        low, middle, high = corrected_rate(measured.mean, measured.uncertainty, time=run.time)
    except OutOfValidRange:
        return before, f"{whose}; nothing was removed that could be measured in run {run.run_id}", False, ""
    if high / low >= before[2] / before[0]:
        return before, f"{whose}; run {run.run_id} told it no better", run.step == "first", ""
    rate = printed(middle * 60.0, "nm", "length")
    said = f"found in run {run.run_id} {measured.how}: {rate} a minute"
    return (low, middle, high), said, True, ""


def _shared(
    names: Sequence[str], every: Sequence[NextStage], *, rate: float
) -> tuple[tuple[Piece, ...], tuple[LoadedStep, ...]]:
    """Who carries the load when. All end on one plane: that of the piece whose aim lies highest."""
    from lapwright.process.loads import outline_area
    from lapwright.records import queries

    areas = [outline_area(queries.wafer(name).wafer.outline) for name in names]
    under = [0.0] if len(names) == 1 else [_under(name) for name in names]
    heights = [one.thickness_now + below for one, below in zip(every, under, strict=True)]
    aims = [one.thickness_after + below for one, below in zip(every, under, strict=True)]
    final = max(aims)
    decides = aims.index(final)
    for name, height in zip(names, heights, strict=True):
        if height <= final:
            raise Conflict(
                f"Wafer {name!r} lies {(final - height) * 1e6:.1f} µm below the plane on which {names[decides]!r} is"
                " done; the plate would not reach it. Run it alone."
            )
    steps = loaded_steps(heights, areas, final=final, rate=rate)
    pieces = tuple(
        Piece(
            wafer_id=name, height=heights[index], area=areas[index], removal=heights[index] - final,
            above=final - aims[index], decides=index == decides,
        )
        for index, name in enumerate(names)
    )  # fmt: skip
    return pieces, steps


def _under(wafer_id: str) -> float:
    """What lies under a wafer: carrier and adhesive, from the sets its bond was judged by."""
    from lapwright.records import story_queries

    sets = {one.subject: one for one in story_queries.wafer_at_work(wafer_id).bond_sets}
    if "stack" not in sets or "wafer" not in sets:
        raise Conflict(
            f"How high wafer {wafer_id!r} stands is not known: its bond has not been judged. Read the stack and judge"
            " it, or run the wafer alone."
        )
    try:
        stack, wafer = (set_values.result_of(sets[name]).mean for name in ("stack", "wafer"))
    except LapwrightError as error:
        raise Conflict(f"How high wafer {wafer_id!r} stands is not known. {error.sentence}") from error
    return stack - wafer
