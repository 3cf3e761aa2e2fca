"""Which cleanings end with a look whether all is clean: those before another abrasive, and the last of all."""

from __future__ import annotations

from collections.abc import Sequence

from lapwright.model.job import RecordedStage


def needs_look(stage: RecordedStage, stages: Sequence[RecordedStage]) -> bool:
    """Whether a stage of a wafer is a cleaning that ends with a look: before another abrasive, or the last of all."""
    if stage.stage.kind != "clean":
        return False
    before, after = around(stage, stages)
    return bool(before) and before != after


def around(stage: RecordedStage, stages: Sequence[RecordedStage]) -> tuple[str, str]:
    """Abrasives worked with last before a stage and first after it, stages left out not counted."""
    worked = [one for one in stages if one.stage.abrasive and one.state != "skipped"]
    before = [one.stage.abrasive for one in worked if one.number < stage.number]
    after = [one.stage.abrasive for one in worked if one.number > stage.number]
    return (before[-1] if before else "") or "", (after[0] if after else "") or ""
