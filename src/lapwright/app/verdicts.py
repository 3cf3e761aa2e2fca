"""Use cases: other findings, and judging a wafer against the limits of its order."""

from __future__ import annotations

from datetime import datetime

from lapwright.model.job import RecordedFinding, RecordedVerdict
from lapwright.model.request import FindingRequest


def record_finding(request: FindingRequest, *, by: str, reason: str, at: datetime) -> RecordedFinding:
    """Record a quantity that was measured otherwise than by a readings set: roughness, flatness, bow."""
    raise NotImplementedError


def judge_wafer(wafer_id: str, *, by: str, reason: str, at: datetime) -> tuple[RecordedVerdict, ...]:
    """Judge every limit of the order by the latest final set and the latest findings, and record the verdicts.

    Raises `Conflict` naming all that must be measured first.
    """
    raise NotImplementedError
