"""The wafer as it is now: from its latest readings, on the carrier by taking off what lies under it.

On the carrier the wafer's thickness is the stack now less what the stack once had more than the wafer (adhesive and
carrier), site by site. Nothing is written here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from lapwright.app import set_values
from lapwright.errors import Conflict, TooFewSites
from lapwright.model.job import RecordedRun, RecordedSet
from lapwright.model.readings import ThicknessSet
from lapwright.model.story import WaferAtWork
from lapwright.model.wafer import ThicknessMap, Wedge

if TYPE_CHECKING:
    from lapwright.metrology.thickness import ThicknessResult

SAME_SITE = 0.2e-3  # m; places closer than this are the same site


@dataclass(frozen=True, slots=True, kw_only=True)
class WaferNow:
    """A wafer at its last measurement: thickness at the centre [m], wedge, since when, and by which set.

    `removed_since` [m] is what the jig's gauge says was taken off after that; it is not in `thickness`.
    """

    thickness: float
    wedge: Wedge | None
    result: ThicknessResult
    set_id: int
    at: datetime
    removed_since: float


def wafer_now(wafer: WaferAtWork) -> WaferNow:
    """The wafer's last map. Raises `Conflict` when it has never been read."""
    latest = wafer.latest
    if latest is None:
        raise Conflict(f"Wafer {wafer.wafer.wafer.wafer_id!r} has not been read yet. Read it in first.")
    result = set_values.result_of(latest) if latest.subject == "wafer" else on_carrier(latest, wafer)
    at = latest.closed.at if latest.closed is not None else latest.opened.at
    return WaferNow(
        thickness=result.mean if result.centre is None else result.centre,
        wedge=result.wedge,
        result=result,
        set_id=latest.set_id,
        at=at,
        removed_since=sum(_removed(run, wafer) for run in wafer.runs if run.ended is not None and run.ended > at),
    )


def on_carrier(now: RecordedSet, wafer: WaferAtWork) -> ThicknessResult:
    """Statistics of the wafer on its carrier, from the stack as read now and the sets the bond was judged by.

    Raises `Conflict` for a wafer that stands on no carrier: what its stack was made of is not kept at hand.
    """
    from lapwright.metrology.thickness import thickness_statistics

    around = now.surroundings
    return thickness_statistics(_derived(now, wafer), outline=around.outline, edge_exclusion=around.edge_exclusion)


def mean_on_carrier(now: RecordedSet, wafer: WaferAtWork) -> float:
    """The mean thickness [m] of that, without the rest."""
    from lapwright.metrology.thickness_sites import site_means

    around = now.surroundings
    found = site_means(_derived(now, wafer), outline=around.outline, edge_exclusion=around.edge_exclusion)
    return float(np.mean(found.thickness))


# ----------------------------------------------------------------------------------------------------------------------


def _derived(now: RecordedSet, wafer: WaferAtWork) -> ThicknessSet:
    from lapwright.metrology.frames import transformed

    if wafer.bond is None:
        raise Conflict(f"Wafer {now.piece!r} stands on no carrier now. Its readings on the carrier are on its page.")
    sets = {one.subject: one for one in wafer.bond_sets}
    stack_then = set_values.sites_of(sets["stack"])
    wafer_then = transformed(set_values.sites_of(sets["wafer"], frame=wafer.bond.wafer_frame))
    stack_now = set_values.sites_of(now)
    labels, x, y, thickness = _wafer_sites(stack_now, stack_then, wafer_then)
    if len(labels) < 3:
        raise TooFewSites("The wafer on its carrier", measured=len(labels), needed=3)
    return ThicknessSet(piece=now.piece, labels=labels, x=x, y=y, site=np.arange(len(labels)), thickness=thickness)


def _wafer_sites(
    stack_now: ThicknessMap, stack_then: ThicknessMap, wafer_then: ThicknessMap
) -> tuple[tuple[str, ...], np.ndarray, np.ndarray, np.ndarray]:
    """Label, place and wafer thickness of the sites of the stack now that the two earlier maps have as well."""
    kept: list[int] = []
    thickness: list[float] = []
    for index in range(len(stack_now.x)):
        then = _nearest(stack_then, stack_now, index)
        before = _nearest(wafer_then, stack_now, index)
        if then is None or before is None:
            continue
        under = stack_then.thickness[then] - wafer_then.thickness[before]
        kept.append(index)
        thickness.append(float(stack_now.thickness[index] - under))
    chosen = np.array(kept, dtype=np.intp)
    labels = tuple(stack_now.labels[index] for index in kept)
    return labels, stack_now.x[chosen], stack_now.y[chosen], np.array(thickness)


def _nearest(sites: ThicknessMap, wanted: ThicknessMap, index: int) -> int | None:
    distance = np.hypot(sites.x - wanted.x[index], sites.y - wanted.y[index])
    nearest = int(np.argmin(distance))
    return nearest if distance[nearest] <= SAME_SITE else None


def _removed(run: RecordedRun, wafer: WaferAtWork) -> float:
    """What a run took off: by the jig's gauge, else by weighing, else by its time, else as planned."""
    from lapwright.app import clock_curves, weighing

    if run.gauge_removal is not None:
        return run.gauge_removal
    weighed = weighing.weighed_removal(run)
    if weighed is not None:
        return weighed.removal
    expected = clock_curves.removal_expected(run)
    if expected is not None:
        return expected
    return next(stage.stage.removal for stage in wafer.stages if stage.stage_id == run.stage_id)
