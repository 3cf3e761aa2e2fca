"""What was promised: an order, its limits, and the rule by which they are judged."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from lapwright.errors import OutOfValidRange
from lapwright.model.readings import HoldState
from lapwright.model.wafer import Outline

#: What can be limited. Length quantities in m.
Quantity = Literal["thickness", "ttv", "wedge", "flatness", "bow", "warp", "roughness_ra", "roughness_sq"]
RuleKind = Literal["simple", "guarded"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """The range in which a quantity must lie; None on a side means no limit there. SI."""

    quantity: Quantity
    lower: float | None = None
    upper: float | None = None

    def __post_init__(self) -> None:
        if self.lower is None and self.upper is None:
            raise OutOfValidRange(f"number of limits of {self.quantity}", 0, "at least one")
        if self.lower is not None and self.upper is not None and not self.lower < self.upper:
            raise OutOfValidRange(f"lower limit of {self.quantity}", self.lower, f"less than the upper, {self.upper:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionRule:
    """How a value near a limit is judged.

    ``simple``: the value alone decides. ``guarded``: accepted only when the chance of being outside is at most
    `false_accept`, rejected only when the chance of being inside is at most that; else it cannot be decided. With a
    `guard_factor` the guard band is that many expanded uncertainties (95 %) instead, and the chance is only told.
    """

    kind: RuleKind = "guarded"
    false_accept: float = 0.02
    guard_factor: float | None = None

    def __post_init__(self) -> None:
        if not 0.0 < self.false_accept < 0.5:
            raise OutOfValidRange("false_accept", self.false_accept, "more than 0 and less than 0.5")
        if self.guard_factor is not None and not 0.0 < self.guard_factor <= 5.0:
            raise OutOfValidRange("guard_factor", self.guard_factor, "more than 0 and at most 5")
        if self.guard_factor is not None and self.kind == "simple":
            raise OutOfValidRange("guard_factor", self.guard_factor, "none with the simple rule")


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """An order with every definition that its limits need. Lengths in m."""

    order_id: str
    customer: str
    material: str
    outline: Outline
    quantity: int
    start_thickness: float
    target_thickness: float
    limits: tuple[Limit, ...]
    edge_exclusion: float
    hold: HoldState
    rule: DecisionRule = DecisionRule()
    spares: int = 0
    orientation: str = ""
    due: date | None = None
    start_ttv: float | None = None
    start_damage: float = 0.0
    value_per_wafer: float | None = None
    notes: str = ""

    def __post_init__(self) -> None:
        if self.quantity < 1:
            raise OutOfValidRange("quantity", self.quantity, "at least 1")
        if self.edge_exclusion < 0.0:
            raise OutOfValidRange("edge_exclusion", self.edge_exclusion, "zero or more")
        if not self.target_thickness > 0.0:
            raise OutOfValidRange("target_thickness", self.target_thickness, "more than zero")

    def limit(self, quantity: Quantity) -> Limit | None:
        """The limit on a quantity, if the order has one."""
        return next((limit for limit in self.limits if limit.quantity == quantity), None)
