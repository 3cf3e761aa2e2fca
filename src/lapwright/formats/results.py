"""Result dictionaries: what commands, pages and archives say about a computed value, field names with units.

Built here once, from the dataclasses that metrology and process give. None where the readings cannot say.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from lapwright.formats.edge_values import deg, edge_value, mm, um
from lapwright.formats.json_line import warning_dict
from lapwright.metrology.bond_line import BondResult
from lapwright.metrology.outliers import Outlier
from lapwright.metrology.propagation import contribution_shares
from lapwright.metrology.thickness import ThicknessResult
from lapwright.metrology.thickness_sites import Notice
from lapwright.metrology.uncertainty import Budget, CombinedUncertainty
from lapwright.model.readings import Conditions
from lapwright.model.verdict import BondVerdict
from lapwright.model.wafer import Frame, ThicknessMap, Wedge
from lapwright.process.jig import JigCorrection


def thickness_dict(result: ThicknessResult, *, with_sites: bool = False) -> dict[str, Any]:
    """One piece's thickness, TTV, wedge and dome; with the site means when asked for."""
    answer = {
        "wafer": result.piece,
        "n_sites": result.n_sites,
        "n_readings": result.n_readings,
        "mean_um": um(result.mean),
        "mean_expanded_uncertainty_um": _expanded_um(result.mean_uncertainty),
        "mean_coverage_factor": _coverage(result.mean_uncertainty),
        "centre_um": um(result.centre),
        "min_um": um(result.minimum),
        "max_um": um(result.maximum),
        "ttv_um": um(result.ttv),
        "ttv_noise_bias_um": um(result.ttv_noise_bias),
        "ttv_corrected_um": um(result.ttv_corrected),
        "ttv_expanded_uncertainty_um": _expanded_um(result.ttv_uncertainty),
        "ttv_coverage_factor": _coverage(result.ttv_uncertainty),
        "repeat_deviation_um": um(result.repeat_deviation),
        "scatter_source": result.scatter.source if result.scatter else None,
        **_wedge_fields(result.wedge, "wedge"),
        "wedge_expanded_uncertainty_um": _expanded_um(result.wedge_uncertainty),
        "wedge_um_per_mm": _slope(result.wedge_angle),
        "wedge_arcsec": edge_value(result.wedge_angle, "_arcsec", "angle"),
        "dome_um": um(result.dome),
        "dome_expanded_uncertainty_um": _expanded_um(result.dome_uncertainty),
        "saddle_um": um(result.saddle.amount) if result.saddle else None,
        "saddle_azimuth_deg": deg(result.saddle.azimuth, turn=180.0) if result.saddle else None,
        "residual_rms_um": um(result.residual_rms),
        "outliers": outlier_dicts(result.outliers),
        "zero_drift_um": um(result.zero_drift),
        **conditions_dict(result.conditions),
        "mean_budget": budget_dicts(result.mean_budget),
        "ttv_budget": budget_dicts(result.ttv_budget),
        "wedge_budget": budget_dicts(result.wedge_budget),
    }
    return {**answer, "sites": site_dicts(result.sites)} if with_sites else answer


def conditions_dict(conditions: Conditions) -> dict[str, Any]:
    """How a set was taken."""
    return {
        "hold": conditions.hold,
        "temperature_c": edge_value(conditions.temperature, "temperature_c", "temperature"),
        "soaked": conditions.soaked,
    }


def outlier_dicts(outliers: Sequence[Outlier]) -> list[dict[str, Any]]:
    """Sites that stand out, each with the reason."""
    return [{"site": one.label, "deviation_um": um(one.deviation), "reason": one.reason} for one in outliers]


def budget_dicts(budget: Budget | None) -> list[dict[str, Any]] | None:
    """The lines of an uncertainty budget of a length, standard uncertainties as they act on the result."""
    if budget is None:
        return None
    return [
        {
            "name": line.name,
            "standard_uncertainty_um": um(line.standard_uncertainty * abs(line.sensitivity)),
            "percent_of_variance": 100.0 * share,
            "degrees_of_freedom": line.degrees_of_freedom,
            "distribution": line.distribution,
        }
        for line, share in zip(budget.contributions, contribution_shares(budget), strict=True)
    ]


def site_dicts(sites: ThicknessMap) -> list[dict[str, Any]]:
    """The means of all sites of a map, with their places."""
    return [
        {"site": label, "x_mm": mm(x), "y_mm": mm(y), "thickness_um": um(value)}
        for label, x, y, value in zip(
            sites.labels, sites.x.tolist(), sites.y.tolist(), sites.thickness.tolist(), strict=True
        )
    ]


