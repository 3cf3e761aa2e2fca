"""Use cases: the facts of a certificate as results for other programs."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from lapwright.formats.inspection import InspectedDevice, InspectedPiece, InspectedQuantity, Inspection, LengthUnit

if TYPE_CHECKING:
    from lapwright.reports.certificate_data import CertificateData, CertifiedGauge, CertifiedWafer, JudgedLimit

#: What is judged from the readings of the final set, and so was measured when that set was taken.
_FROM_SET = ("thickness", "ttv", "wedge")


def inspection_of(data: CertificateData, *, prepared: datetime, prepared_by: str) -> Inspection:
    """The judged limits of a certificate, each number rounded as the certificate prints it."""
    return Inspection(
        report=data.document_number,
        order_id=data.order_id,
        laboratory=data.laboratory,
        customer=data.customer,
        customer_reference=data.customer_reference,
        prepared=prepared,
        prepared_by=prepared_by,
        material=data.material,
        software_version=data.software_version,
        simulated=data.simulated,
        devices=_devices(data),
        pieces=tuple(_piece(one, data) for one in data.wafers),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _devices(data: CertificateData) -> tuple[InspectedDevice, ...]:
    """The gauges of the certificate, and any other that a verdict names: an earlier set may have been judged."""
    listed = {one.gauge.gauge_id: _device(one) for one in data.gauges}
    named = {judged.gauge_id for wafer in data.wafers for judged in wafer.limits if judged.gauge_id is not None}
    return (*listed.values(), *(InspectedDevice(device_id=one) for one in sorted(named - set(listed))))


def _device(known: CertifiedGauge) -> InspectedDevice:
    gauge, calibration = known.gauge, known.calibration
    if calibration is None:
        return InspectedDevice(device_id=gauge.gauge_id, name=gauge.name)
    return InspectedDevice(
        device_id=gauge.gauge_id,
        name=gauge.name,
        certificate=calibration.certificate,
        calibrated=calibration.done,
        due=calibration.due,
        passed=calibration.passed,
    )


def _piece(wafer: CertifiedWafer, data: CertificateData) -> InspectedPiece:
    return InspectedPiece(
        piece_id=wafer.wafer_id,
        quantities=tuple(_quantity(one, wafer, data) for one in wafer.limits),
        outcome=wafer.outcome,
    )


def _quantity(judged: JudgedLimit, wafer: CertifiedWafer, data: CertificateData) -> InspectedQuantity:
    from lapwright.reports.certificate_facts import unit_of
    from lapwright.reports.certificate_numbers import decimals_for, plain, rounded

    verdict = judged.verdict
    quantity = verdict.limit.quantity
    unit: LengthUnit = "nm" if unit_of(quantity) == "nm" else "um"
    steps = 1e9 if unit == "nm" else 1e6
    half = None if verdict.expanded_uncertainty is None else verdict.expanded_uncertainty * steps
    decimals = decimals_for(half)
    factor = verdict.coverage_factor
    lower, upper = (None if one is None else plain(one * steps) for one in (verdict.limit.lower, verdict.limit.upper))
    return InspectedQuantity(
        quantity=quantity,
        unit=unit,
        value=rounded(verdict.value * steps, decimals),
        lower=lower,
        upper=upper,
        target=plain(data.target_thickness * steps) if quantity == "thickness" else None,
        standard_uncertainty=None if half is None or not factor else rounded(half / factor, decimals + 1),
        expanded_uncertainty=rounded(half, decimals),
        coverage_factor=rounded(factor, 2),
        outcome=verdict.outcome,
        device_id=judged.gauge_id,
        measured=wafer.after.taken if wafer.after is not None and quantity in _FROM_SET else None,
    )
