"""Writing check standards, checks of gauges, and gauge studies."""

from __future__ import annotations

from lapwright.errors import Conflict
from lapwright.model.gauge_care import CheckStandard, StudyFigures, StudyPlan
from lapwright.model.readings import Signature
from lapwright.records import models, queries
from lapwright.records.coding import to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add, change, locked


def put_standard(standard: CheckStandard, signature: Signature, *, version: int | None = None) -> None:
    """A check standard, new or changed."""
    with one_transaction():
        known = models.CheckStandard.objects.filter(standard_id=standard.standard_id)
        definition = to_plain(standard)
        if not known.exists():
            add(models.CheckStandard, signature, standard_id=standard.standard_id, definition=definition)
            return
        row = locked(models.CheckStandard, standard_id=standard.standard_id)
        if row.definition != definition:
            change(row, signature, version=version, definition=definition)


def add_check(
    gauge_id: str, standard_id: str | None, *, text: str, unit: str, value: float, signature: Signature
) -> int:
    """A reading of a standard, or of the zero; gives its number."""
    with one_transaction():
        standards = models.CheckStandard.objects.all()
        return add(
            models.GaugeCheck,
            signature,
            gauge=queries.find(models.Gauge.objects.all(), "gauge_id", gauge_id),
            standard=None if standard_id is None else queries.find(standards, "standard_id", standard_id),
            text=text,
            unit=unit,
            value_m=value,
        ).pk


def add_study(plan: StudyPlan, signature: Signature) -> None:
    """A planned study."""
    with one_transaction():
        if models.GaugeStudy.objects.filter(study_id=plan.study_id).exists():
            raise Conflict(f"The study {plan.study_id!r} is recorded already. Take another name, or open that one.")
        gauge = queries.find(models.Gauge.objects.all(), "gauge_id", plan.gauge_id)
        add(models.GaugeStudy, signature, study_id=plan.study_id, gauge=gauge, plan=to_plain(plan), state="planned")


def add_study_reading(
    study_id: str, line: int, *, text: str, unit: str, value: float, corrects: int | None, signature: Signature
) -> int:
    """A reading at a line of the sheet; with `corrects`, in place of an earlier one. Gives its number."""
    with one_transaction():
        row = _open_study(study_id)
        standing = row.readings.filter(line=line, corrected_by=None).first()
        if standing is not None and standing.pk != corrects:
            raise Conflict(
                f"Line {line} of study {study_id!r} was read already by {standing.by}: {standing.text}."
                " Correct that reading instead."
            )
        return add(
            models.StudyReading, signature, study=row, line=line, text=text, unit=unit, value_m=value,
            corrects_id=corrects,
        ).pk  # fmt: skip


def file_study(study_id: str, figures: StudyFigures, signature: Signature, *, version: int | None = None) -> None:
    """The end of a study, with its figures."""
    with one_transaction():
        change(
            _open_study(study_id),
            signature,
            version=version,
            state="filed",
            figures=to_plain(figures),
            filed_by=signature.by,
            filed_reason=signature.reason,
            filed_at=signature.at,
        )


def void_study(study_id: str, signature: Signature, *, version: int | None = None) -> None:
    """The end of trust in a study."""
    with one_transaction():
        row = locked(models.GaugeStudy, study_id=study_id)
        change(row, signature, version=version, state="void")


# ----------------------------------------------------------------------------------------------------------------------


def _open_study(study_id: str) -> models.GaugeStudy:
    row: models.GaugeStudy = locked(models.GaugeStudy, study_id=study_id)
    if row.state != "planned":
        raise Conflict(f"The study {study_id!r} is {row.state}; nothing is added to it. Plan a new one.")
    return row
