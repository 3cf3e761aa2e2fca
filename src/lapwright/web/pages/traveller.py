"""Traveller: where is this job, what happened, and what is next? For an order, and for one of its wafers."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from lapwright.app import (
    bench_advice,
    changes,
    order_capability,
    orders,
    quotation_actual,
    quotations,
    runs,
    shelf,
    signing,
    tasks,
)
from lapwright.app.stage_course import stage_lines
from lapwright.errors import LapwrightError
from lapwright.model.job import RecordedBond, RecordedSet, RecordedVerdict, RecordedWafer
from lapwright.model.order import Quantity
from lapwright.model.story import WaferStanding, WaferStory
from lapwright.web.deeds import deed_forms
from lapwright.web.figures import Figures, bond_views, form_drawings, outline_of, set_figures
from lapwright.web.limits import capability_lines, limit_lines
from lapwright.web.pages.hands import Line, lines_of
from lapwright.web.pages.next_steps import next_steps
from lapwright.web.stages import moment_words, order_stack, turns, wafer_stack, wheel_drawing
from lapwright.web.surroundings import now, shown
from lapwright.web.words import MOMENTS, STATES


@dataclass(frozen=True, slots=True, kw_only=True)
class WaferRow:
    """One wafer in the table: where it stands, its latest figures, its bond and its verdicts."""

    wafer: RecordedWafer
    state: str
    latest: Figures | None
    latest_moment: str
    bond: RecordedBond | None
    verdicts: tuple[RecordedVerdict, ...]


@require_safe
def traveller(request: HttpRequest, order_id: str) -> HttpResponse:
    """The order as a whole."""
    return traveller_page(request, order_id)


def traveller_page(
    request: HttpRequest, order_id: str, *, note_fault: str = "", note_text: str = "", status: int = 200
) -> HttpResponse:
    """The page of an order; `note_fault` says why a note was not kept, and its text comes back."""
    standing = orders.order_standing(order_id)
    order = standing.order.order
    given = quotations.quotations(order_id)
    return shown(
        request,
        "traveller.html",
        here="traveller",
        order_id=order_id,
        status=status,
        note_fault=note_fault,
        note_text=note_text,
        order=order,
        left=sum(one.wafer.state != "rejected" for one in standing.wafers),
        is_simulated=standing.order.simulated,
        limits=limit_lines(order),
        steps=next_steps(waiting_lines(order_id)),
        rows=[_row(one, one.latest) for one in standing.wafers],
        stack=order_stack(standing),
        capability=capability_lines(order_capability.order_capability(standing)),
        notes=standing.notes,
        documents=standing.documents,
        signings=signing.signatures_of(order_id),
        certificate_numbers=signing.numbers_of(standing.documents),
        warnings=[note for note in standing.notes if note.kind == "warning"],
        quoted=given[-1].quotation if given else None,
        came=quotation_actual.job_actual(given[-1].quotation, standing) if given else None,
    )


@require_safe
def wafer(request: HttpRequest, order_id: str, wafer_id: str) -> HttpResponse:
    """One wafer of the order."""
    return wafer_page(request, order_id, wafer_id)


def wafer_page(
    request: HttpRequest,
    order_id: str,
    wafer_id: str,
    *,
    refused: dict[str, object] | None = None,
    note_fault: str = "",
    note_text: str = "",
    status: int = 200,
) -> HttpResponse:
    """The page of one wafer.

    `refused` holds a form that was sent and found faulty, by the name of its deed; `note_fault` says why a note or a
    photograph was not kept.
    """
    order, story = bench_advice.wafer_story(order_id, wafer_id)
    stage = next_stage_of(wafer_id) if any(one.state in ("waiting", "running") for one in story.stages) else None
    lines = waiting_lines(order_id, wafer_id)
    outline = outline_of(story)
    return shown(
        request,
        "wafer.html",
        here="traveller",
        order_id=order_id,
        status=status,
        order=order.order,
        story=story,
        row=_row(story, _latest_closed(story)),
        steps=next_steps(lines),
        cautions=_further_cautions(stage, lines),
        stage=stage,
        wheel=wheel_drawing(stage),
        turns=turns(stage),
        stack=wafer_stack(story, order.order.target_thickness),
        maps=form_drawings(story),
        bonds=bond_views(story, order.order),
        sets=[(one, moment_words(one, story), set_figures(one, outline)) for one in story.sets],
        stages=stage_lines(story),
        deeds=deed_forms(story, refused or {}, zero=stage.zero if stage else None),
        seen=changes.story_mark(story),
        note_fault=note_fault,
        note_text=note_text,
        photographs=[one for one in story.documents if one.kind in ("photo", "bond_photo")],
        neighbours=order.wafer_ids,
    )


def next_stage_of(wafer_id: str) -> runs.NextStage | None:
    """The next stage with its numbers; None also while the wafer cannot have one yet."""
    jigs = shelf.list_jigs()
    try:
        return runs.next_stage(wafer_id, jig_id=jigs[0].jig.jig_id if len(jigs) == 1 else None)
    except LapwrightError:
        return None


def waiting_lines(order_id: str, wafer_id: str | None = None) -> list[Line]:
    """What an order waits for, or one of its wafers."""
    return lines_of(tasks.waiting_tasks(now=now(), order_id=order_id, wafer_id=wafer_id))


# ----------------------------------------------------------------------------------------------------------------------


def _further_cautions(stage: runs.NextStage | None, lines: list[Line]) -> list[str]:
    """Cautions of the next stage that no task on the page shows already."""
    shown_already = {caution for line in lines for caution in line.cautions}
    return [caution for caution in (stage.cautions if stage else ()) if caution not in shown_already]


def _row(one: WaferStory | WaferStanding, latest: RecordedSet | None) -> WaferRow:
    standing: dict[Quantity, RecordedVerdict] = {each.verdict.limit.quantity: each for each in one.verdicts}
    return WaferRow(
        wafer=one.wafer,
        state=str(STATES[one.wafer.state]),
        latest=set_figures(latest, one.wafer.wafer.outline) if latest else None,
        latest_moment=str(MOMENTS[latest.moment]) if latest else "",
        bond=next((bond for bond in reversed(one.bonds) if bond.undone is None), None),
        verdicts=tuple(standing.values()),
    )


def _latest_closed(story: WaferStory) -> RecordedSet | None:
    closed = [one for one in story.sets if one.state == "closed" and one.subject == "wafer"]
    return max(closed, key=lambda one: one.opened.at, default=None)
