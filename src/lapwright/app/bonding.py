"""Use cases: bonding a wafer to a carrier, judging the bond, taking the wafer off again."""

from __future__ import annotations

from datetime import datetime

from lapwright.metrology.bond_line import BondResult
from lapwright.model.job import BondDecision, RecordedBond
from lapwright.model.request import BondRequest


def record_bond(request: BondRequest, *, by: str, reason: str, at: datetime) -> RecordedBond:
    """Record that a wafer was bonded to a carrier. Raises `Conflict` when the carrier bears another wafer."""
    raise NotImplementedError


def judge_bond(bond_id: int, *, by: str, reason: str, at: datetime) -> RecordedBond:
    """Judge a bond by the latest closed sets of wafer, carrier and stack, and record numbers and advice.

    Raises `Conflict` naming the set that is missing. Decides nothing.
    """
    raise NotImplementedError


def decide_bond(
    bond_id: int, decision: BondDecision, *, by: str, reason: str, at: datetime, version: int | None = None
) -> RecordedBond:
    """Record what was decided, with or against the advice; against it the reason must not be empty."""
    raise NotImplementedError


def bond_result(bond_id: int) -> BondResult:
    """The bond line and the predicted wafer, computed anew from the recorded sets."""
    raise NotImplementedError


def record_debond(bond_id: int, method: str, *, by: str, reason: str, at: datetime) -> RecordedBond:
    """Record that a wafer was taken off its carrier, and how. After a decision to bond again it is measured in anew."""
    raise NotImplementedError
