"""Use cases: a gauge study planned, read line by line, computed in plain words, and filed with the gauge."""

from __future__ import annotations

import math
from datetime import datetime
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from lapwright.app.kept_results import Itself, kept_until
from lapwright.app.set_values import length_of
from lapwright.errors import BadInput, Conflict, Fault, LapwrightError, NotFound
from lapwright.model.gauge_care import RecordedStudy, StudyFigures, StudyLine, StudyPlan, StudyRequest
from lapwright.model.readings import Signature

if TYPE_CHECKING:
    from lapwright.metrology.gauge_checks import ResolutionCheck
    from lapwright.metrology.gauge_study import CrossedStudy

#: Levels inside a tolerance from which a gauge tells good from bad well (automotive MSA reference manual, 4th ed.
#: 2010, chapter II-D, from memory).
LEVELS_ENOUGH = 5
ALIKE = 30.0  # times as large: far less than the thousand by which a mark may be misread
_STUDIES = frozenset({"gaugestudy", "studyreading"})
MOST_KEPT = 300  # studies of which what they say is kept


def plan_study(request: StudyRequest, *, by: str, reason: str, at: datetime) -> RecordedStudy:
    """Plan a study: the sheet in random order from the seed.

    Raises `BadInput` with every fault of the plan, `NotFound` for an unknown gauge, `Conflict` for a name taken.
    """
    from lapwright.metrology.study_plan import study_sheet
    from lapwright.records import writer

    _check_plan(request)
    generator = np.random.default_rng(request.seed)
    lines = study_sheet(request.parts, request.operators, repeats=request.repeats, generator=generator)
    plan = StudyPlan(
        study_id=request.study_id,
        gauge_id=request.gauge_id,
        parts=request.parts,
        operators=request.operators,
        repeats=request.repeats,
        seed=request.seed,
        unit=request.unit,
        tolerance=request.tolerance,
        sheet=tuple(
            StudyLine(order=line.order, repeat=line.repeat, operator=line.operator, part=line.part) for line in lines
        ),
    )
    writer.add_study(plan, Signature(by=by, at=at, reason=reason))
    return show_study(plan.study_id)


def show_study(study_id: str) -> RecordedStudy:
    """One study. Raises `NotFound`."""
    from lapwright.records import care_queries

    return care_queries.study(study_id)


def list_studies(gauge_id: str | None = None) -> tuple[RecordedStudy, ...]:
    """The studies of a gauge or of all, the latest first."""
    from lapwright.records import care_queries

    return kept_until(_STUDIES, ("studies", gauge_id), lambda: care_queries.studies(gauge_id))


def record_study_reading(
    study_id: str, text: str, *, line: int | None = None, by: str, reason: str, at: datetime
) -> RecordedStudy:
    """Record the reading at the next line of the sheet, or at a named one; there it corrects the one that stands.

    Raises `UnitError` for text that is no length, `BadInput` for a dash, `Conflict` when the study is not open or all
    lines are read.
    """
    from lapwright.records import writer

    study = show_study(study_id)
    value, unit = length_of(text, study.plan.unit)
    if math.isnan(value):
        sentence = "A study needs a value at every line; found a dash. Read the part, then type the value."
        raise BadInput([Fault(sentence=sentence, field="value")])
    if line is None:
        following = study.next_line
        if following is None:
            raise Conflict(
                f"All lines of study {study_id!r} are read, or it is {study.state}. File it, or plan another."
            )
        line = following.order
    if line not in {one.order for one in study.plan.sheet}:
        raise NotFound(f"The sheet of study {study_id!r} has no line {line}; it has {len(study.plan.sheet)} lines.")
    standing = study.standing.get(line)
    writer.add_study_reading(
        study_id,
        line,
        text=text.strip(),
        unit=unit,
        value=value,
        corrects=None if standing is None else standing.reading_id,
        signature=Signature(by=by, at=at, reason=reason),
    )
    return show_study(study_id)


def is_like_before(study: RecordedStudy, text: str) -> bool:
    """Whether a reading as typed is of the size of one that the study holds, so that its mark was meant so.

    Raises `UnitError` for text that is no length.
    """
    value, _unit = length_of(text, study.plan.unit)
    return any(one.value and ALIKE > value / one.value > 1.0 / ALIKE for one in study.readings)


def study_result(study: RecordedStudy, *, tolerance: float | None = None) -> CrossedStudy:
    """What the readings of a study say, against its own tolerance or another [m].

    Raises `OutOfValidRange` or `DidNotConverge` when too little has been read.
    """
    return _result(Itself(study), study.plan.tolerance if tolerance is None else tolerance)


