"""How thick a wafer was, as measured: as it came, and after each stage at whose end it was read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapwright.app import set_values, wafer_maps
from lapwright.app.kept_results import kept_until_write
from lapwright.errors import LapwrightError
from lapwright.model.job import RecordedSet, RecordedStage
from lapwright.model.story import WaferAtWork, WaferStory


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredCourse:
    """Mean thickness [m] of a wafer as it came, None when not read, and after stages: key of the stage -> thickness."""

    incoming: float | None
    after: dict[int, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class StageRead:
    """The stage that a set between stages was read at: at its end, or within it, between two of its runs."""

    stage: RecordedStage
    is_within: bool


def stage_read(one: RecordedSet, story: WaferStory) -> StageRead | None:
    """What a set after a stage was read after: its own stage, or a later one of which a run had ended before.

    None for a set of another moment, or of a stage that is no more.
    """
    if one.moment != "after_stage":
        return None
    began = one.opened.at
    ended = {run.stage_id for run in story.runs if run.ended is not None and run.ended <= began}
    found = [stage for stage in story.stages if stage.stage_id in ended or stage.stage_id == one.stage_id]
    if not found:
        return None
    stage = max(found, key=lambda each: each.number)
    of_it = [run for run in story.runs if run.stage_id == stage.stage_id]
    goes_on = stage.state in ("waiting", "running") or any(run.started >= began for run in of_it)
    return StageRead(stage=stage, is_within=bool(of_it) and goes_on)


def measured_course(story: WaferStory) -> MeasuredCourse:
    """The thickness of a wafer through its stages as far as it was read; a set that cannot tell is left out.

    On the carrier it is the stack less what the bond was judged to lie under it; of the free wafer the last set.
    """
    return kept_until_write(("course", story.wafer.wafer.wafer_id), lambda: _course(story))


# ----------------------------------------------------------------------------------------------------------------------


def _course(story: WaferStory) -> MeasuredCourse:
    closed = [one for one in story.sets if one.state == "closed"]
    incoming = [one for one in closed if one.moment == "incoming"]
    after: dict[int, float] = {}
    removing = [one for one in story.stages if one.stage.removal > 0.0]
    for one in closed:
        if one.moment not in ("after_stage", "on_carrier", "final") or not removing:
            continue
        read = stage_read(one, story) if one.moment == "after_stage" else None
        if read is not None and read.is_within:
            continue
        last = None if read is None else read.stage.number
        done = [stage for stage in removing if last is None or stage.number <= last]
        thickness = _thickness(one, story)
        if done and thickness is not None:
            after[done[-1].stage_id] = thickness
    return MeasuredCourse(incoming=_thickness(incoming[-1], story) if incoming else None, after=after)


def _thickness(one: RecordedSet, story: WaferStory) -> float | None:
    try:
        if one.subject == "wafer":
            return float(np.mean(set_values.sites_of(one).thickness))
        work = _at_work(story)
        if {"stack", "wafer"} <= {known.subject for known in work.bond_sets}:
            return wafer_maps.mean_on_carrier(one, work)
    except LapwrightError:
        return None
    return None


def _at_work(story: WaferStory) -> WaferAtWork:
    """The wafer with the bond it was worked on last, taken off since or not."""
    bond = next((one for one in reversed(story.bonds) if one.decision == "keep"), None)
    keys = () if bond is None else (bond.wafer_set_id, bond.stack_set_id)
    return WaferAtWork(
        wafer=story.wafer,
        bond=bond,
        stages=story.stages,
        zeros=story.zeros,
        runs=story.runs,
        latest=None,
        bond_sets=tuple(one for one in story.sets if one.set_id in keys),
    )
