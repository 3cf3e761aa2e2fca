"""The certificate as plain facts: every number once, rounded as it is printed, with its unit in the field's name.

Page and file are both made from these facts, so that neither can say a number that the other does not. How numbers
are rounded stands in `certificate_numbers`. None stands for "not measured" or "not known".
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal

from lapwright.metrology.outlines import extent
from lapwright.model.order import DecisionRule, Quantity
from lapwright.model.readings import Conditions
from lapwright.model.wafer import Outline, Rectangle, Round
from lapwright.reports.certificate_budgets import budget_facts
from lapwright.reports.certificate_data import (
    BondLine,
    CertificateData,
    CertifiedGauge,
    CertifiedSet,
    CertifiedWafer,
    JudgedLimit,
    Measured,
    WaferFigures,
)
from lapwright.reports.certificate_numbers import Fact, Facts, decimals_for, plain, rounded, shown
from lapwright.reports.drawing import Scale, matched_scales
from lapwright.reports.drawing.ink import clock_hour, readable
from lapwright.reports.words import ENGLISH, Words

FORMAT = "lapwright certificate"
FORMAT_VERSION = 1
COVERAGE_PERCENT = 95

#: Unit in which a limited quantity is certified: suffix of its fields and steps per metre.
_UNITS: Mapping[Quantity, tuple[str, float]] = {"roughness_ra": ("nm", 1e9), "roughness_sq": ("nm", 1e9)}
_MICROMETRES = ("um", 1e6)


def certificate_facts(data: CertificateData) -> Facts:
    """All facts of a certificate, in the order in which the page tells them."""
    facts: Facts = {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "document_number": data.document_number,
        "revision": data.revision,
        "issued": data.issued.isoformat(),
        "software_version": data.software_version,
        "simulated": data.simulated,
        "laboratory": data.laboratory,
        "customer": data.customer,
        "customer_reference": data.customer_reference or None,
        "order_id": data.order_id,
        "material": data.material,
        "orientation": data.orientation or None,
        "outline": _outline(data.outline),
        "target_thickness_um": plain(data.target_thickness * 1e6),
        "edge_exclusion_mm": plain(data.edge_exclusion * 1e3),
        "coverage_percent": COVERAGE_PERCENT,
        "decision_rule": _rule(data.rule),
        "wafers": [_wafer(wafer, data.outline) for wafer in data.wafers],
        "gauges": [_gauge(known) for known in data.gauges],
        "method": data.method,
        "remarks": list(data.remarks),
        "definitions": dict(definitions(data, ENGLISH)),
        "signatures": [{"role": line.role, "name": line.name, "signed": _day(line.signed)} for line in data.signatures],
    }
    return {name: _readable(fact) for name, fact in facts.items()}


def definitions(data: CertificateData, words: Words) -> dict[str, str]:
    """What the words on this certificate mean, in a language."""
    percent = shown(plain(data.rule.false_accept * 100.0), words)
    return {
        "decision_rule": _rule_in_words(data.rule, words).format(percent=percent),
        "uncertainty": words["meaning_uncertainty"].format(percent=COVERAGE_PERCENT),
        **{key: words[f"meaning_{key}"] for key in ("thickness", "ttv", "ttv_corrected", "wedge", "dome", "frame")},
    }


def unit_of(quantity: Quantity) -> str:
    """The unit in which a limited quantity is certified, as the end of a field: ``um`` or ``nm``."""
    return _UNITS.get(quantity, _MICROMETRES)[0]


def map_scales(wafer: CertifiedWafer) -> tuple[Scale | None, Scale | None]:
    """Colour scales of the maps before and after: one common scale, or equal steps where they lie far apart."""
    taken = [one for one in (wafer.before, wafer.after) if one is not None]
    scales = iter(matched_scales(*(one.map for one in taken)))
    return (
        next(scales) if wafer.before is not None else None,
        next(scales) if wafer.after is not None else None,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _readable(fact: Fact) -> Fact:
    """A fact whose texts hold nothing that a document may not."""
    if isinstance(fact, str):
        return readable(fact)
    if isinstance(fact, list):
        return [_readable(inner) for inner in fact]
    if isinstance(fact, dict):
        return {name: _readable(inner) for name, inner in fact.items()}
    return fact


def _outline(outline: Outline) -> Facts:
    if isinstance(outline, Round):
        mark: Facts = {"flat_length_mm": plain(outline.flat_length * 1e3)} if outline.mark == "flat" else {}
        return {"shape": "round", "diameter_mm": plain(outline.diameter * 1e3), "mark": outline.mark, **mark}
    if isinstance(outline, Rectangle):
        return {
            "shape": "rectangle", "width_mm": plain(outline.width * 1e3), "height_mm": plain(outline.height * 1e3),
        }  # fmt: skip
    corners: list[Fact] = [{"x_mm": plain(x * 1e3), "y_mm": plain(y * 1e3)} for x, y in outline.corners]
    return {"shape": "polygon", "corners": corners}


def _rule(rule: DecisionRule) -> Facts:
    by_chance = rule.kind == "guarded" and rule.guard_factor is None
    facts: Facts = {
        "kind": rule.kind, "false_accept_percent": plain(rule.false_accept * 100.0) if by_chance else None,
    }  # fmt: skip
    return facts if rule.guard_factor is None else {**facts, "guard_factor": plain(rule.guard_factor)}


def _rule_in_words(rule: DecisionRule, words: Words) -> str:
    if rule.guard_factor is None:
        return words[f"rule_{rule.kind}"]
    return words["rule_guard_factor"].replace("{factor}", shown(plain(rule.guard_factor), words))


def _gauge(known: CertifiedGauge) -> Facts:
    gauge, calibration = known.gauge, known.calibration
    facts: Facts = {
        "gauge_id": gauge.gauge_id,
        "name": gauge.name,
        "contact": gauge.contact,
        "limit_um": plain(gauge.limit * 1e6),
        "resolution_um": plain(gauge.resolution * 1e6) if gauge.resolution else None,
        "calibration": None,
    }
    if calibration is not None:
        facts["calibration"] = {
            "certificate": calibration.certificate,
            "done": calibration.done.isoformat(),
            "due": calibration.due.isoformat(),
            "passed": calibration.passed,
            "deviation_um": rounded(calibration.deviation * 1e6, decimals_for(calibration.expanded_uncertainty * 1e6)),
            "expanded_uncertainty_um": rounded(
                calibration.expanded_uncertainty * 1e6, decimals_for(calibration.expanded_uncertainty * 1e6)
            ),
        }
    return facts


def _wafer(wafer: CertifiedWafer, outline: Outline) -> Facts:
    scales = map_scales(wafer)
    return {
        "wafer_id": wafer.wafer_id,
        "outcome": wafer.outcome,
        "limits": [_limit(judged) for judged in wafer.limits],
        "before": _set(wafer.before, outline, scales[0]),
        "after": _set(wafer.after, outline, scales[1]),
        "bond": _bond(wafer.bond, outline),
        "sites": _sites(wafer),
        "remarks": list(wafer.remarks),
    }


def _limit(judged: JudgedLimit) -> Facts:
    verdict = judged.verdict
    unit, factor = _UNITS.get(verdict.limit.quantity, _MICROMETRES)
    measured = Measured(
        value=verdict.value,
        expanded_uncertainty=verdict.expanded_uncertainty,
        coverage_factor=verdict.coverage_factor,
    )
    bounds: Facts = {
        f"{side}_{unit}": plain(bound * factor) if bound is not None else None
        for side, bound in (("lower", verdict.limit.lower), ("upper", verdict.limit.upper))
    }
    return {
        "quantity": verdict.limit.quantity,
        **bounds,
        **_measured("measured", measured, unit=unit, factor=factor, prefix=""),
        "outcome": verdict.outcome,
        "gauge_id": judged.gauge_id,
    }


def _measured(name: str, measured: Measured | None, *, unit: str, factor: float, prefix: str | None = None) -> Facts:
    """Value, expanded uncertainty and coverage factor under one name."""
    before = f"{name}_" if prefix is None else prefix
    if measured is None:
        return {
            f"{name}_{unit}": None, f"{before}expanded_uncertainty_{unit}": None, f"{before}coverage_factor": None,
        }  # fmt: skip
    half = None if measured.expanded_uncertainty is None else measured.expanded_uncertainty * factor
    decimals = decimals_for(half)
    return {
        f"{name}_{unit}": rounded(measured.value * factor, decimals),
        f"{before}expanded_uncertainty_{unit}": rounded(half, decimals),
        f"{before}coverage_factor": rounded(measured.coverage_factor, 2),
    }


def _um(name: str, measured: Measured | None) -> Facts:
    return _measured(name, measured, unit="um", factor=1e6)


def _wedge(measured: Measured | None, azimuth: float | None, outline: Outline) -> Facts:
    """A wedge in µm over the full diameter, in arc seconds, and its direction in degrees and on the clock."""
    width = _wedge_width(outline, azimuth)
    slope = None if measured is None or width is None else math.degrees(math.atan(measured.value / width)) * 3600.0
    degrees = None if azimuth is None else round(math.degrees(azimuth)) % 360
    return {
        **_um("wedge", measured),
        "wedge_arcsec": rounded(slope, 1),
        "wedge_azimuth_deg": degrees,
        "wedge_clock_hour": None if degrees is None else clock_hour(degrees),
    }


def _wedge_width(outline: Outline, azimuth: float | None) -> float | None:
    """The length over which a wedge is stated; it depends on the direction where the piece is not round."""
    if isinstance(outline, Round):
        return outline.diameter
    return None if azimuth is None else extent(outline, azimuth=azimuth)


def _set(taken: CertifiedSet | None, outline: Outline, scale: Scale | None) -> Facts | None:
    if taken is None:
        return None
    missing = sum(not math.isfinite(value) for value in taken.map.thickness)
    return {
        "set_id": taken.set_id,
        "taken": _moment(taken.taken),
        "gauge_id": taken.gauge_id,
        "operator": taken.operator,
        "pattern": taken.pattern,
        "n_sites": len(taken.map.thickness),
        "n_not_measured": missing,
        "repeats": taken.repeats,
        **_conditions(taken.conditions),
        **_figures(taken.figures, outline),
        "budgets": budget_facts(taken.figures),
        "scale_ticks_um": [rounded(tick, scale.decimals) for tick in scale.ticks] if scale else [],
    }


def _conditions(conditions: Conditions) -> Facts:
    warm = conditions.temperature
    return {
        "hold": conditions.hold,
        "temperature_c": None if warm is None else rounded(warm - 273.15, 1),
        "soaked": conditions.soaked,
        "zero_before_um": rounded(_micro(conditions.zero_before), 2),
        "zero_after_um": rounded(_micro(conditions.zero_after), 2),
    }


def _figures(figures: WaferFigures, outline: Outline) -> Facts:
    decimals = decimals_for(_micro(figures.ttv.expanded_uncertainty))
    return {
        **_um("mean", figures.mean),
        "centre_um": rounded(_micro(figures.centre), 2),
        "min_um": rounded(_micro(figures.minimum), 2),
        "max_um": rounded(_micro(figures.maximum), 2),
        **_um("ttv", figures.ttv),
        "ttv_noise_bias_um": rounded(_micro(figures.ttv_noise_bias), decimals),
        "ttv_corrected_um": rounded(_micro(figures.ttv_corrected), decimals),
        **_wedge(figures.wedge, figures.wedge_azimuth, outline),
        **_um("dome", figures.dome),
        "residual_rms_um": rounded(_micro(figures.residual_rms), 3),
    }


def _bond(bond: BondLine | None, outline: Outline) -> Facts | None:
    if bond is None:
        return None
    return {
        "carrier_id": bond.carrier_id,
        "adhesive": bond.adhesive,
        **_um("mean", bond.mean),
        "range_um": rounded(_micro(bond.range), 2),
        **_wedge(bond.wedge, bond.wedge_azimuth, outline),
    }


def _sites(wafer: CertifiedWafer) -> list[Fact]:
    """One row a place: one that both sets have stands once, under both names where their patterns name it otherwise.

    A set that lacks a place leaves its field out.
    """
    rows: dict[tuple[Decimal | None, Decimal | None, str], Facts] = {}
    at: dict[tuple[Decimal | None, Decimal | None], Facts] = {}
    for moment, taken in (("before", wafer.before), ("after", wafer.after)):
        if taken is None:
            continue
        for i, value in enumerate(taken.map.thickness):
            label = taken.map.labels[i] if taken.map.labels else str(i + 1)
            place = (rounded(float(taken.map.x[i]) * 1e3, 2), rounded(float(taken.map.y[i]) * 1e3, 2))
            row = at.get(place)
            if row is None or f"{moment}_um" in row:
                row = rows.setdefault((*place, label), {"site": label, "x_mm": place[0], "y_mm": place[1]})
                at.setdefault(place, row)
            elif row["site"] != label:
                row["site"] = f"{row['site']} / {label}"
            row[f"{moment}_um"] = rounded(float(value) * 1e6, 2)
    return list(rows.values())


def _micro(length: float | None) -> float | None:
    return None if length is None else length * 1e6


def _moment(at: datetime) -> str:
    return at.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC")


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None
