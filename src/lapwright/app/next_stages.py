"""What a wafer needs now: its next stage, the number to dial in and what that is made of, the screws to turn."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from lapwright.app import cautions as warnings
from lapwright.app import wafer_maps
from lapwright.app.kept_results import TALK, kept_until_write
from lapwright.errors import LapwrightError
from lapwright.model.jig_moves import RecordedMove
from lapwright.model.job import RecordedStage, RecordedZero
from lapwright.model.plan import PresetDatum, Stage
from lapwright.model.shelf import Jig
from lapwright.model.story import WaferAtWork
from lapwright.model.wafer import Outline, Wedge

if TYPE_CHECKING:
    from lapwright.app.gauge_biases import GaugeBias
    from lapwright.process.jig import JigCorrection
    from lapwright.process.preset import Preset


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStage:
    """What a wafer needs now: the stage, the number to dial in and what it is made of, the screws to turn. SI.

    `removal` is from the wafer as it is; below zero when it is past this stage already. `contains` lists the parts of
    the preset, label and length [m]. `correction` is None when no jig is named or the last map shows no wedge that can
    be told from none. `zero` is the zero that holds, None when one must be taken. `travel` is the removal from the zero
    to the asked stop; `preset`, the number to dial in, is smaller where the gauge is known to read too little in
    process, as `bias` says. `turned` are the moves of the jig made for this wafer since its last map; `correction` is
    what is left of it after them.
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
    travel: float | None = None
    bias: GaugeBias | None = None
    turned: tuple[RecordedMove, ...] = ()


def next_stage(wafer_id: str, *, jig_id: str | None = None, station_id: str | None = None) -> NextStage | None:
    """The wafer's next stage with its numbers from the last map; None when all stages are done.

    Raises `NotFound` for an unknown wafer or jig, `Conflict` when the wafer has never been read.
    """
    from lapwright.records import queries

    return stage_ahead(
        wafer_at_work(wafer_id), jig=None if jig_id is None else queries.jig(jig_id).jig, station_id=station_id
    )


def wafer_at_work(wafer_id: str) -> WaferAtWork:
    """What the next step of a wafer rests on, looked up once for all that ask. Raises `NotFound`."""
    from lapwright.records import story_queries

    return kept_until_write(("at work", wafer_id), lambda: story_queries.wafer_at_work(wafer_id), besides=TALK)


def stage_ahead(wafer: WaferAtWork, *, jig: Jig | None = None, station_id: str | None = None) -> NextStage | None:
    """The same for a wafer already looked up."""
    from lapwright.process.preset import voided_by

    recorded = next((one for one in wafer.stages if one.state in ("waiting", "running")), None)
    if recorded is None:
        return None
    planned = recorded.stage
    now = wafer_maps.wafer_now(wafer)
    thickness = now.thickness - now.removed_since
    removal = thickness - planned.thickness_after if planned.removal > 0.0 else 0.0
    wedge = _wedge_to_take_out(wafer, now)
    outline = wafer.wafer.wafer.outline
    correction: JigCorrection | None = None
    turned: tuple[RecordedMove, ...] = ()
    if jig is not None and planned.kind == "lap":
        turned = _turned(jig.jig_id, wafer.wafer.wafer.wafer_id, now.at)
        correction = _correction(wedge, jig, outline, turned)
    preset = _preset(wafer, planned, thickness=thickness, wedge=now.wedge, corrected=correction is not None)
    zero = holding_zero(wafer, station_id=station_id, jig_id=None if jig is None else jig.jig_id)
    bias = None if preset is None else _bias(zero, station_id=station_id, jig=jig)
    missed = 0.0 if preset is None or bias is None else bias.learned.correction * preset.travel
    contains = () if preset is None else preset.contains
    return NextStage(
        stage=recorded,
        planned=planned,
        thickness_now=thickness,
        thickness_after=planned.thickness_after,
        removal=removal,
        preset=None if preset is None else preset.travel - missed,
        preset_datum=None if preset is None else preset.datum,
        contains=(*contains, ("what the gauge reads too little in process", -missed)) if missed else contains,
        correction=correction,
        zero=zero,
        voids_zero=voided_by(
            ["adjusters_moved", "plate_changed", "abrasive_changed", "foot_changed", "bonded_anew", "gauge_moved"]
        ),
        cautions=warnings.at_stage(wafer, planned),
        travel=None if preset is None else preset.travel,
        bias=bias,
        turned=turned,
    )


