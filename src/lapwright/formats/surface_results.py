"""Result dictionaries of surfaces: fringe maps, roughness, form and flatness, field names with units.

None where the surface cannot say. While the sign of a map is not known, whatever would tell domed from dished is left
out or given as a size.
"""

from __future__ import annotations

import math
from typing import Any

from lapwright.formats.edge_values import deg, edge_value, mm, um
from lapwright.metrology.flatness import Flatness
from lapwright.metrology.fringes import FringeResult
from lapwright.metrology.roughness import RoughnessResult
from lapwright.metrology.roughness_areal import ArealResult
from lapwright.metrology.roughness_parameters import RoughnessParameters
from lapwright.metrology.roughness_settings import ProfileInstrument
from lapwright.metrology.roughness_uncertainty import RoughnessUncertainty
from lapwright.metrology.shape import ShapeResult
from lapwright.metrology.shape_bow import BowAndWarp
from lapwright.metrology.shape_profiles import RollOff
from lapwright.metrology.shape_sites import GlobalFlatness, SiteFlatness
from lapwright.metrology.zernike import ZernikeFit


def fringes_dict(result: FringeResult, shape: ShapeResult, zernike: ZernikeFit | None) -> dict[str, Any]:
    """A fringe map with its form. The tilt is that of the set-up."""
    known = not result.sign_ambiguous
    trusted = result.confidence[result.mask]
    return {
        "method": result.method,
        "n_pixels": result.n_pixels,
        "coverage": _plain(result.coverage),
        "fringe_um": um(result.fringe_height),
        **form_dict(shape, sign_known=known),
        "tilt_um": um(result.tilt),
        "tilt_azimuth_deg": deg(result.tilt_azimuth),
        "zernike_um": zernike_list(zernike),
        "confidence": round(float(trusted.mean()), 4) if trusted.size else None,
        "sign_ambiguous": result.sign_ambiguous,
        "pixel_width_um": um(result.pixel_size[1]),
        "pixel_height_um": um(result.pixel_size[0]),
        "fringes_across": None if result.carrier is None else round(result.carrier.fringes_across, 3),
        "contrast": _plain(result.contrast),
        "noise": _plain(result.noise),
        "steps_deg": None if result.steps is None else [edge_value(s, "_deg", "angle") for s in result.steps.tolist()],
        "islands": [
            {"n_pixels": one.n_pixels, "x_px": round(one.centre[1], 1), "y_px": round(one.centre[0], 1)}
            for one in result.islands
        ],
    }


def form_dict(shape: ShapeResult, *, sign_known: bool) -> dict[str, Any]:
    """Form after the least-squares plane is taken out; power as a size while the sign is not known."""
    power = shape.power if sign_known or shape.power is None else abs(shape.power)
    axis = deg(shape.astigmatism_azimuth, turn=180.0)
    return {
        "diameter_mm": mm(2.0 * shape.aperture.radius),
        "pv_um": um(shape.pv),
        "rms_um": um(shape.rms),
        "robust_pv_um": um(shape.robust_pv),
        "percentiles": list(shape.percentiles),
        "power_um": um(power),
        "astigmatism_um": um(shape.astigmatism),
        "astigmatism_azimuth_deg": axis if sign_known else None,
        "residual_pv_um": um(shape.residual_pv),
        "residual_rms_um": um(shape.residual_rms),
    }


def zernike_list(fit: ZernikeFit | None) -> list[float | None] | None:
    """Zernike coefficients in µm, Noll order from j = 1."""
    return None if fit is None else [um(value) for value in fit.coefficients.tolist()]


