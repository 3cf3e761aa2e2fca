"""Use cases: check standards, checks and zeros of a gauge, whether it may be used, and what it has touched."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import lru_cache

from lapwright import units
from lapwright.app.gauges import gauge_records, list_gauges, show_gauge, warnings_of
from lapwright.app.kept_results import TALK, Itself, kept_in_parts, kept_until_write
from lapwright.app.set_values import length_of
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.gauge_care import CheckStandard, Fitness, GaugeCheck, Touched, ZeroRead
from lapwright.model.readings import Calibration, Gauge, Signature, UnfitPolicy
from lapwright.model.shelf import RecordedGauge

#: Calibration states in which a gauge is past due or was never shown to be good.
UNFIT = ("overdue", "failed", "never_calibrated")
LATEST_SETS = 200  # whose zeros are looked at; as many points as a chart can show apart
MOST_KEPT = 300  # gauges of which the judged checks are kept


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodCheck:
    """A moment at which a gauge was shown to be good, or not, and by what."""

    at: datetime
    good: bool
    sentence: str


def register_standard(
    standard: CheckStandard, *, by: str, reason: str, at: datetime, version: int | None = None
) -> CheckStandard:
    """Record a check standard, or what is newly known of it."""
    from lapwright.records import writer

    writer.put_standard(standard, Signature(by=by, at=at, reason=reason), version=version)
    return standard


def list_standards() -> tuple[CheckStandard, ...]:
    """All check standards, by name."""
    from lapwright.records import care_queries

    return care_queries.standards()


def record_check(
    gauge_id: str, standard_id: str | None, text: str, *, unit: str = "µm", by: str, reason: str, at: datetime
) -> GaugeCheck:
    """Record a reading of a check standard, or of the zero when none is named.

    Raises `UnitError` for text that is no length, `BadInput` for a dash, `NotFound` for an unknown gauge or standard.
    """
    from lapwright.records import care_queries, writer

    value, found_unit = length_of(text, unit)
    if math.isnan(value):
        raise BadInput(
            [Fault(sentence="A check needs a value; found a dash. Read the piece, or leave it.", field="value")]
        )
    signature = Signature(by=by, at=at, reason=reason)
    number = writer.add_check(
        gauge_id, standard_id, text=text.strip(), unit=found_unit, value=value, signature=signature
    )
    return next(one for one in care_queries.checks(gauge_id) if one.check_id == number)


def list_checks(gauge_id: str) -> tuple[GaugeCheck, ...]:
    """The readings of standards and of the zero with a gauge, the earliest first."""
    from lapwright.records import care_queries

    return care_queries.checks(gauge_id)


def zero_history(gauge_id: str, *, latest: int = LATEST_SETS) -> tuple[ZeroRead, ...]:
    """The zeros before and after the latest sets taken with a gauge, the earliest first."""
    from lapwright.records import care_queries

    return care_queries.zeros_read(gauge_id, latest=latest)


def list_calibrations(gauge_id: str) -> tuple[Calibration, ...]:
    """All calibrations of a gauge, the earliest first."""
    from lapwright.records import care_queries

    return tuple(calibration for calibration, _at in care_queries.calibrations(gauge_id))


def fitness(gauge_id: str, *, on: date) -> Fitness:
    """Whether a gauge may be used on a day: by its calibration, and by its last check."""
    return _fitness(show_gauge(gauge_id, on=on), checks_judged(gauge_id), on)


def fitness_of_all(*, on: date) -> dict[str, Fitness]:
    """The same of every gauge, by name."""
    from lapwright.records import care_queries

    checks, standards = care_queries.checks_of_all(), care_queries.standards()
    return {
        one.gauge.gauge_id: _fitness(one, _judged_all(Itself(checks[one.gauge.gauge_id]), standards, one.gauge), on)
        for one in list_gauges(on=on)
    }


def zeros_of_all(*, latest: int = LATEST_SETS) -> dict[str, tuple[ZeroRead, ...]]:
    """What `zero_history` tells, of every gauge by name; only gauges that sets were read with since are looked at."""
    from lapwright.records import care_queries

    names = [record[0].gauge_id for record in gauge_records()]
    return kept_in_parts(
        ("zeros of all", latest),
        names,
        {"readingset": care_queries.gauges_of_sets},
        lambda name: care_queries.zeros_read(name, latest=latest),
    )


def policy_of(gauge_id: str) -> UnfitPolicy:
    """The policy of a gauge; of one not recorded yet the usual one."""
    found = [record[0].when_unfit for record in gauge_records() if record[0].gauge_id == gauge_id]
    return found[0] if found else "flag"


def with_policy(gauge: Gauge, when_unfit: UnfitPolicy) -> Gauge:
    """The gauge with another policy for the time while it is past due or failed."""
    return replace(gauge, when_unfit=when_unfit)


def flag_of(gauge_id: str, *, on: date) -> str | None:
    """What a new set with a gauge must be marked with, None for nothing.

    Raises `Conflict` when something speaks against the gauge and its policy is to refuse new sets.
    """
    found = fitness(gauge_id, on=on)
    if found.may_use == "no":
        raise Conflict(f"Gauge {gauge_id} takes no new sets now. {' '.join(found.reasons)} Or take another gauge.")
    return " ".join(found.reasons) or None


def checks_judged(gauge_id: str) -> tuple[GoodCheck, ...]:
    """Every reading of a certified standard with a gauge, each judged right or wrong.

    A reading is good when it differs from the standard's value by at most √(a² + U²), a the gauge's limit and U the
    expanded uncertainty of the standard.
    """
    from lapwright.records import care_queries, queries

    gauge = queries.gauge(gauge_id)[0]
    return _judged_all(Itself(care_queries.checks(gauge_id)), care_queries.standards(), gauge)


def passing_faults(gauge_id: str) -> frozenset[int]:
    """Checks that read wrong and were read right on the same piece later that day: dirt or warmth, and no drift."""
    from lapwright.records import care_queries, queries

    gauge = queries.gauge(gauge_id)[0]
    known = {one.standard_id: one for one in care_queries.standards()}
    right_on: set[tuple[str, date]] = set()
    passing = []
    for one in reversed(care_queries.checks(gauge_id)):
        standard = known.get(one.standard_id or "")
        if standard is None or standard.value is None:
            continue
        day = (standard.standard_id, one.signature.at.date())
        if _judged(one, standard, standard.value, gauge).good:
            right_on.add(day)
        elif day in right_on:
            passing.append(one.check_id)
    return frozenset(passing)


def all_checks(gauge_id: str) -> tuple[GoodCheck, ...]:
    """Every moment at which a calibration or a standard showed a gauge to be good or bad, the earliest first."""
    from lapwright.records import care_queries, queries

    gauge = queries.gauge(gauge_id)[0]
    shown = [*checks_judged(gauge_id)]
    for calibration, at in care_queries.calibrations(gauge_id):
        shown += _calibration_checks(calibration, gauge, at)
    return tuple(sorted(shown, key=lambda one: one.at))


def what_did_this_gauge_touch(gauge_id: str, *, since: datetime | None = None) -> Touched:
    """All that rests on a gauge since its last good check, or since a moment: sets, wafers, verdicts, certificates.

    When the latest calibration or a check after it found the gauge bad, it counts from the last good check before
    that, and ends where the gauge was shown to be good again.
    """
    from lapwright.records import care_queries

    if since is not None:
        return care_queries.touched(gauge_id, since=since, until=None, why="since the moment asked for")
    shown = all_checks(gauge_id)
    good = [i for i, one in enumerate(shown) if one.good]
    if not good:
        return care_queries.touched(gauge_id, since=None, until=None, why="It was never shown to be good.")
    last_day = max((one.done for one in list_calibrations(gauge_id)), default=date.min)
    bad = [i for i, one in enumerate(shown) if not one.good and one.at.date() >= last_day]
    if not bad:
        last = shown[good[-1]]
        return care_queries.touched(gauge_id, since=last.at, until=None, why=last.sentence)
    before = [i for i in good if i < bad[0]]
    after = [i for i in good if i > bad[-1]]
    start = shown[before[-1]] if before else None
    end = shown[after[0]] if after else None
    told = " ".join(one.sentence for one in (start, shown[bad[-1]], end) if one is not None)
    return care_queries.touched(
        gauge_id, since=None if start is None else start.at, until=None if end is None else end.at, why=told
    )


def touched_of_late(gauge_id: str) -> Touched:
    """The same since its last good check, kept until something is written."""
    return kept_until_write(("touched", gauge_id), lambda: what_did_this_gauge_touch(gauge_id), besides=TALK)


# ----------------------------------------------------------------------------------------------------------------------


def _fitness(recorded: RecordedGauge, judged: Sequence[GoodCheck], on: date) -> Fitness:
    sentences = warnings_of(recorded, on=on)
    reasons = sentences if recorded.calibration_state in UNFIT else ()
    notices = () if reasons else sentences
    done = None if recorded.calibration is None else recorded.calibration.done
    checks = [one for one in judged if done is None or one.at.date() >= done]
    if checks and not checks[-1].good:
        reasons = (*reasons, checks[-1].sentence)
    if not reasons:
        return Fitness(may_use="yes", reasons=(), notices=notices)
    may_use = "no" if recorded.gauge.when_unfit == "block" else "flagged"
    return Fitness(may_use=may_use, reasons=reasons, notices=notices)  # type: ignore[arg-type]  # one of the two


@lru_cache(maxsize=MOST_KEPT)
def _judged_all(checks: Itself, standards: tuple[CheckStandard, ...], gauge: Gauge) -> tuple[GoodCheck, ...]:
    """Kept while checks, standards and gauge are the same."""
    known = {one.standard_id: one for one in standards}
    judged = []
    for one in checks.held:
        standard = known.get(one.standard_id or "")
        if standard is not None and standard.value is not None:
            judged.append(_judged(one, standard, standard.value, gauge))
    return tuple(judged)


def _judged(one: GaugeCheck, standard: CheckStandard, value: float, gauge: Gauge) -> GoodCheck:
    allowed = math.hypot(gauge.limit, standard.expanded_uncertainty or 0.0)
    off = one.value - value
    good = abs(off) <= allowed
    verb = "read right" if good else "read wrong"
    sentence = (
        f"On {one.signature.at:%Y-%m-%d %H:%M} UTC gauge {gauge.gauge_id} {verb} on {standard.standard_id}:"
        f" off by {_micrometres(off)}, allowed {_micrometres(allowed)}."
    )
    if not good:
        sentence += " Clean gauge and piece and read again; if it stays, have the gauge put right."
    return GoodCheck(at=one.signature.at, good=good, sentence=sentence)


def _calibration_checks(calibration: Calibration, gauge: Gauge, at: datetime) -> list[GoodCheck]:
    """What a calibration shows: how the gauge was found, and how it was left.

    Both at the start of its day, or when it was recorded if that was earlier; left comes after found.
    """
    start = min(at, datetime.combine(calibration.done, datetime.min.time(), tzinfo=at.tzinfo))
    name = f"certificate {calibration.certificate} of {calibration.done}"
    shown = []
    if calibration.as_found is not None:
        inside = abs(calibration.as_found) <= gauge.limit
        words = f"{name}: found off by {_micrometres(calibration.as_found)}, limit {_micrometres(gauge.limit)}."
        shown.append(GoodCheck(at=start, good=inside, sentence=words))
    words = f"{name}: passed." if calibration.passed else f"{name}: failed."
    shown.append(GoodCheck(at=start, good=calibration.passed, sentence=words))
    return shown


def _micrometres(value: float) -> str:
    return units.printed(value, "µm", "length", digits=2)
