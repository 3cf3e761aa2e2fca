"""A quotation as given: what a job will cost and take, on what it rests, and until when it holds. SI and money.

A quotation keeps the prices it was reckoned with, so that a later price list changes neither it nor what the job is
compared with afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from lapwright.errors import OutOfValidRange
from lapwright.model.plan import Plan
from lapwright.model.prices import PriceList
from lapwright.model.readings import Signature

#: Where the delivery days come from: the accepted schedule, or the hours of work over those of the shop.
DeliveryBasis = Literal["board", "hours"]


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotedLine:
    """One line for the whole order: expected `cost` with its 90 % interval, a person's and the machine's time [s]."""

    name: str
    cost: float
    low: float
    high: float
    person: float = 0.0
    machine: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class YieldTold:
    """What the number of wafers rests on: the route's `chance`, own wafers `good` and `lost`, the yield expected."""

    chance: float
    good: int
    lost: int
    expected: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """When the order can be delivered: the day that half, and nine tenths, of such jobs are done by."""

    even: date
    sure: date
    basis: DeliveryBasis


@dataclass(frozen=True, slots=True, kw_only=True)
class Quotation:
    """What is offered for an order: `quantity` good wafers, `started` of them begun.

    `even` and `sure` are the sums that half and nine tenths of such jobs stay within; the lines add up to `expected`.
    `chance_of_enough` [1] is that of delivering the whole quantity. `time` [s] is people's and machines' together.
    `plate_hours` are the prices of an hour by the plate that lay on a station; `price_version` is 0 for usual prices.
    `wafer_price` is what a lost wafer costs, None where nobody has said; `bonding` and `taking_off` [s] a person's
    times for a wafer, beside the plan.
    """

    order_id: str
    version: int
    issued: date
    valid_until: date
    quantity: int
    started: int
    chance_of_enough: float
    chance_with_fewer: float
    told: YieldTold
    lines: tuple[QuotedLine, ...]
    expected: float
    even: float
    sure: float
    low: float
    high: float
    time: float
    time_even: float
    time_sure: float
    delivery: Delivery
    plan: Plan
    prices: PriceList
    price_version: int
    plate_hours: tuple[tuple[str, float], ...] = ()
    wafer_price: float | None = None
    bonding: float = 0.0
    taking_off: float = 0.0

    def __post_init__(self) -> None:
        if self.quantity < 1:
            raise OutOfValidRange("quantity", self.quantity, "at least 1")
        if self.started < self.quantity:
            raise OutOfValidRange("started", self.started, f"at least the quantity, {self.quantity}")

    @property
    def number(self) -> str:
        """Its number: that of the order and its version."""
        return f"{self.order_id}-Q{self.version}"

    @property
    def piece_even(self) -> float:
        """Price of a piece at even odds."""
        return self.even / self.quantity

    @property
    def piece_sure(self) -> float:
        """Price of a piece at nine chances in ten."""
        return self.sure / self.quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedQuotation:
    """A quotation as recorded, and who gave it when."""

    quotation: Quotation
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class ActualLine:
    """One line quoted and as it came: costs, the 90 % interval that was quoted, and the times [s] on record."""

    name: str
    quoted: float
    low: float
    high: float
    actual: float
    person: float
    machine: float

    @property
    def difference(self) -> float:
        """Actual less quoted."""
        return self.actual - self.quoted

    @property
    def is_inside(self) -> bool:
        """Whether it came as the interval let expect; a line that was quoted without one has nothing to keep."""
        return self.low <= self.actual <= self.high or self.low == self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class ActualJob:
    """A job against its quotation: lines worst first, sums, wafers, and whether it is over.

    `pauses` [s] is time that sets lay open with nobody reading; `is_inside` whether the whole came as quoted.
    """

    lines: tuple[ActualLine, ...]
    quoted: float
    low: float
    high: float
    sure: float
    actual: float
    begun: int
    good: int
    lost: int
    is_over: bool
    pauses: float

    @property
    def difference(self) -> float:
        """Actual less quoted."""
        return self.actual - self.quoted

    @property
    def is_inside(self) -> bool:
        """Whether the whole came as its 90 % interval let expect."""
        return self.low <= self.actual <= self.high