def roughness_dict(
    result: RoughnessResult, *, ra: RoughnessUncertainty | None = None, rq: RoughnessUncertainty | None = None
) -> dict[str, Any]:
    """Roughness of a profile with the settings used."""
    settings = result.settings
    waves = result.waviness_parameters
    return {
        "kind": "profile",
        **_profile_fields(result.parameters),
        "wa_nm": _nm(waves.ra),
        "wq_nm": _nm(waves.rq),
        "wz_nm": _nm(waves.rz),
        **_uncertainty_fields("ra", ra),
        **_uncertainty_fields("rq", rq),
        "settings": {
            "cutoff_mm": mm(settings.cutoff),
            "short_cutoff_um": um(settings.short_cutoff),
            "sections": settings.sections,
            "evaluation_length_mm": mm((result.evaluated[1] - result.evaluated[0]) * result.spacing),
            "filter": settings.filter_kind,
            "form": settings.form,
            "setting_class": settings.setting_class,
            "rule": settings.rule,
            "spacing_um": um(result.spacing),
            "n_points": int(result.roughness.size),
            "n_missing": result.n_missing,
            "end_effects": result.end_effects,
            **_instrument_fields(result.instrument),
        },
    }


def areal_roughness_dict(
    result: ArealResult, *, sa: RoughnessUncertainty | None = None, sq: RoughnessUncertainty | None = None
) -> dict[str, Any]:
    """Roughness of a map with the settings used."""
    found, settings, core = result.parameters, result.settings, result.parameters.core
    return {
        "kind": "areal",
        "sa_nm": _nm(found.sa),
        "sq_nm": _nm(found.sq),
        "sz_nm": _nm(found.sz),
        "sp_nm": _nm(found.sp),
        "sv_nm": _nm(found.sv),
        "ssk": _plain(found.ssk),
        "sku": _plain(found.sku),
        "sdq": _plain(found.sdq),
        "sdr_percent": edge_value(found.sdr, "_percent", "share"),
        "sal_um": um(found.sal),
        "str_ratio": _plain(found.str_ratio),
        "sk_nm": _nm(core.rk) if core else None,
        "spk_nm": _nm(core.rpk) if core else None,
        "svk_nm": _nm(core.rvk) if core else None,
        "smr1_percent": edge_value(core.mr1, "_percent", "share") if core else None,
        "smr2_percent": edge_value(core.mr2, "_percent", "share") if core else None,
        **_uncertainty_fields("sa", sa),
        **_uncertainty_fields("sq", sq),
        "settings": {
            "cutoff_mm": mm(settings.cutoff),
            "short_cutoff_um": um(settings.short_cutoff),
            "form": settings.form,
            "pixel_width_um": um(result.pixel_size[1]),
            "pixel_height_um": um(result.pixel_size[0]),
            "n_points": int(result.roughness.size),
            "n_missing": result.n_missing,
            **_instrument_fields(result.instrument),
        },
    }


def flatness_dict(found: Flatness, minimum_zone: float | None, *, sign_known: bool) -> dict[str, Any]:
    """Flatness about the least-squares plane, and FLTt about the minimum-zone plane."""
    return {
        "fltt_um": um(found.fltt),
        "fltp_um": um(found.fltp) if sign_known else None,
        "fltv_um": um(found.fltv) if sign_known else None,
        "fltq_um": um(found.fltq),
        "fltt_minimum_zone_um": um(minimum_zone),
    }


def overall_dict(found: GlobalFlatness, *, is_thickness: bool) -> dict[str, Any]:
    """Global flatness as the SEMI standards name it; GBIR only of a thickness."""
    return {
        "gbir_um": um(found.gbir) if is_thickness else None,
        "gflr_um": um(found.gflr),
        "gfld_um": um(found.gfld),
        "gf3r_um": um(found.gf3r),
    }


def bow_dict(found: BowAndWarp, *, is_median: bool, sign_known: bool) -> dict[str, Any]:
    """Bow and warp of a median surface, or sori of a face."""
    bow, fitted = (found.bow, found.bow_least_squares) if is_median and sign_known else (None, None)
    return {
        "bow_um": um(bow),
        "bow_least_squares_um": um(fitted),
        "warp_um": um(found.warp) if is_median else None,
        "warp_three_point_um": um(found.warp_three_point) if is_median else None,
        "sori_um": None if is_median else um(found.warp),
    }