def wedge_ahead(wafer: WaferAtWork) -> Wedge | None:
    """The wedge that the screws are to take out; None where it cannot be told."""
    return _wedge_to_take_out(wafer, wafer_maps.wafer_now(wafer))


def holding_zero(wafer: WaferAtWork, *, station_id: str | None, jig_id: str | None) -> RecordedZero | None:
    """The accepted zero of a wafer that still holds, on that station and jig when they are named."""
    for zero in reversed(wafer.zeros):
        fits = station_id in (None, zero.station_id) and jig_id in (None, zero.jig_id)
        if zero.accepted and zero.void is None and fits:
            return zero
    return None


# ----------------------------------------------------------------------------------------------------------------------


def _bias(zero: RecordedZero | None, *, station_id: str | None, jig: Jig | None) -> GaugeBias | None:
    """What the gauge misses in process, where it is known on which station it will be."""
    from lapwright.app.gauge_biases import gauge_bias

    station = station_id or (None if zero is None else zero.station_id)
    jig_id = jig.jig_id if jig is not None else None if zero is None else zero.jig_id
    return None if station is None else gauge_bias(station, jig_id)


def _has_been_cut(wafer: WaferAtWork) -> bool:
    """Whether a stage has removed material in the present bond, so that the face lies as the jig made it."""
    bond = wafer.bond
    return bond is not None and any(run.ended is not None and run.started >= bond.made.at for run in wafer.runs)


def _wedge_to_take_out(wafer: WaferAtWork, now: wafer_maps.WaferNow) -> Wedge | None:
    """The wafer's wedge after a cut at the present setting: as the bond predicts it at first, then as it was read."""
    if _has_been_cut(wafer) or wafer.bond is None or wafer.bond.numbers is None:
        return now.wedge
    return wafer.bond.numbers.predicted_wedge


def _turned(jig_id: str, wafer_id: str, since: datetime) -> tuple[RecordedMove, ...]:
    """The moves of a jig that stand, made for a wafer since its last map."""
    from lapwright.records import jig_queries

    return tuple(
        one
        for one in jig_queries.moves(jig_id, wafer_id=wafer_id)
        if one.replaced_by is None and one.made_at > since and any(one.move.divisions)
    )


def _correction(
    wedge: Wedge | None, jig: Jig, outline: Outline, turned: tuple[RecordedMove, ...]
) -> JigCorrection | None:
    from lapwright.metrology.outlines import furthest_reach
    from lapwright.process.jig import adjuster_corrections, geometry_of, still_to_turn

    if wedge is None or wedge.azimuth is None:
        return None
    geometry = geometry_of(jig)
    asked = adjuster_corrections(wedge, 2.0 * furthest_reach(outline), geometry)
    if not turned or any(len(one.move.turns) != len(asked.moves) for one in turned):
        return asked
    done = [math.fsum(one) for one in zip(*(one.move.divisions for one in turned), strict=True)]
    return still_to_turn(asked, done, geometry)


def _preset(
    wafer: WaferAtWork, planned: Stage, *, thickness: float, wedge: Wedge | None, corrected: bool
) -> Preset | None:
    """The preset from the wafer as it is; None where the stage is not stopped by the gauge or nothing is left.

    From first touch, the thick edge stands half the wedge above the centre: on the wafer as bonded, and again whenever
    the jig is turned by a correction. A face just cut and not turned lies flat on the plate.
    """
    from lapwright.process.preset import Heights, preset_travel

    if planned.preset is None or planned.preset_datum is None:
        return None
    tilted = wedge is not None and wedge.azimuth is not None and (corrected or not _has_been_cut(wafer))
    above = 0.5 * wedge.amount if tilted and wedge is not None else 0.0
    datum: PresetDatum = "first_touch" if planned.preset_datum == "reference_block" else planned.preset_datum
    heights = Heights(contact=thickness + above, target=planned.thickness_after)
    try:
        return preset_travel(
            datum, allowance=planned.allowance, removal=thickness - planned.thickness_after, heights=heights
        )
    except LapwrightError:
        return None
