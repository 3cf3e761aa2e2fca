"""Use cases: taking sets of readings, by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Literal

from lapwright.app import set_values, steps
from lapwright.app.set_values import thickness_set
from lapwright.errors import BadInput, Conflict, Fault, NotFound, SetVoid, UnitError
from lapwright.model.job import ReadingAnswer, ReadingKind, RecordedReading, RecordedSet, SetProgress
from lapwright.model.readings import Conditions, Reading, Signature
from lapwright.model.request import SetRequest

if TYPE_CHECKING:
    from lapwright.metrology.thickness import ThicknessResult

__all__ = [
    "close_set", "correct_reading", "is_same_reading", "open_set", "record_reading", "record_zero", "set_progress",
    "set_result", "show_set", "thickness_set", "void_set",
]  # fmt: skip


#: Scatters of a gauge within which a second reading of a site says the same as the first (common practice, no source).
_SAME_SCATTER = 4.0


def open_set(request: SetRequest, *, by: str, reason: str, at: datetime) -> RecordedSet:
    """Open a set of readings of a wafer, a carrier or a stack; the sites come from the pattern and the outline.

    A gauge that is past due or failed leaves its mark on the set. Raises `NotFound` for an unknown piece or gauge,
    `Conflict` when such a gauge is to be refused, when a set of that piece and moment is open already or the wafer
    does not stand where it could be read so.
    """
    from lapwright.app import gauge_care
    from lapwright.records import writer
    from lapwright.records.writer.readings import NewSet

    with writer.transaction():
        flag = gauge_care.flag_of(request.gauge_id, on=at.date())
        stage_id = check_moment(request)
        pattern = set_values.pattern_of(request)
        new = NewSet(request=request, pattern=pattern, stage_id=stage_id, gauge_flag=flag)
        return writer.add_set(new, Signature(by=by, at=at, reason=reason))


def check_moment(request: SetRequest) -> int | None:
    """The stage a set belongs to, if to one. Raises `Conflict` or `BadInput` when it cannot be taken now."""
    from lapwright.records import queries, run_queries

    wanted = {"incoming": "wafer", "final": "wafer", "carrier": "carrier"}.get(request.moment, "stack")
    if request.subject != wanted:
        sentence = f"A set at '{request.moment}' is of the {wanted}; found {request.subject}. Mend one of the two."
        raise BadInput([Fault(sentence=sentence, field="subject")])
    if request.moment == "carrier":
        return None
    wafer = queries.wafer(request.piece)
    steps.need_state(wafer, steps.STATES_OF_MOMENT[request.moment], f"A set at '{request.moment}'")
    if request.moment != "after_stage":
        return None
    stages = queries.stages(request.piece)
    waiting = next((stage for stage in stages if stage.state == "waiting"), None)
    if waiting is not None and waiting.stage.kind == "measure":
        return waiting.stage_id
    if waiting is not None and any(run.ended for run in run_queries.runs_of_stage(waiting.stage_id)):
        return waiting.stage_id  # between two runs of a stage
    done = [stage.stage_id for stage in stages if stage.state in ("done", "running")]
    return done[-1] if done else None


def show_set(set_id: int) -> RecordedSet:
    """One set with all its readings. Raises `NotFound`."""
    from lapwright.records import queries

    return queries.reading_set(set_id)


def set_progress(recorded: RecordedSet) -> SetProgress:
    """What a set expects next."""
    return set_values.progress_of(recorded)


def record_zero(
    set_id: int,
    text: str,
    *,
    when: Literal["before", "after"],
    confirmed: bool | None = None,
    seen: RecordedSet | None = None,
    by: str,
    reason: str,
    at: datetime,
) -> ReadingAnswer:
    """Record a reading of the gauge's zero, before the first site or after the last.

    With `confirmed` False a zero that can hardly be one is answered with a question, as a reading is; None asks
    nothing. Raises `Conflict` for a zero before the set once a site has been read, and as `record_reading` does.
    """
    recorded = seen or show_set(set_id)
    kind: ReadingKind = "zero_before" if when == "before" else "zero_after"
    sites = [one for one in recorded.readings if one.kind == "site"]
    if when == "before" and sites:
        raise Conflict("Sites have been read already; the zero before them cannot be read any more. Void the set.")
    if when == "after" and not sites:
        raise Conflict("No site has been read yet; the zero after them comes last. Read the sites first.")
    value, unit = set_values.length_of(text, recorded.unit)
    reading = Reading(site="", x=0.0, y=0.0, thickness=value, text=text.strip(), unit=unit)
    question = None if confirmed is None else set_values.question_of_zero(recorded, value, kind)
    if question is not None and not confirmed:
        return _answer(recorded, stored=None, question=question)
    return _store(set_id, reading, kind, question, Signature(by=by, at=at, reason=reason), seen=seen)


def record_reading(
    set_id: int,
    text: str,
    *,
    site: str | None = None,
    confirmed: bool = False,
    seen: RecordedSet | None = None,
    by: str,
    reason: str,
    at: datetime,
) -> ReadingAnswer:
    """Record a reading at the next site, or at a named one.

    An implausible reading is answered with a question and not stored; offered again with `confirmed` it is kept, with
    the question beside it. `seen` is the set as the asker has just seen it. Raises `UnitError` for text that is no
    length, `Conflict` when the set is closed or has grown since it was `seen`.
    """
    recorded = seen or show_set(set_id)
    if recorded.state != "open":
        raise Conflict(f"The set {set_id} is {recorded.state}; nothing is added to it. Open a new set.")
    progress = set_values.progress_of(recorded)
    label = site or progress.site
    if label is None:
        raise Conflict("All sites of this set have been read. Name a site to read it again, or close the set.")
    if label not in recorded.pattern.labels:
        known = ", ".join(recorded.pattern.labels)
        raise NotFound(f"There is no site {label!r} in this set; its sites are {known}.")
    if any(one.kind == "zero_after" for one in recorded.readings):
        raise Conflict("The zero after the set is read already; a site after it would not be covered. Close the set.")
    index = recorded.pattern.labels.index(label)
    value, unit = set_values.length_of(text, recorded.unit)
    _need_thickness(value, text)
    reading = Reading(
        site=label,
        x=float(recorded.pattern.x[index]),
        y=float(recorded.pattern.y[index]),
        thickness=value,
        text=text.strip(),
        unit=unit,
        repeat=set_values.repeats_taken(recorded, label) + 1,
    )
    signature = Signature(by=by, at=at, reason=reason)
    return _ask_or_store(recorded, reading, "site", signature, confirmed=confirmed, seen=seen)


def is_same_reading(recorded: RecordedSet, text: str, other: str) -> bool:
    """Whether two readings of one site as sent differ by no more than the gauge scatters: the site read once more."""
    try:
        values = [set_values.length_of(one, recorded.unit)[0] for one in (text, other)]
    except UnitError:
        return False
    return abs(values[0] - values[1]) <= _SAME_SCATTER * set_values.noise_of(recorded.surroundings.gauge)


def correct_reading(
    set_id: int,
    reading_id: int,
    text: str,
    *,
    confirmed: bool = False,
    seen: RecordedSet | None = None,
    by: str,
    reason: str,
    at: datetime,
) -> ReadingAnswer:
    """Record a correction: a new reading that points at the one it replaces. The old one stays as it was.

    Raises `Conflict` when that reading has been corrected already (correct the correction instead), and as
    `record_reading` does.
    """
    recorded = seen or show_set(set_id)
    old = next((one for one in recorded.readings if one.reading.reading_id == reading_id), None)
    if old is None:
        raise NotFound(f"There is no reading {reading_id} in set {set_id}. Reload the set and choose again.")
    value, unit = set_values.length_of(text, recorded.unit)
    if old.kind == "site":
        _need_thickness(value, text)
    reading = replace(old.reading, thickness=value, text=text.strip(), unit=unit, corrects=reading_id, reading_id=None)
    signature = Signature(by=by, at=at, reason=reason)
    return _ask_or_store(recorded, reading, old.kind, signature, confirmed=confirmed, seen=seen)


def close_set(set_id: int, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedSet:
    """Close a set; the wafer moves on. Refuses (`Conflict`) with no reading, or without the last zero after a first."""
    from lapwright.records import queries, writer

    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        recorded = queries.reading_set(set_id)
        _check_complete(recorded)
        if recorded.wafer_id is not None:
            steps.need_state(
                queries.wafer(recorded.wafer_id), steps.STATES_OF_MOMENT[recorded.moment], "Closing this set"
            )
        closed = writer.close_set(set_id, _conditions(recorded), signature, version=version)
        move_on(closed, signature)
        return closed


def move_on(closed: RecordedSet, signature: Signature) -> None:
    """Take a wafer, and its measuring stage, to where a closed set leads."""
    from lapwright.records import queries, writer

    if closed.stage_id is not None:
        stage = queries.stage(closed.stage_id)
        if stage.stage.kind == "measure" and stage.state == "waiting":
            from lapwright.app import runs

            runs.end_stage(stage, signature, set_id=closed.set_id)
    after = steps.STATE_AFTER_MOMENT.get(closed.moment)
    if closed.wafer_id is None or after is None:
        return
    if queries.wafer(closed.wafer_id).state not in (after, "rebond"):
        writer.move_wafer(closed.wafer_id, after, signature)


def void_set(set_id: int, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedSet:
    """Declare a set unusable, with the reason; its readings stay on record."""
    from lapwright.records import writer

    if not reason.strip():
        raise BadInput([Fault(sentence="Say why the set must not be used; the reason stays with it.", field="reason")])
    return writer.void_set(set_id, Signature(by=by, at=at, reason=reason), version=version)


def set_result(set_id: int) -> ThicknessResult:
    """Mean, TTV, wedge, dome and their uncertainties of a set, open or closed. Raises `SetVoid`, `TooFewSites`."""
    return recorded_result(show_set(set_id))


def recorded_result(recorded: RecordedSet) -> ThicknessResult:
    """The same of a set already looked up."""
    if recorded.state == "void":
        raise SetVoid(f"The set {recorded.set_id} is void: {recorded.void_reason} Read the piece again.")
    return set_values.result_of(recorded)


# ----------------------------------------------------------------------------------------------------------------------


def _need_thickness(value: float, text: str) -> None:
    if value <= 0.0:  # a dash, for a site that cannot be read, is not
        sentence = f"{text.strip()!r} is no thickness; it must be more than zero. Read the site again."
        raise BadInput([Fault(sentence=sentence, field="value")])


def _ask_or_store(
    recorded: RecordedSet,
    reading: Reading,
    kind: ReadingKind,
    signature: Signature,
    *,
    confirmed: bool,
    seen: RecordedSet | None,
) -> ReadingAnswer:
    question = set_values.question_of(recorded, reading) if kind == "site" else None
    if question is not None and not confirmed:
        return _answer(recorded, stored=None, question=question)
    return _store(recorded.set_id, reading, kind, question, signature, seen=seen)


def _store(
    set_id: int,
    reading: Reading,
    kind: ReadingKind,
    question: str | None,
    signature: Signature,
    *,
    seen: RecordedSet | None,
) -> ReadingAnswer:
    from lapwright.records import writer
    from lapwright.records.writer.readings import NewReading

    new = NewReading(reading=reading, kind=kind, question=question)
    stored = writer.add_reading(set_id, new, signature, after=None if seen is None else len(seen.readings))
    return _answer(show_set(set_id), stored=stored, question=None)


def _answer(after: RecordedSet, *, stored: RecordedReading | None, question: str | None) -> ReadingAnswer:
    return ReadingAnswer(stored=stored, question=question, progress=set_values.progress_of(after), after=after)


def _check_complete(recorded: RecordedSet) -> None:
    kinds = {one.kind for one in recorded.readings}
    if "site" not in kinds:
        raise Conflict(f"The set {recorded.set_id} holds no reading of a site. Read the sites, or void the set.")
    if "zero_before" in kinds and "zero_after" not in kinds:
        raise Conflict(
            "The zero was read before the sites but not after them. Read the zero again, then close the set."
        )


def _conditions(recorded: RecordedSet) -> Conditions:
    """The conditions of a set as they turned out: the zeros as read."""
    before = set_values.zero_of(recorded, "zero_before")
    after = set_values.zero_of(recorded, "zero_after")
    given = recorded.conditions
    return replace(
        given,
        zero_before=given.zero_before if before is None else before,
        zero_after=given.zero_after if after is None else after,
    )