def rim_dict(rim: RollOff | None, *, sign_known: bool) -> dict[str, Any]:
    """Where the rim begins to fall and by how much."""
    told = rim is not None and sign_known
    return {
        "rim_radius_mm": mm(rim.radius) if rim else None,
        "rim_width_mm": mm(rim.width) if rim else None,
        "rim_drop_um": um(rim.drop) if rim and told else None,
        "roll_off_um": um(rim.amount) if rim and told else None,
    }


def sites_dict(found: SiteFlatness, *, is_thickness: bool) -> dict[str, Any]:
    """Site flatness: the largest of each term, and every site."""
    return {
        "n_sites": int(found.x.size),
        "sbir_max_um": um(float(found.sbir.max())) if is_thickness else None,
        "sfqr_max_um": um(float(found.sfqr.max())),
        "sfqd_max_um": um(float(found.sfqd.max())),
        "sflr_max_um": um(float(found.sflr.max())),
        "sfld_max_um": um(float(found.sfld.max())),
        "partial_rule": found.partial_rule,
        "sites": [
            {
                "x_mm": mm(x),
                "y_mm": mm(y),
                "is_whole": bool(whole),
                "sbir_um": um(sbir) if is_thickness else None,
                "sfqr_um": um(sfqr),
                "sfqd_um": um(sfqd),
                "sflr_um": um(sflr),
                "sfld_um": um(sfld),
            }
            for x, y, whole, sbir, sfqr, sfqd, sflr, sfld in zip(
                *(one.tolist() for one in (
                    found.x, found.y, found.is_whole, found.sbir, found.sfqr, found.sfqd, found.sflr, found.sfld
                )),
                strict=True,
            )
        ],
    }  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _nm(value: float | None) -> float | None:
    number = edge_value(value, "_nm", "length")
    return None if number is None else round(number, 9) + 0.0  # + 0.0: no minus zero


def _plain(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(f"{value:.12g}")


def _profile_fields(found: RoughnessParameters) -> dict[str, Any]:
    core = found.core
    return {
        "ra_nm": _nm(found.ra),
        "rq_nm": _nm(found.rq),
        "rz_nm": _nm(found.rz),
        "rt_nm": _nm(found.rt),
        "rp_nm": _nm(found.rp),
        "rv_nm": _nm(found.rv),
        "rsk": _plain(found.rsk),
        "rku": _plain(found.rku),
        "rdq": _plain(found.rdq),
        "rsm_um": um(found.rsm),
        "rk_nm": _nm(core.rk) if core else None,
        "rpk_nm": _nm(core.rpk) if core else None,
        "rvk_nm": _nm(core.rvk) if core else None,
        "rmr1_percent": edge_value(core.mr1, "_percent", "share") if core else None,
        "rmr2_percent": edge_value(core.mr2, "_percent", "share") if core else None,
    }


def _uncertainty_fields(name: str, told: RoughnessUncertainty | None) -> dict[str, Any]:
    combined = told.combined if told and told.combined and told.combined.expanded_uncertainty > 0.0 else None
    return {
        f"{name}_noise_bias_nm": _nm(told.noise_bias) if told else None,
        f"{name}_less_noise_nm": _nm(combined.value) if combined and told and told.noise_bias is not None else None,
        f"{name}_expanded_uncertainty_nm": _nm(combined.expanded_uncertainty) if combined else None,
        f"{name}_coverage_factor": round(combined.coverage_factor, 3) if combined else None,
    }


def _instrument_fields(instrument: ProfileInstrument) -> dict[str, Any]:
    return {
        "instrument": instrument.kind,
        "tip_radius_um": um(instrument.tip_radius),
        "instrument_noise_nm": _nm(instrument.noise),
    }
