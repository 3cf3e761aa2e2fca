"""Use case: is it clean enough for the next one? A look before every other abrasive and before release.

A grain carried on scratches for an hour and is seen at the end (common practice, no source). So the cleaning stage
before another abrasive, and the last one, end with a look that carries a name; it can be overruled, with a reason.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime

from lapwright.app import looks
from lapwright.app.documents import store_document
from lapwright.app.kept_results import kept_until
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.clean_check import CLEAN_ITEMS, LookDue, LookOutcome, RecordedLook
from lapwright.model.readings import Signature
from lapwright.model.story import WaferStory

_BLOCKED_REST_ON = frozenset({"cleancheck", "stage"})
WORDS = {
    "rinsed": "wafer and carrier rinsed until the water runs clear",
    "rim": "rim of carrier and adhesive brushed",
    "jig": "jig and ring rinsed",
    "bench": "plate, drip and bench free of the old abrasive",
    "gloves": "fresh gloves",
    "looked": "looked at under slanting light: no grain, no film",
}


def blocked_stages() -> Mapping[int, RecordedLook]:
    """Stages whose last look found them not clean, and that look; looked up anew after a write into either."""
    from lapwright.records import shift_queries

    return kept_until(_BLOCKED_REST_ON, ("blocked stages",), shift_queries.blocked_stages)


def look_due(wafer_id: str) -> LookDue | None:
    """The look that the wafer's waiting stage ends with; None when it ends with none. Raises `NotFound`."""
    from lapwright.records import queries, shift_queries

    queries.wafer(wafer_id)
    stages = queries.stages(wafer_id)
    stage = next((one for one in stages if one.state in ("waiting", "running")), None)
    if stage is None or not looks.needs_look(stage, stages):
        return None
    before, after = looks.around(stage, stages)
    return LookDue(stage=stage, before=before, after=after, looks=shift_queries.looks(wafer_id))


def record_look(
    stage_id: int,
    outcome: LookOutcome,
    *,
    checked: Collection[str] = (),
    photograph: tuple[str, bytes] | None = None,
    by: str,
    reason: str,
    at: datetime,
) -> RecordedLook:
    """Record what was found; clean or overruled ends the stage, not clean leaves it waiting.

    Raises `BadInput` for a clean one with something not looked at, and for another without a reason; `Conflict` for a
    stage that is not the next or ends with no look.
    """
    from lapwright.app import runs
    from lapwright.records import queries, writer

    _check(outcome, checked, reason)
    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        stage = queries.stage(stage_id)
        runs.need_turn(stage)
        if not looks.needs_look(stage, queries.stages(stage.wafer_id)):
            raise Conflict(f"Stage {stage.stage.name!r} ends without a look. Record it as done.")
        document_id = None
        if photograph is not None:
            order_id = queries.wafer(stage.wafer_id).order_id
            kept = store_document(
                order_id, *photograph, kind="photo", wafer_id=stage.wafer_id, by=by, reason=reason, at=at
            )
            document_id = kept.document_id
        kept_items = [item for item in CLEAN_ITEMS if item in checked]
        look = writer.add_look(stage_id, outcome, kept_items, document_id, signature)
        if outcome != "not_clean":
            runs.end_stage(stage, signature)
        return look


def looks_of(wafer_id: str) -> tuple[RecordedLook, ...]:
    """All looks at a wafer, oldest first."""
    from lapwright.records import shift_queries

    return shift_queries.looks(wafer_id)


def gone_on_unlooked(story: WaferStory) -> tuple[str, ...]:
    """Where a wafer went on although no look had found all clean: overruled, or the cleaning left out; who said why."""
    from lapwright.app.stage_course import stage_lines

    told = []
    for line in stage_lines(story):
        name = line.recorded.stage.name
        if line.look is not None and line.look.outcome == "overruled":
            said = line.look.signature
            told.append(f"It went on after “{name}” although no look had found all clean; {said.by}: {said.reason}")
        elif line.recorded.state == "skipped" and line.ended and looks.needs_look(line.recorded, story.stages):
            told.append(f"The cleaning “{name}” was left out; {line.ended.by}: {line.ended.reason}")
    return tuple(told)


# ----------------------------------------------------------------------------------------------------------------------


def _check(outcome: LookOutcome, checked: Collection[str], reason: str) -> None:
    unknown = sorted(set(checked) - set(CLEAN_ITEMS))
    faults = [Fault(sentence=f"Nothing called {one!r} is looked at.", field="checked") for one in unknown]
    if outcome == "clean":
        faults += [
            Fault(
                sentence=f"Not looked at: {WORDS[item]}. Do it, or say that it is overruled and why.", field="checked"
            )
            for item in CLEAN_ITEMS
            if item not in checked
        ]
    elif not reason.strip():
        what = "what was found" if outcome == "not_clean" else "why it goes on all the same"
        faults.append(Fault(sentence=f"Say {what}; it stays with the wafer.", field="reason"))
    if faults:
        raise BadInput(faults, subject="The look")