def study_arrays(study: RecordedStudy) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Values [m], parts and operators (as places in the plan) of the standing readings, in the order of the sheet."""
    standing = study.standing
    lines = [line for line in study.plan.sheet if line.order in standing]
    return (
        np.array([standing[line.order].value for line in lines]),
        np.array([study.plan.parts.index(line.part) for line in lines], dtype=np.intp),
        np.array([study.plan.operators.index(line.operator) for line in lines], dtype=np.intp),
    )


def file_study(study_id: str, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedStudy:
    """File a study with its gauge: its figures are computed once more and kept.

    Raises `Conflict` while lines are still to be read.
    """
    from lapwright import __version__
    from lapwright.records import writer

    study = show_study(study_id)
    if study.next_line is not None:
        left = len(study.plan.sheet) - len(study.standing)
        raise Conflict(f"Study {study_id!r} has {left} lines still to be read. Read them, or declare it unusable.")
    found = study_result(study)
    figures = StudyFigures(
        method=found.method,
        repeatability=found.repeatability,
        reproducibility=found.reproducibility,
        gauge=found.gauge,
        part=found.part,
        share_of_total=found.share_of_total,
        distinct_categories=found.distinct_categories if math.isfinite(found.distinct_categories) else None,
        tolerance=study.plan.tolerance,
        share_of_tolerance=found.share_of_tolerance,
        levels_in_tolerance=found.levels_in_tolerance,
        notes=found.notes,
        software_version=__version__,
    )
    writer.file_study(study_id, figures, Signature(by=by, at=at, reason=reason), version=version)
    return show_study(study_id)


def void_study(study_id: str, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedStudy:
    """Declare a study unusable, with the reason; its readings stay on record."""
    from lapwright.records import writer

    if not reason.strip():
        raise BadInput(
            [Fault(sentence="Say why the study must not be used; the reason stays with it.", field="reason")]
        )
    writer.void_study(study_id, Signature(by=by, at=at, reason=reason), version=version)
    return show_study(study_id)


def resolution_of(study: RecordedStudy, *, tolerance: float | None) -> ResolutionCheck | None:
    """Whether the step of the gauge is fine enough; None when neither the gauge nor the readings tell the step."""
    from lapwright.metrology.gauge_checks import resolution_check
    from lapwright.records import queries

    gauge = queries.gauge(study.plan.gauge_id)[0]
    value, _part, _operator = study_arrays(study)
    try:
        return resolution_check(
            readings=value,
            resolution=gauge.resolution or None,
            tolerance=tolerance,
            repeatability=study_result(study).repeatability or None,
        )
    except LapwrightError:
        return None


def study_words(found: CrossedStudy, *, tolerance: float | None) -> tuple[str, ...]:
    """A study in plain sentences; nothing is called good or bad without a tolerance."""
    words = [_spread_word(found), _largest_part(found)]
    if tolerance is None or found.levels_in_tolerance is None or found.share_of_tolerance is None:
        words.append("Name a tolerance to see what the gauge is worth against it.")
        return tuple(words)
    levels = math.floor(found.levels_in_tolerance)
    width = f"{tolerance * 1e6:g} µm"
    if levels < 1:
        told = f"This gauge cannot tell even one level inside a tolerance of {width}."
    elif levels == 1:
        told = f"This gauge sees one level inside a tolerance of {width}: it tells in from out, nothing finer."
    else:
        enough = "" if levels >= LEVELS_ENOUGH else f" {LEVELS_ENOUGH} or more are wanted."
        told = f"This gauge can tell {levels} levels inside a tolerance of {width}.{enough}"
    share = f"{found.share_of_tolerance:.0%}".replace("%", " %")
    return (told, f"Its spread (six standard deviations) takes {share} of that tolerance.", *words)


# ----------------------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=MOST_KEPT)
def _result(study: Itself, tolerance: float | None) -> CrossedStudy:
    from lapwright.metrology.gauge_study import crossed_study

    value, part, operator = study_arrays(study.held)
    return crossed_study(value, part=part, operator=operator, tolerance=tolerance)


def _spread_word(found: CrossedStudy) -> str:
    return (
        f"One reading scatters by {found.gauge * 1e6:.2f} µm (one standard deviation):"
        f" {found.repeatability * 1e6:.2f} µm from reading again, {found.reproducibility * 1e6:.2f} µm from who reads."
    )


def _largest_part(found: CrossedStudy) -> str:
    if found.reproducibility > found.repeatability:
        return "What to improve first: how people read, for they differ more than one person's readings do."
    return "What to improve first: the gauge and its stand, for one person's readings differ more than people do."


def _check_plan(request: StudyRequest) -> None:
    faults = []
    if not request.study_id.strip():
        faults.append(Fault(sentence="The study has no name. Give it one.", field="study_id"))
    for field, names in (("parts", request.parts), ("operators", request.operators)):
        if len(set(names)) < 2:
            faults.append(Fault(sentence=f"{len(set(names))} {field} named; a study needs at least 2.", field=field))
        if len(set(names)) < len(names):
            faults.append(Fault(sentence=f"A name comes twice among the {field}. Name each once.", field=field))
    if request.repeats < 2:
        faults.append(Fault(sentence="Each part read once only; a study needs at least 2 repeats.", field="repeats"))
    if request.tolerance is not None and not request.tolerance > 0.0:
        faults.append(Fault(sentence="The tolerance is not above zero. Give its full width.", field="tolerance"))
    if faults:
        raise BadInput(faults, subject="The plan of the study")
