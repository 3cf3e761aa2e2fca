"""The stages of a wafer as they came out: who ended each and when, what the gauge of the jig said, what was read."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.app.wafer_course import measured_course
from lapwright.model.clean_check import RecordedLook
from lapwright.model.job import RecordedStage
from lapwright.model.readings import Signature
from lapwright.model.story import WaferStory


@dataclass(frozen=True, slots=True, kw_only=True)
class StageLine:
    """One stage: as recorded, and as it came out. Lengths [m].

    `is_next` is true of the one whose turn it is. `gauge_removal` is what the jig's gauge said, None where none did;
    `read` is the mean thickness that was read in a measuring stage, None where its set cannot tell. `look` is the last
    look whether all is clean, of a cleaning that ends with one.
    """

    recorded: RecordedStage
    is_next: bool
    ended: Signature | None
    gauge_removal: float | None
    read: float | None
    look: RecordedLook | None = None


def stage_lines(story: WaferStory) -> tuple[StageLine, ...]:
    """All stages of a wafer, in their order."""
    from lapwright.records import run_queries, shift_queries

    cleaned = any(one.stage.kind == "clean" for one in story.stages)
    looks = {one.stage_id: one for one in shift_queries.looks(story.wafer.wafer.wafer_id)} if cleaned else {}
    ends = run_queries.stage_ends(tuple(one.stage_id for one in story.stages))
    removed = {run.stage_id: run.gauge_removal for run in story.runs if run.ended is not None}
    first = next((one.stage_id for one in story.stages if one.state in ("waiting", "running")), None)
    return tuple(
        StageLine(
            recorded=one,
            is_next=one.stage_id == first,
            ended=ends.get(one.stage_id) if one.ended is not None else None,
            gauge_removal=removed.get(one.stage_id),
            read=_read(one, story) if one.state == "done" else None,
            look=looks.get(one.stage_id),
        )
        for one in story.stages
    )


# ----------------------------------------------------------------------------------------------------------------------


def _read(stage: RecordedStage, story: WaferStory) -> float | None:
    """What a measuring stage read: the thickness after the last stage before it that removed."""
    if stage.stage.kind != "measure":
        return None
    before = [one for one in story.stages if one.number < stage.number and one.stage.removal > 0.0]
    return measured_course(story).after.get(before[-1].stage_id) if before else None