def frame_dict(frame: Frame) -> dict[str, Any]:
    """How a map lies in the wafer frame."""
    return {"seen_from": frame.seen_from, "turn_deg": deg(frame.turn)}


def notice_dicts(notices: Sequence[Notice], **about: object) -> list[dict[str, Any]]:
    """Warnings with their codes, and what they are about."""
    return [warning_dict(code, sentence, **about) for code, sentence in notices]


def bond_dict(result: BondResult, verdict: BondVerdict | None, *, with_sites: bool = False) -> dict[str, Any]:
    """The bond line of one stack, the wafer it will give, and what to do about it."""
    answer = {
        "n_sites": len(result.bond.labels),
        "mean_um": um(result.mean),
        "mean_expanded_uncertainty_um": _expanded_um(result.mean_uncertainty),
        "min_um": um(result.minimum),
        "max_um": um(result.maximum),
        "range_um": um(result.range),
        **_wedge_fields(result.wedge, "wedge"),
        "wedge_expanded_uncertainty_um": _expanded_um(result.wedge_uncertainty),
        "site_expanded_uncertainty_um": _expanded_um(result.site_uncertainty),
        "suspects": outlier_dicts(result.suspects),
        "predicted_ttv_um": um(result.predicted_ttv),
        "predicted_ttv_noise_bias_um": um(result.predicted_ttv_noise_bias),
        "predicted_ttv_expanded_uncertainty_um": _expanded_um(result.predicted_ttv_uncertainty),
        **_wedge_fields(result.predicted_wedge, "predicted_wedge"),
        "predicted_wedge_expanded_uncertainty_um": _expanded_um(result.predicted_wedge_uncertainty),
        "frame": {
            **frame_dict(result.frame),
            "wafer": frame_dict(result.frames.wafer),
            "carrier": frame_dict(result.frames.carrier),
            "stack": frame_dict(result.frames.stack),
        },
        "verdict": {"advice": verdict.advice, "reason": verdict.reason} if verdict else None,
    }
    return {**answer, "sites": _bond_site_dicts(result)} if with_sites else answer


def jig_dict(correction: JigCorrection) -> dict[str, Any]:
    """The move of each adjuster, and the wedge that rounding leaves."""
    return {
        "adjusters": [
            {
                "azimuth_deg": deg(move.azimuth),
                "correction_um": um(move.correction),
                "divisions_exact": float(f"{move.divisions_exact:.12g}"),
                "divisions_to_set": move.divisions_to_set,
            }
            for move in correction.moves
        ],
        **_wedge_fields(correction.residual, "residual_wedge", azimuth="residual_azimuth_deg"),
        "centre_shift_um": um(correction.centre_shift),
        "misfit_um": um(correction.misfit),
        "voids": list(correction.voids),
    }


def load_dict(load: float, pressure: float) -> dict[str, Any]:
    """A load [N] as force and as mass, and the pressure it gives."""
    return {
        "load_n": edge_value(load, "load_n", "load"),
        "load_kg": edge_value(load, "load_kg", "load"),
        "pressure_kpa": edge_value(pressure, "pressure_kpa", "pressure"),
    }


# ----------------------------------------------------------------------------------------------------------------------


def _bond_site_dicts(result: BondResult) -> list[dict[str, Any]]:
    predicted = result.predicted or result.predicted_deviation
    name = "predicted_deviation_um" if result.predicted is None else "predicted_thickness_um"
    bonds, values = site_dicts(result.bond), predicted.thickness.tolist()
    return [
        {
            "site": bond["site"],
            "x_mm": bond["x_mm"],
            "y_mm": bond["y_mm"],
            "bond_um": bond["thickness_um"],
            name: um(value),
        }
        for bond, value in zip(bonds, values, strict=True)
    ]


def _wedge_fields(wedge: Wedge | None, name: str, *, azimuth: str | None = None) -> dict[str, Any]:
    return {
        f"{name}_um": um(wedge.amount) if wedge else None,
        azimuth or f"{name}_azimuth_deg": deg(wedge.azimuth) if wedge else None,
    }


def _expanded_um(uncertainty: CombinedUncertainty | None) -> float | None:
    return um(uncertainty.expanded_uncertainty) if uncertainty else None


def _coverage(uncertainty: CombinedUncertainty | None) -> float | None:
    return float(f"{uncertainty.coverage_factor:.6g}") if uncertainty else None


def _slope(angle: float | None) -> float | None:
    """A small slope in µm per mm."""
    return None if angle is None else float(f"{math.tan(angle) * 1e3:.12g}")
