"""A verdict is data: bad news about a part is a value, never an exception."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from lapwright.model.order import DecisionRule, Limit

Outcome = Literal["conforms", "does_not_conform", "cannot_be_decided"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """One limit judged: value, expanded uncertainty (95 %) with its factor, rule, outcome, reason in a sentence. SI."""

    limit: Limit
    value: float
    expanded_uncertainty: float | None
    rule: DecisionRule
    outcome: Outcome
    chance_inside: float | None
    reason: str
    coverage_factor: float | None = None


BondAdvice = Literal["keep", "rebond"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BondVerdict:
    """Keep a bond or make it again, with the reason."""

    advice: BondAdvice
    reason: str
