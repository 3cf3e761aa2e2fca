"""Result dictionaries of several pieces on one carrier."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from lapwright.formats.edge_values import deg, mm, um

if TYPE_CHECKING:
    from lapwright.process.common_end import CarrierAdvice, CommonEnd
    from lapwright.process.common_plane import CommonWedge, Levelling


def wedge_dict(wedge: CommonWedge) -> dict[str, Any]:
    """The wedge of all worked faces together."""
    return {
        "common_wedge_um": um(wedge.amount),
        "common_azimuth_deg": deg(wedge.azimuth),
        "reach_mm": mm(wedge.reach),
        "determined": wedge.determined,
    }


def levelling_dict(found: Levelling, *, reach: float) -> dict[str, Any]:
    """The order in which pieces are touched, and what comes off until all are."""
    return {
        **_plane_dict(found.slope_x, found.slope_y, reach),
        "until_each_um": um(found.until_each),
        "until_all_um": um(found.until_all),
        "touches": [
            {"piece": one.name, "touched_after_um": um(one.first), "whole_after_um": um(one.whole)}
            for one in found.touches
        ],
    }


def carrier_advice_dict(found: CarrierAdvice, *, reach: float) -> dict[str, Any]:
    """Whether every piece can be reached, and what to do."""
    return {
        "advice": found.advice,
        "reason": found.reason,
        "parallel_end": _end_dict(found.parallel, reach),
        "tilted_end": _end_dict(found.tilted, reach),
    }


# ----------------------------------------------------------------------------------------------------------------------


def _plane_dict(slope_x: float, slope_y: float, reach: float) -> dict[str, Any]:
    amount = um(math.hypot(slope_x, slope_y) * reach)
    return {"plane_wedge_um": amount, "plane_azimuth_deg": deg(math.atan2(slope_y, slope_x)) if amount else None}


def _end_dict(end: CommonEnd, reach: float) -> dict[str, Any]:
    return {
        **_plane_dict(end.slope_x, end.slope_y, reach),
        "reachable": end.reachable,
        "removal_um": um(end.removal),
        "used": float(f"{end.used:.6g}"),
        "pieces": [
            {
                "piece": one.name,
                "thinnest_um": um(one.thinnest),
                "thickest_um": um(one.thickest),
                "ttv_um": um(one.ttv),
                "least_removal_um": um(one.least_removal),
                "most_removal_um": um(one.most_removal),
                "conforms": one.conforms,
            }
            for one in end.pieces
        ],
    }
