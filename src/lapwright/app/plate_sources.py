"""Use case: whether the form of the last finished wafers comes from a plate, a jig, or one wafer's bond."""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

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
    from lapwright.records import plate_queries, queries

    plates = {one.plate.station_id: one.plate.plate_id for one in plate_queries.plates() if one.plate.station_id}
    kinds = {one.station.station_id: one.station.kind for one in queries.stations()}
    wafers = queries.wafers()[-4 * LATEST :]
    found = [_form(one.wafer.wafer_id, plates, kinds) for one in wafers]
    return tuple(one for one in found if one is not None)[-LATEST:]


def sources_of(forms: tuple[WaferForm, ...]) -> tuple[Source, ...]:
    """What the forms of wafers speak for, the surest first; empty for fewer than three wafers."""
    from lapwright.process.attribution import form_sources

    return form_sources(forms) if len(forms) >= 3 else ()


# ----------------------------------------------------------------------------------------------------------------------


def _form(wafer_id: str, plates: Mapping[str, str], kinds: Mapping[str, str]) -> WaferForm | None:
    from lapwright.app.set_values import result_of
    from lapwright.process.attribution import WaferForm
    from lapwright.records import queries, run_queries

    final = queries.latest_set(wafer_id, "wafer", "final")
    if final is None or final.state != "closed":
        return None
    laps = [
        run
        for run in run_queries.runs_of_wafer(wafer_id)
        if run.ended is not None and run.jig_id is not None and kinds.get(run.station_id) == "lap"
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
        wafer_id=wafer_id,
        jig=last.jig_id,
        plate=plates.get(last.station_id, last.station_id),
        wedge=cmath.rect(wedge.amount, wedge.azimuth) if wedge.azimuth is not None else 0.0j,
        dome=dome,
        wedge_uncertainty=math.hypot(wedge_doubt.standard_uncertainty, SCATTER),
        dome_uncertainty=math.hypot(dome_doubt.standard_uncertainty, SCATTER),
    )
