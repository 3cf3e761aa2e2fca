"""Invented certificates for tests and for the drawings in the docs; every number comes from a seed."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime

import numpy as np

from lapwright.metrology.uncertainty import Budget, Contribution
from lapwright.model.order import DecisionRule, Limit, Quantity
from lapwright.model.readings import Calibration, Conditions, Gauge
from lapwright.model.verdict import Outcome, Verdict
from lapwright.model.wafer import Outline, Round, ThicknessMap
from lapwright.reports.certificate_data import (
    BondLine,
    CertificateData,
    CertifiedGauge,
    CertifiedSet,
    CertifiedWafer,
    JudgedLimit,
    Measured,
    SignatureLine,
    WaferFigures,
)

OUTLINE = Round(diameter=50.8e-3, mark="flat", flat_length=16e-3)
_RULE = DecisionRule(kind="guarded", false_accept=0.02)


def invented_certificate(
    *,
    seed: int = 2407,
    wafers: int = 2,
    rings: int = 2,
    customer: str = "Fennbach Filters",
    outline: Outline = OUTLINE,
    rule: DecisionRule = _RULE,
) -> CertificateData:
    """A whole certificate with before and after sets, a site not measured, a doubtful and a failed limit."""
    rng = np.random.default_rng(seed)
    return CertificateData(
        document_number="AP-2407-C1",
        issued=date(2026, 3, 16),
        software_version="0.1.0",
        laboratory="Auwald Photonics",
        order_id="AP-2407",
        customer=customer,
        customer_reference="FF 88/1",
        material="lithium tantalate",
        orientation="42° rotated Y cut",
        outline=outline,
        target_thickness=100e-6,
        edge_exclusion=2e-3,
        rule=rule,
        wafers=tuple(_wafer(i + 1, rng, rings=rings, rule=rule) for i in range(wafers)),
        gauges=(
            _gauge("G1", "drop gauge, bench 1", contact=True, limit=0.8e-6),
            _gauge("G2", "interferometer without contact", contact=False, limit=0.15e-6),
        ),
        method="Three readings a site on each pattern, zero taken before and after each set on the reference block.",
        remarks=("Wafer 2 was reported as doubtful on day 2.",),
        simulated=True,
        signatures=(
            SignatureLine(role="Measured by", name="R. Sohl", signed=date(2026, 3, 15)),
            SignatureLine(role="Released by"),
        ),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _gauge(gauge_id: str, name: str, *, contact: bool, limit: float) -> CertifiedGauge:
    return CertifiedGauge(
        gauge=Gauge(gauge_id=gauge_id, name=name, limit=limit, resolution=0.05e-6, contact=contact),
        calibration=Calibration(
            gauge_id=gauge_id,
            certificate=f"K-{gauge_id}-26031",
            done=date(2026, 1, 12),
            due=date(2027, 1, 11),
            deviation=0.13e-6,
            expanded_uncertainty=0.21e-6,
        ),
    )


def _wafer(number: int, rng: np.random.Generator, *, rings: int, rule: DecisionRule) -> CertifiedWafer:
    before = _set(rng, thickness=500e-6, wedge=3.2e-6, noise=0.35e-6, rings=rings)
    after = _set(rng, thickness=100.4e-6, wedge=1.1e-6, noise=0.12e-6, rings=rings, missing=number == 2)
    outcomes: dict[int, Outcome] = {2: "cannot_be_decided", 5: "does_not_conform"}
    return CertifiedWafer(
        wafer_id=f"AP-2407-0{number}",
        limits=(
            _judged("thickness", 98e-6, 102e-6, after.figures.mean, rule=rule),
            _judged("ttv", None, 2e-6, after.figures.ttv, rule=rule, outcome=outcomes.get(number, "conforms")),
            _judged("roughness_ra", None, 1e-9, Measured(value=0.62e-9, expanded_uncertainty=0.11e-9), rule=rule),
        ),
        before=before,
        after=after,
        bond=BondLine(
            carrier_id=f"C-0{number}",
            adhesive="quartz wax",
            mean=Measured(value=5.3e-6 + 0.21e-6 * number, expanded_uncertainty=0.42e-6, coverage_factor=2.03),
            range=1.17e-6,
            wedge=Measured(value=0.83e-6, expanded_uncertainty=0.36e-6, coverage_factor=2.09),
            wedge_azimuth=math.radians(212.0),
        ),
    )


def _judged(
    quantity: Quantity,
    lower: float | None,
    upper: float | None,
    measured: Measured,
    *,
    rule: DecisionRule,
    outcome: Outcome = "conforms",
) -> JudgedLimit:
    verdict = Verdict(
        limit=Limit(quantity=quantity, lower=lower, upper=upper),
        value=measured.value,
        expanded_uncertainty=measured.expanded_uncertainty,
        coverage_factor=measured.coverage_factor,
        rule=rule,
        outcome=outcome,
        chance_inside=None,
        reason="invented",
    )
    return JudgedLimit(verdict=verdict, gauge_id="G2")


def _budget(*, limit: float, scatter: float) -> Budget:
    lines = [Contribution(name="repeat scatter", standard_uncertainty=scatter)]
    lines += [Contribution(name="accuracy limit of the gauge", standard_uncertainty=limit)] if limit else []
    return Budget(
        contributions=(*lines, Contribution(name="correction curve, certificate K-7", standard_uncertainty=0.04e-6))
    )


def _set(
    rng: np.random.Generator, *, thickness: float, wedge: float, noise: float, rings: int, missing: bool = False
) -> CertifiedSet:
    radius, azimuth = 23.4e-3, float(rng.uniform(0.0, math.tau))
    ring = [(0.0, 0.0)]
    for k in range(1, rings + 1):
        turns = np.arange(8 * k) * math.tau / (8 * k)
        ring += [(radius * k / rings * math.cos(a), radius * k / rings * math.sin(a)) for a in turns]
    x, y = np.array(ring).T.copy()
    along = (x * math.cos(azimuth) + y * math.sin(azimuth)) / OUTLINE.diameter
    value = thickness + wedge * along - 0.8e-6 * (x**2 + y**2) / radius**2 + rng.normal(0.0, noise, len(x))
    if missing:
        value[4] = np.nan
    figures = WaferFigures(
        mean=Measured(value=float(np.nanmean(value)), expanded_uncertainty=0.29e-6, coverage_factor=2.01),
        ttv=Measured(
            value=float(np.nanmax(value) - np.nanmin(value)), expanded_uncertainty=0.37e-6, coverage_factor=2.06
        ),
        wedge=Measured(value=wedge, expanded_uncertainty=0.24e-6, coverage_factor=2.14),
        centre=float(value[0]),
        minimum=float(np.nanmin(value)),
        maximum=float(np.nanmax(value)),
        ttv_noise_bias=0.31e-6,
        ttv_corrected=float(np.nanmax(value) - np.nanmin(value)) - 0.31e-6,
        wedge_azimuth=azimuth,
        dome=Measured(value=0.8e-6, expanded_uncertainty=0.26e-6, coverage_factor=2.11),
        residual_rms=noise,
        mean_budget=_budget(limit=0.144e-6, scatter=0.073e-6) if thickness < 400e-6 else None,
        ttv_budget=_budget(limit=0.0, scatter=0.082e-6) if thickness < 400e-6 else None,
    )
    return CertifiedSet(
        map=ThicknessMap(x=x, y=y, thickness=value, labels=tuple(f"S{i + 1}" for i in range(len(x)))),
        figures=figures,
        gauge_id="G2",
        operator="R. Sohl",
        taken=datetime(2026, 3, 15, 9, 41, tzinfo=UTC),
        pattern="polar rings",
        repeats=3,
        conditions=Conditions(hold="free", temperature=295.04, soaked=True, zero_before=0.02e-6, zero_after=-0.04e-6),
        set_id=f"R-{int(rng.integers(100, 999))}",
    )
