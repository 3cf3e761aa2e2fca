"""The limits of an order as a person reads them."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.app.order_capability import LimitCapability
from lapwright.model.order import Limit, Order
from lapwright.web.sentences import printed
from lapwright.web.words import QUANTITIES

_NANOMETRES = ("roughness_ra", "roughness_sq")
NEAREST = 3  # wafers named beside a limit; the others stand in the table of wafers


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitLine:
    """A limit: the quantity in words and the range with its unit."""

    quantity: str
    text: str


def limit_lines(order: Order) -> list[LimitLine]:
    """All limits of an order."""
    return [LimitLine(quantity=str(QUANTITIES[one.quantity]), text=limit_text(one)) for one in order.limits]


@dataclass(frozen=True, slots=True, kw_only=True)
class CapabilityLine:
    """A limit with its capability in words, the wafers nearest to it with their values, and how many more there are."""

    line: LimitLine
    sentence: str
    notes: tuple[str, ...]
    nearest: tuple[tuple[str, str], ...]
    more: int


def capability_lines(found: tuple[LimitCapability, ...]) -> list[CapabilityLine]:
    """How well each limit is kept, for the page of an order."""
    return [
        CapabilityLine(
            line=LimitLine(quantity=str(QUANTITIES[one.limit.quantity]), text=limit_text(one.limit)),
            sentence=one.sentence,
            notes=one.notes,
            nearest=tuple(
                (each.wafer_id, length_text(each.verdict.value, one.limit, digits=2)) for each in one.verdicts[:NEAREST]
            ),
            more=max(0, len(one.verdicts) - NEAREST),
        )
        for one in found
    ]


def limit_text(limit: Limit) -> str:
    """The range of a limit: "100.0 ± 2.0 µm" or "at most 2.0 µm"."""
    if limit.lower is not None and limit.upper is not None:
        middle, half = (limit.lower + limit.upper) / 2.0, (limit.upper - limit.lower) / 2.0
        return f"{bare_text(middle, limit)} ± {length_text(half, limit)}"
    if limit.upper is not None:
        return f"≤ {length_text(limit.upper, limit)}"
    return f"≥ {length_text(limit.lower or 0.0, limit)}"


def length_text(value: float, limit: Limit, *, digits: int = 1) -> str:
    """A value of the limited quantity, in the unit that suits it."""
    return printed(value, "nm" if limit.quantity in _NANOMETRES else "µm", "length", digits=digits)


def bare_text(value: float, limit: Limit, *, digits: int = 1) -> str:
    """The same without its unit, to stand before a ±."""
    return length_text(value, limit, digits=digits).rpartition("\u00a0")[0]
