"""Invented results for tests of results files."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

from lapwright.formats.inspection import InspectedDevice, InspectedPiece, InspectedQuantity, Inspection

TAKEN = datetime(2026, 3, 15, 9, 41, tzinfo=UTC)


def invented_inspection() -> Inspection:
    """Two wafers with every quantity, a doubtful and a failed limit, a value not measured and one not judged."""
    thickness = InspectedQuantity(
        quantity="thickness", unit="um", value=Decimal("100.40"), lower=Decimal(98), upper=Decimal(102),
        target=Decimal(100), standard_uncertainty=Decimal("0.144"), expanded_uncertainty=Decimal("0.29"),
        coverage_factor=Decimal("2.01"), outcome="conforms", device_id="G2", measured=TAKEN,
    )  # fmt: skip
    others = (
        InspectedQuantity(
            quantity="ttv", unit="um", value=Decimal("-0.03"), upper=Decimal(2), expanded_uncertainty=Decimal("0.37"),
            outcome="cannot_be_decided", device_id="G2",
        ),
        InspectedQuantity(quantity="flatness", unit="um", value=Decimal("0.820"), upper=Decimal(1), outcome="conforms"),
        InspectedQuantity(
            quantity="roughness_ra", unit="nm", value=Decimal("1.20"), upper=Decimal(1), outcome="does_not_conform",
            device_id="G1",
        ),
        InspectedQuantity(
            quantity="roughness_sq", unit="nm", value=None, lower=Decimal("0.5"), outcome="cannot_be_decided"
        ),
        InspectedQuantity(quantity="wedge", unit="um", value=Decimal("1.1")),
    )  # fmt: skip
    return Inspection(
        report="AP-2407-C1",
        order_id="AP-2407",
        laboratory="Auwald Photonics",
        customer="Fennbach Filters",
        customer_reference="FF 88/1",
        prepared=datetime(2026, 3, 16, 15, 0, tzinfo=UTC),
        prepared_by="R. Sohl",
        material="lithium tantalate",
        software_version="0.1.0",
        simulated=True,
        devices=(
            InspectedDevice(device_id="G1", name="drop gauge, bench 1"),
            InspectedDevice(
                device_id="G2", name="interferometer <without> contact", certificate="K-G2-26031",
                calibrated=date(2026, 1, 12), due=date(2027, 1, 11), passed=True,
            ),
        ),
        pieces=(
            InspectedPiece(piece_id="AP-2407-01", quantities=(thickness, *others), outcome="does_not_conform"),
            InspectedPiece(piece_id="AP-2407-02", quantities=(thickness,), outcome="conforms"),
        ),
    )  # fmt: skip
