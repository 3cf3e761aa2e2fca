"""Use cases: check standards, checks and zeros of a gauge, whether it may be used, and what it has touched."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime

from lapwright.app.check_verdicts import GoodCheck, calibration_verdicts, judged_checks, last_judged
from lapwright.app.gauges import gauge_record, gauge_records, list_gauges, show_gauge, warnings_of
from lapwright.app.kept_results import kept_in_parts, kept_until
from lapwright.app.set_values import length_of
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.gauge_care import CheckStandard, Fitness, GaugeCheck, Touched, ZeroRead
from lapwright.model.readings import Calibration, Gauge, Signature, UnfitPolicy
from lapwright.model.shelf import RecordedGauge

#: Calibration states in which a gauge is past due or was never shown to be good.
UNFIT = ("overdue", "failed", "never_calibrated")
_TOUCHED_REST_ON = frozenset(
    {"readingset", "surface", "finding", "verdict", "bond", "wafer", "order", "document",
     "gauge", "calibration", "gaugecheck", "checkstandard"}
)  # fmt: skip
LATEST_SETS = 200  # whose zeros are looked at; as many points as a chart can show apart


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
    from lapwright.records import care_queries

    return _fitness(show_gauge(gauge_id, on=on), care_queries.checks(gauge_id), care_queries.standards(), on)


def fitness_of_all(*, on: date) -> dict[str, Fitness]:
    """The same of every gauge, by name."""
    from lapwright.records import care_queries

    checks, standards = care_queries.checks_of_all(), care_queries.standards()
    return {one.gauge.gauge_id: _fitness(one, checks[one.gauge.gauge_id], standards, on) for one in list_gauges(on=on)}


def zeros_of_all(*, latest: int = LATEST_SETS) -> dict[str, tuple[ZeroRead, ...]]:
    """What `zero_history` tells, of every gauge by name; only gauges that sets were read with since are looked at."""
    from lapwright.records import care_queries

    names = [record[0].gauge_id for record in gauge_records()]
    return kept_in_parts(
        ("zeros of all", latest),
        names,
        {"readingset": care_queries.gauges_of_sets, "reading": care_queries.gauges_of_zeros},
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
    """Every reading of a certified standard with a gauge, each judged right or wrong."""
    from lapwright.records import care_queries

    gauge = gauge_record(gauge_id)[0]
    return judged_checks(care_queries.checks(gauge_id), care_queries.standards(), gauge)


def all_checks(gauge_id: str) -> tuple[GoodCheck, ...]:
    """Every moment at which a calibration or a standard showed a gauge to be good or bad, the earliest first."""
    from lapwright.records import care_queries

    gauge = gauge_record(gauge_id)[0]
    shown = [*checks_judged(gauge_id)]
    for calibration, at in care_queries.calibrations(gauge_id):
        shown += calibration_verdicts(calibration, gauge, at)
    return tuple(sorted(shown, key=lambda one: one.at))


def what_did_this_gauge_touch(gauge_id: str, *, since: datetime | None = None) -> Touched:
    """All that rests on a gauge since its last good check, or since a moment: sets, wafers, verdicts, certificates.

    When the latest calibration or a check after it found the gauge bad, it counts from the last good check before
    that, and ends where the gauge was shown to be good again.
    """
    from lapwright.records import touched_queries

    if since is not None:
        return touched_queries.touched(gauge_id, since=since, until=None, why="since the moment asked for")
    shown = all_checks(gauge_id)
    good = [i for i, one in enumerate(shown) if one.good]
    if not good:
        return touched_queries.touched(gauge_id, since=None, until=None, why="It was never shown to be good.")
    last_day = max((one.done for one in list_calibrations(gauge_id)), default=date.min)
    bad = [i for i, one in enumerate(shown) if not one.good and one.at.date() >= last_day]
    if not bad:
        last = shown[good[-1]]
        return touched_queries.touched(gauge_id, since=last.at, until=None, why=last.sentence)
    before = [i for i in good if i < bad[0]]
    after = [i for i in good if i > bad[-1]]
    start = shown[before[-1]] if before else None
    end = shown[after[0]] if after else None
    told = " ".join(one.sentence for one in (start, shown[bad[-1]], end) if one is not None)
    return touched_queries.touched(
        gauge_id, since=None if start is None else start.at, until=None if end is None else end.at, why=told
    )


def touched_of_late(gauge_id: str) -> Touched:
    """The same since its last good check, kept until something is written that it rests on."""
    return kept_until(_TOUCHED_REST_ON, ("touched", gauge_id), lambda: what_did_this_gauge_touch(gauge_id))


# ----------------------------------------------------------------------------------------------------------------------


def _fitness(
    recorded: RecordedGauge, checks: Sequence[GaugeCheck], standards: Sequence[CheckStandard], on: date
) -> Fitness:
    sentences = warnings_of(recorded, on=on)
    reasons = sentences if recorded.calibration_state in UNFIT else ()
    notices = () if reasons else sentences
    done = None if recorded.calibration is None else recorded.calibration.done
    last = last_judged(checks, standards, recorded.gauge)
    if last is not None and not last.good and (done is None or last.at.date() >= done):
        reasons = (*reasons, last.sentence)
    if not reasons:
        return Fitness(may_use="yes", reasons=(), notices=notices)
    may_use = "no" if recorded.gauge.when_unfit == "block" else "flagged"
    return Fitness(may_use=may_use, reasons=reasons, notices=notices)  # type: ignore[arg-type]  # one of the two
