"""Result dictionaries of live runs, with units in their names."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Protocol

from lapwright.process.endpoint import EndpointDecision

MICRO = 1e6
PER_MINUTE = 60e6


class _Fault(Protocol):
    @property
    def code(self) -> str: ...
    @property
    def time(self) -> float: ...
    @property
    def sentence(self) -> str: ...


def watched_result(decision: EndpointDecision, *, readings: int, gaps: int, zero: float) -> dict[str, Any]:
    """A run that was followed to its stop."""
    return {
        "decision": decision.advice,
        "stop_time_s": decision.at,
        "removed_um": decision.removed * MICRO,
        "removed_uncertainty_um": decision.removed_uncertainty * MICRO,
        "rate_um_per_min": decision.rate * PER_MINUTE,
        "rate_uncertainty_um_per_min": decision.rate_uncertainty * PER_MINUTE,
        "time_left_s": decision.time_left,
        "time_left_low_s": decision.time_left_low,
        "time_left_high_s": decision.time_left_high,
        "margin_um": decision.margin * MICRO,
        "chance_over_target": decision.chance_over_target,
        "zero_um": zero * MICRO,
        "faults": listed_faults(decision.faults),
        "n_readings": readings,
        "n_gaps": gaps,
    }


def listed_faults(faults: Iterable[_Fault]) -> list[dict[str, Any]]:
    """Faults of a run in the order they were seen."""
    return [{"code": fault.code, "time_s": fault.time, "sentence": fault.sentence} for fault in faults]
