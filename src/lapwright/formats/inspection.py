"""What an inspection found, as it goes to other programs: numbers as printed, each with its unit.

These are values of the edge, not of the numerics: decimals, so that a number reads back digit for digit, and a unit
beside each.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Literal

from lapwright.model.verdict import Outcome

LengthUnit = Literal["m", "mm", "um", "nm", "in"]


@dataclass(frozen=True, slots=True, kw_only=True)
class InspectedDevice:
    """A gauge that values rest on, and the calibration that was valid then; unknown is None."""

    device_id: str
    name: str = ""
    certificate: str | None = None
    calibrated: date | None = None
    due: date | None = None
    passed: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class InspectedQuantity:
    """One quantity of one piece: what was asked for, what was measured, how well, and how it was judged.

    All lengths are in `unit`. `expanded_uncertainty` is for 95 %, `standard_uncertainty` is the combined one. None is
    "no such limit", "not measured" or "not known"; an `outcome` of None is "not judged".
    """

    quantity: str
    unit: LengthUnit
    value: Decimal | None
    lower: Decimal | None = None
    upper: Decimal | None = None
    target: Decimal | None = None
    standard_uncertainty: Decimal | None = None
    expanded_uncertainty: Decimal | None = None
    coverage_factor: Decimal | None = None
    outcome: Outcome | None = None
    device_id: str | None = None
    measured: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class InspectedPiece:
    """One piece, its quantities, and how it was judged as a whole."""

    piece_id: str
    quantities: tuple[InspectedQuantity, ...]
    outcome: Outcome | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """The results of one report: whose, for whom, of what, made when and by whom."""

    report: str
    order_id: str
    laboratory: str
    customer: str
    prepared: datetime
    pieces: tuple[InspectedPiece, ...]
    devices: tuple[InspectedDevice, ...] = ()
    prepared_by: str = ""
    customer_reference: str = ""
    material: str = ""
    software_version: str = ""
    simulated: bool = False
