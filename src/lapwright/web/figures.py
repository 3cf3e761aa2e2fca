"""What a set of readings says, arranged for a page; computed by the use cases, not here."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from django.utils.translation import gettext as _

from lapwright.app import bonding, readings
from lapwright.errors import LapwrightError
from lapwright.metrology.thickness import ThicknessResult
from lapwright.metrology.uncertainty import CombinedUncertainty
from lapwright.model.job import RecordedBond, RecordedSet
from lapwright.model.order import Order
from lapwright.model.story import WaferStory
from lapwright.model.wafer import Outline, ThicknessMap
from lapwright.reports.drawing import map_scale
from lapwright.web.lettering import wafer_map
from lapwright.web.sentences import decimal
from lapwright.web.words import MOMENTS


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """The result of one set, or the sentence why there is none yet. SI."""

    result: ThicknessResult | None
    sentence: str
    mean_uncertainty: float | None = None
    ttv_uncertainty: float | None = None
    wedge_uncertainty: float | None = None
    map: str | None = None

    @property
    def suspects(self) -> str:
        """The sites that stick out, named."""
        return ", ".join(outlier.label for outlier in self.result.outliers) if self.result else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BondView:
    """A bond as shown on the Traveller: the record, its maps when they can be had."""

    bond: RecordedBond
    maps: tuple[str, ...] = ()
    sentence: str = ""


def set_figures(recorded: RecordedSet, outline: Outline, *, drawn: bool = False) -> Figures:
    """The figures of a set as far as its readings carry them; with `drawn` the map, too."""
    try:
        result = readings.recorded_result(recorded)
    except LapwrightError as error:
        return Figures(result=None, sentence=error.sentence)
    heading = f"{recorded.piece}, {MOMENTS[recorded.moment]}"
    return Figures(
        result=result,
        sentence="",
        mean_uncertainty=_expanded(result.mean_uncertainty),
        ttv_uncertainty=_expanded(result.ttv_uncertainty),
        wedge_uncertainty=_expanded(result.wedge_uncertainty),
        map=wafer_map(result.sites, outline, heading=heading, wedge=result.wedge) if drawn else None,
    )


def outline_of(story: WaferStory) -> Outline:
    """The outline of a wafer."""
    return story.wafer.wafer.outline


def form_drawings(story: WaferStory) -> list[str]:
    """Maps of the wafer as it came and as it is finished, as deviations from their means, on one scale."""
    outline = outline_of(story)
    found: list[tuple[RecordedSet, ThicknessResult]] = []
    for moment in ("incoming", "final"):
        closed = [one for one in story.sets if one.moment == moment and one.state == "closed"]
        if closed:
            result = set_figures(closed[-1], outline).result
            if result is not None:
                found.append((closed[-1], result))
    deviations = [_deviation(result) for _recorded, result in found]
    scale = map_scale(*deviations) if deviations else None
    return [
        wafer_map(
            deviation,
            outline,
            heading=_("%(moment)s: deviation from %(mean)s µm")
            % {"moment": MOMENTS[recorded.moment], "mean": decimal(f"{result.mean * 1e6:.2f}")},
            scale=scale,
            wedge=result.wedge,
        )
        for (recorded, result), deviation in zip(found, deviations, strict=True)
    ]


def bond_views(story: WaferStory, order: Order) -> list[BondView]:
    """The bonds of a wafer, the latest first and with maps of adhesive and of the wafer it would give."""
    latest_first = list(reversed(story.bonds))
    views = [BondView(bond=bond) for bond in latest_first]
    if views:
        views[0] = _bond_view(latest_first[0], order)
    return views


# ----------------------------------------------------------------------------------------------------------------------


def _expanded(uncertainty: CombinedUncertainty | None) -> float | None:
    return uncertainty.expanded_uncertainty if uncertainty else None


def _deviation(result: ThicknessResult) -> ThicknessMap:
    thickness = np.array(result.sites.thickness) - result.mean
    return replace(result.sites, thickness=thickness)


def _bond_view(bond: RecordedBond, order: Order) -> BondView:
    if bond.numbers is None:
        return BondView(bond=bond)
    try:
        result = bonding.bond_result(bond, order)
    except LapwrightError as error:
        return BondView(bond=bond, sentence=error.sentence)
    maps = [wafer_map(result.bond, order.outline, heading=_("Adhesive"), wedge=bond.numbers.wedge)]
    if result.predicted is not None:
        heading = _("Wafer it would give")
        maps.append(wafer_map(result.predicted, order.outline, heading=heading, wedge=bond.numbers.predicted_wedge))
    return BondView(bond=bond, maps=tuple(maps))
