"""Use case: whether the form of the last finished wafers comes from a plate, a jig, or one wafer's bond."""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping, Sequence
from itertools import islice
from typing import TYPE_CHECKING

from lapwright.app.kept_results import TALK, kept_until_write
from lapwright.model.job import RecordedRun, RecordedSet

if TYPE_CHECKING:
    from lapwright.process.attribution import Source, WaferForm

#: How many finished wafers are looked at, the latest.
LATEST = 24
#: Scatter of wedge and dome from wafer to wafer that has no single source (own judgement) [m].
SCATTER = 0.3e-6


def recorded_forms() -> tuple[WaferForm, ...]:
    """Wedge and dome of the last finished wafers, free, with the jig and the plate of their last lap.

    Left out: a wafer without a closed final set that tells both with their uncertainties, or without a lap in a jig.
    """
    return kept_until_write(("forms of wafers",), _recorded_forms, besides=TALK)


def sources_of(forms: tuple[WaferForm, ...]) -> tuple[Source, ...]:
    """What the forms of wafers speak for, the surest first; empty for fewer than three wafers."""
    from lapwright.process.attribution import form_sources

    return form_sources(forms) if len(forms) >= 3 else ()


# ----------------------------------------------------------------------------------------------------------------------


def _recorded_forms() -> tuple[WaferForm, ...]:
    from lapwright.records import plate_queries, queries, story_queries

    plates = {one.plate.station_id: one.plate.plate_id for one in plate_queries.plates() if one.plate.station_id}
    kinds = {one.station.station_id: one.station.kind for one in queries.stations()}
    found = (_form(*one, plates, kinds) for one in story_queries.finished_wafers(newest=4 * LATEST))
    return tuple(islice((one for one in found if one is not None), LATEST))[::-1]


def _form(
    final: RecordedSet, runs: Sequence[RecordedRun], plates: Mapping[str, str], kinds: Mapping[str, str]
) -> WaferForm | None:
    from lapwright.app.set_values import result_of
    from lapwright.process.attribution import WaferForm

    laps = [
        run for run in runs if run.ended is not None and run.jig_id is not None and kinds.get(run.station_id) == "lap"
    ]
    result = result_of(final)
    known = result.wedge, result.dome, result.wedge_uncertainty, result.dome_uncertainty
    if not laps or any(one is None for one in known):
        return None
    last = max(laps, key=lambda run: run.started)
    wedge, dome, wedge_doubt, dome_doubt = known
    if wedge is None or dome is None or wedge_doubt is None or dome_doubt is None or last.jig_id is None:
        return None
    return WaferForm(
        wafer_id=final.piece,
        jig=last.jig_id,
        plate=plates.get(last.station_id, last.station_id),
        wedge=cmath.rect(wedge.amount, wedge.azimuth) if wedge.azimuth is not None else 0.0j,
        dome=dome,
        wedge_uncertainty=math.hypot(wedge_doubt.standard_uncertainty, SCATTER),
        dome_uncertainty=math.hypot(dome_doubt.standard_uncertainty, SCATTER),
    )
