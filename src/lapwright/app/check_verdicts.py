"""What a check of a standard or a calibration shows of a gauge: right or wrong, and the sentence that says it.

A reading of a certified standard is right when it differs from the standard's value by at most √(a² + U²), a the
gauge's limit and U the expanded uncertainty of the standard.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import lru_cache, partial

from lapwright import units
from lapwright.app.kept_results import Itself
from lapwright.model.gauge_care import CheckStandard, GaugeCheck
from lapwright.model.readings import Calibration, Gauge

MOST_KEPT = 300  # gauges of which the judged checks are kept


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodCheck:
    """A moment at which a gauge was shown to be good, or not, and by what: said only when somebody asks."""

    at: datetime
    good: bool
    said: Callable[[], str] = field(repr=False, compare=False)

    @property
    def sentence(self) -> str:
        """By what it was shown."""
        return self.said()


def allowed_off(gauge: Gauge, standard: CheckStandard) -> float:
    """What a reading of a standard may be off [m]."""
    return math.hypot(gauge.limit, standard.expanded_uncertainty or 0.0)


def judged_checks(
    checks: tuple[GaugeCheck, ...], standards: tuple[CheckStandard, ...], gauge: Gauge
) -> tuple[GoodCheck, ...]:
    """Every reading of a certified standard, each judged; kept while checks, standards and gauge are the same."""
    return _judged(Itself(checks), standards, gauge)


def last_judged(checks: Sequence[GaugeCheck], standards: Sequence[CheckStandard], gauge: Gauge) -> GoodCheck | None:
    """The last reading of a certified standard, judged; None where there is none."""
    known = {one.standard_id: one for one in standards if one.value is not None}
    return next(
        (_verdict(one, known[one.standard_id], gauge) for one in reversed(checks) if one.standard_id in known), None
    )


def calibration_verdicts(calibration: Calibration, gauge: Gauge, at: datetime) -> list[GoodCheck]:
    """What a calibration shows: how the gauge was found, and how it was left.

    Both at the start of its day, or when it was recorded if that was earlier; left comes after found.
    """
    start = min(at, datetime.combine(calibration.done, datetime.min.time(), tzinfo=at.tzinfo))
    shown = []
    if calibration.as_found is not None:
        inside = abs(calibration.as_found) <= gauge.limit
        shown.append(GoodCheck(at=start, good=inside, said=partial(_found_said, calibration, gauge)))
    shown.append(GoodCheck(at=start, good=calibration.passed, said=partial(_left_said, calibration)))
    return shown


# ----------------------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=MOST_KEPT)
def _judged(checks: Itself, standards: tuple[CheckStandard, ...], gauge: Gauge) -> tuple[GoodCheck, ...]:
    known = {one.standard_id: one for one in standards if one.value is not None}
    return tuple(_verdict(one, known[one.standard_id], gauge) for one in checks.held if one.standard_id in known)


def _verdict(one: GaugeCheck, standard: CheckStandard, gauge: Gauge) -> GoodCheck:
    good = abs(_off(one, standard)) <= allowed_off(gauge, standard)
    return GoodCheck(at=one.signature.at, good=good, said=partial(_check_said, one, standard, gauge))


def _off(one: GaugeCheck, standard: CheckStandard) -> float:
    assert standard.value is not None
    return one.value - standard.value


def _check_said(one: GaugeCheck, standard: CheckStandard, gauge: Gauge) -> str:
    off, allowed = _off(one, standard), allowed_off(gauge, standard)
    good = abs(off) <= allowed
    verb = "read right" if good else "read wrong"
    sentence = (
        f"On {one.signature.at:%Y-%m-%d %H:%M} UTC gauge {gauge.gauge_id} {verb} on {standard.standard_id}:"
        f" off by {_micrometres(off)}, allowed {_micrometres(allowed)}."
    )
    if not good:
        sentence += " Clean gauge and piece and read again; if it stays, have the gauge put right."
    return sentence


def _found_said(calibration: Calibration, gauge: Gauge) -> str:
    name, found = _named(calibration), calibration.as_found or 0.0
    return f"{name}: found off by {_micrometres(found)}, limit {_micrometres(gauge.limit)}."


def _left_said(calibration: Calibration) -> str:
    name = _named(calibration)
    return f"{name}: passed." if calibration.passed else f"{name}: failed."


def _named(calibration: Calibration) -> str:
    return f"certificate {calibration.certificate} of {calibration.done}"


def _micrometres(value: float) -> str:
    return units.printed(value, "µm", "length", digits=2)
