"""Use cases: zero, jig correction, starting and finishing the stages of a wafer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from lapwright.model.job import RecordedRun, RecordedStage, RecordedZero
from lapwright.model.plan import PresetDatum, Stage
from lapwright.model.request import RunRequest, ZeroRequest
from lapwright.process.jig import JigCorrection


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStage:
    """What a wafer needs now: the stage, the number to dial in and what it is made of, the screws to turn. SI.

    `contains` lists the parts of the preset, label and length [m]. `correction` is None when no jig is named or the
    last map shows no wedge that can be told from none. `zero` is the zero that holds, None when one must be taken.
    """

    stage: RecordedStage
    planned: Stage
    thickness_now: float
    thickness_after: float
    removal: float
    preset: float | None
    preset_datum: PresetDatum | None
    contains: tuple[tuple[str, float], ...]
    correction: JigCorrection | None
    zero: RecordedZero | None
    voids_zero: tuple[str, ...]
    cautions: tuple[str, ...]


def next_stage(wafer_id: str, *, jig_id: str | None = None, station_id: str | None = None) -> NextStage | None:
    """The wafer's next stage with its numbers from the last map; None when all stages are done."""
    raise NotImplementedError


def take_zero(request: ZeroRequest, *, by: str, reason: str, at: datetime) -> RecordedZero:
    """Record the zero readings of the jig's gauge; not accepted when they lie further apart than allowed.

    Raises `BadInput` for fewer than three readings or text that is no length.
    """
    raise NotImplementedError


def void_zero(zero_id: int, *, by: str, reason: str, at: datetime) -> RecordedZero:
    """Record that a zero no longer holds: adjuster moved, foot or plate changed, bonded anew."""
    raise NotImplementedError


def start_run(request: RunRequest, *, by: str, reason: str, at: datetime) -> RecordedRun:
    """Record the start of a wafer's next lapping or polishing stage.

    Raises `Conflict` without a zero that holds (lapping), when the next stage is of another kind, or when wafer or
    station is running already.
    """
    raise NotImplementedError


def finish_run(
    run_id: int,
    *,
    gauge_removal: str | None = None,
    stop_reason: str = "preset reached",
    by: str,
    reason: str,
    at: datetime,
    version: int | None = None,
) -> RecordedRun:
    """Record the end of a run: what the jig's gauge says was removed, as entered ('398.2 µm'), and why it stopped."""
    raise NotImplementedError


def complete_stage(stage_id: int, *, by: str, reason: str, at: datetime) -> RecordedStage:
    """Record that a cleaning stage is done, or a measuring stage whose set is closed."""
    raise NotImplementedError


def skip_stage(stage_id: int, *, by: str, reason: str, at: datetime) -> RecordedStage:
    """Record that a stage was left out; the reason must say why."""
    raise NotImplementedError
