"""Readings: take a set of readings, one value and Enter at a time."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lapwright.app import cautions, orders, pasted_readings, readings, route_searches, stations, tasks
from lapwright.errors import TABLE, BadInput, Conflict, FileFormatError, LapwrightError, NotFound
from lapwright.model.job import ReadingAnswer, RecordedReading, RecordedSet, RecordedWafer, SetProgress
from lapwright.model.story import SetHead
from lapwright.web.after_set import following, judge_by
from lapwright.web.budget_views import budget_tables
from lapwright.web.figures import set_figures
from lapwright.web.sentences import said as said_in_words
from lapwright.web.sentences import with_what_was_typed
from lapwright.web.set_form import SetForm
from lapwright.web.sheet import sheet_drawing, valid_readings
from lapwright.web.sockets import give_ticket
from lapwright.web.surroundings import now, shown, signed
from lapwright.web.words import AGAIN_MOMENT, MOMENTS, NEXT_MOMENT

LIKELY = AGAIN_MOMENT | NEXT_MOMENT
#: Header by which the page's script asks for the changing parts alone, and by which the answer says that it is them.
PART = "X-Part"
MOST_TEXT = 500_000  # bytes of a file of readings of one set


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the page says about the last thing typed: a fault or a question, and the text it is about."""

    sentence: str = ""
    kind: str = ""
    again: str = ""
    questioned: str = ""
    status: int = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Pasted:
    """Readings sent together that were not recorded: the text, what is wrong with it, or what is doubtful in it."""

    text: str
    asked_about: str = ""
    faults: tuple[str, ...] = ()
    doubtful: tuple[pasted_readings.DoubtfulRow, ...] = ()


@require_http_methods(["GET", "HEAD", "POST"])
def overview(request: HttpRequest, order_id: str) -> HttpResponse:
    """The sets of an order: go on with an open one, or open the next."""
    order = orders.recorded_order(order_id).order
    wafers, sets = orders.order_wafers(order_id), orders.list_sets(order_id)
    wafer_id = request.GET.get("wafer")
    over = {one.wafer.wafer_id for one in wafers if one.state == "rejected"}
    open_sets = [one for one in sets if one.state == "open" and one.wafer_id not in over]
    piece = request.GET.get("piece")
    named = piece or wafer_id
    if request.method != "POST" and named:
        begun = orders.open_sets_of(named)
        if begun:
            return redirect("set", begun[0][1] or order_id, begun[0][0])
    likely = {"hold": order.hold} | _likely(wafers, sets, wafer_id)
    if piece:
        likely |= {"piece": piece, "moment": "carrier"}
    likely |= _as_before(sets, request.GET.get("like"))
    form = SetForm(request.POST or None, order=order, wafers=wafers, initial=likely)
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        for number, of_order, moment in orders.open_sets_of(typed["piece"]):
            if moment == typed["moment"]:
                messages.warning(request, _("This set was begun already; go on where it stopped."), extra_tags="doubt")
                return redirect("set", of_order or order_id, number)
        try:
            opened = readings.open_set(form.request(), **signed(request, "opened on the Readings page"))
        except LapwrightError as error:
            form.add_error(None, error.sentence)
        else:
            return redirect("set", order_id, opened.set_id)
    closed = [one for one in sets if one.state != "open"]
    return shown(
        request, "readings.html", here="readings", order_id=order_id, form=form, open_sets=open_sets,
        cautions=_before_reading(order_id, order.material, wafer_id),
        moment_of=json.dumps({one.wafer.wafer_id: LIKELY.get(one.state, "incoming") for one in wafers}),
        closed_sets=sorted(closed, key=lambda one: one.opened.at, reverse=True), moments=MOMENTS,
        status=422 if form.errors else 200,
    )  # fmt: skip


@require_safe
def one_set(request: HttpRequest, order_id: str, set_id: int) -> HttpResponse:
    """One set: the next reading while it is open, its result once it is closed."""
    recorded = _set_of(order_id, set_id)
    correct = _reading_named(recorded, request.GET.get("correct"))
    return _page(request, order_id, recorded, Said(), correct, again=_site_named(recorded, request.GET.get("site")))


@require_POST
def take(request: HttpRequest, order_id: str, set_id: int) -> HttpResponse:
    """Take one value: recorded, questioned, or refused with a sentence and nothing lost."""
    recorded = _set_of(order_id, set_id)
    correct = _reading_named(recorded, request.POST.get("correct"))
    again = _site_named(recorded, request.POST.get("site"))
    text = request.POST.get("value", "").strip()
    said, after = _offer(request, recorded, text, correct)
    if said.kind == "":
        again = None
        if PART not in request.headers:
            return redirect("set", order_id, set_id)
        correct = None
    return _page(request, order_id, after, said, correct, again=again)


@require_POST
def take_many(request: HttpRequest, order_id: str, set_id: int) -> HttpResponse:
    """Take readings that come together: pasted cells or a file. All are recorded, or none and the page says why."""
    recorded = _set_of(order_id, set_id)
    try:
        text = _text_sent(request)
        confirmed = bool(text) and text == request.POST.get("asked_about", "").replace("\r\n", "\n")
        why = signed(request, "pasted on the Readings page")
        if request.POST.get("seen") != str(len(recorded.readings)):
            sentence = _(
                "This set has moved on since the page was made, so nothing was recorded. %(last)s Send it again."
            )
            raise Conflict(sentence % {"last": _last_words(recorded)})
        answer = pasted_readings.record_pasted(set_id, text, confirmed=confirmed, **why)
    except LapwrightError as error:
        faults = [fault.sentence for fault in error.faults] or [error.sentence]
        pasted = Pasted(text=request.POST.get("text", ""), faults=tuple(faults))
        return _page(request, order_id, recorded, Said(status=422), None, pasted=pasted)
    if answer.doubtful:
        pasted = Pasted(text=text, asked_about=text, doubtful=answer.doubtful)
        return _page(request, order_id, recorded, Said(), None, pasted=pasted)
    return redirect("set", order_id, set_id)


@require_POST
def close(request: HttpRequest, order_id: str, set_id: int) -> HttpResponse:
    """Close the set; the wafer moves on."""
    recorded = _set_of(order_id, set_id)
    readings.close_set(set_id, version=recorded.version, **signed(request, "all sites read"))
    judge_by(recorded, **signed(request, "the stack is read"))
    if recorded.moment == "incoming":
        route_searches.ahead(order_id, now())  # what was read is what its routes start from
    return redirect("set", order_id, set_id)


@require_POST
def void(request: HttpRequest, order_id: str, set_id: int) -> HttpResponse:
    """Declare the set unusable, with the reason typed; its readings stay on record."""
    recorded = _set_of(order_id, set_id)
    reason = request.POST.get("reason", "").strip()
    sentence = "" if reason else _("Say why the set is not usable; the reason stays with it.")
    status = 422
    try:
        if reason:
            readings.void_set(set_id, version=recorded.version, **signed(request, reason))
            return redirect("set", order_id, set_id)
    except (BadInput, Conflict) as error:
        sentence = error.sentence
        status = TABLE[error.code][1]
        recorded = _set_of(order_id, set_id)  # as another may have left it
        if recorded.state == "void":
            sentence = with_what_was_typed(said_in_words(sentence), reason)
    said = Said(sentence=sentence, kind="bad", status=status)
    return _page(request, order_id, recorded, said, None, void_reason=reason)


# ----------------------------------------------------------------------------------------------------------------------


def _before_reading(order_id: str, material: str, wafer_id: str | None) -> tuple[str, ...]:
    """What can hurt whoever reads a piece of an order, and what else is said of what the wafer asked for waits for."""
    waiting = tasks.waiting_tasks(now=now(), order_id=order_id, wafer_id=wafer_id) if wafer_id else ()
    told = [one for task in waiting if task.page == "readings" for one in task.cautions]
    return tuple(dict.fromkeys((*told, *cautions.when_measuring(material))))


def _offer(
    request: HttpRequest, recorded: RecordedSet, text: str, correct: RecordedReading | None
) -> tuple[Said, RecordedSet]:
    """Offer what was typed to the records: what there is to say about it, and the set as it stands then."""
    if request.POST.get("seen") != str(len(recorded.readings)):
        return _moved_on(recorded, text), recorded
    if not text:
        return Said(sentence=_("Type the value and press Enter."), kind="doubt", status=422), recorded
    questioned = request.POST.get("questioned", "")
    confirmed = text == questioned or (
        bool(request.POST.get("by_gauge") and questioned) and readings.is_same_reading(recorded, text, questioned)
    )
    try:
        answer = _answer(request, recorded, text, correct=correct, confirmed=confirmed)
    except LapwrightError as error:
        after = readings.show_set(recorded.set_id)
        if len(after.readings) != len(recorded.readings):  # by another hand, in the moment between
            return _moved_on(after, text), after
        return Said(sentence=error.sentence, kind="bad", again=text, status=422), after
    if answer.question is not None and answer.stored is None:
        return Said(sentence=answer.question, kind="doubt", questioned=text), answer.after
    return Said(), answer.after


def _moved_on(recorded: RecordedSet, text: str) -> Said:
    sentence = _(
        "This set has moved on since the page was made, so nothing was recorded. %(last)s Look which site is next."
    )
    return Said(sentence=sentence % {"last": _last_words(recorded)}, kind="doubt", again=text, status=409)


def _answer(
    request: HttpRequest, recorded: RecordedSet, text: str, *, correct: RecordedReading | None, confirmed: bool
) -> ReadingAnswer:
    if correct is not None and correct.reading.reading_id is not None:
        return readings.correct_reading(
            recorded.set_id,
            correct.reading.reading_id,
            text,
            confirmed=confirmed,
            seen=recorded,
            **signed(request, _how(request, "corrected on the Readings page")),
        )
    why = signed(request, _how(request, "typed on the Readings page"))
    expected = readings.set_progress(recorded).expected
    zero = {"zero_before": "before", "zero_after": "after"}.get(expected)
    if zero is not None and not (zero == "after" and request.POST.get("site")):
        return readings.record_zero(recorded.set_id, text, when=zero, confirmed=confirmed, seen=recorded, **why)  # type: ignore[arg-type]
    site = _site_named(recorded, request.POST.get("site"))
    return readings.record_reading(recorded.set_id, text, site=site, confirmed=confirmed, seen=recorded, **why)


def _last_words(recorded: RecordedSet) -> str:
    """What was recorded last, where, by whom and when, in a sentence; "" where nothing was."""
    if not recorded.readings:
        return ""
    last = max(recorded.readings, key=lambda one: (one.signature.at, one.sequence))
    place = last.reading.site or _("the zero")
    return _("Last, %(text)s at %(place)s by %(by)s at %(at)s.") % {
        "text": last.reading.text,
        "place": place,
        "by": last.signature.by,
        "at": date_format(localtime(last.signature.at), "H:i:s"),
    }


def _how(request: HttpRequest, otherwise: str) -> str:
    """Why a reading is recorded: sent by the gauge of a station, or as told."""
    station = request.POST.get("by_gauge", "")[:60]
    return f"sent by the gauge at {station}" if station else otherwise


def _text_sent(request: HttpRequest) -> str:
    """The text of the file that was sent, else what was pasted."""
    sent = request.FILES.get("file")
    if sent is None:
        return request.POST.get("text", "").replace("\r\n", "\n")
    if sent.size is None or sent.size > MOST_TEXT:
        sentence = _("The file is larger than %(n)d kB; readings of one set are far less. Choose the right file.")
        raise FileFormatError(sentence % {"n": MOST_TEXT // 1000})
    try:
        text = str(sent.read(), "utf-8-sig")
    except UnicodeDecodeError as error:
        sentence = _("The file is no plain text. Save the column as text or CSV and send that, or paste the cells.")
        raise FileFormatError(sentence) from error
    return text.replace("\r\n", "\n")


def _page(
    request: HttpRequest,
    order_id: str,
    recorded: RecordedSet,
    said: Said,
    correct: RecordedReading | None,
    *,
    pasted: Pasted | None = None,
    again: str | None = None,
    void_reason: str | None = None,
) -> HttpResponse:
    progress = readings.set_progress(recorded)
    lit = correct.reading.site if correct else again or progress.site
    outline = recorded.surroundings.outline
    valid = valid_readings(recorded)
    figures = set_figures(recorded, outline, drawn=recorded.state != "open")
    address, word = following(order_id, recorded)
    over = PART not in request.headers and _is_over(order_id, recorded)
    content: dict[str, Any] = {
        "order_id": order_id,
        "is_over": over,
        "set": recorded,
        "moment": MOMENTS[recorded.moment],
        "progress": progress,
        "asked": _asked(progress, correct, again),
        "correct": correct,
        "again": again or "",
        "pasted": pasted,
        "last": valid[-1] if valid else None,
        "said": said,
        "void_typed": void_reason,
        "drawing": sheet_drawing(recorded, outline, lit=lit or None, doubtful=bool(said.questioned)),
        "figures": figures,
        "budgets": budget_tables(figures.result) if figures.result and recorded.state != "open" else [],
        "seen": len(recorded.readings),
        "takes": not over
        and (correct is not None or again is not None or progress.expected in ("zero_before", "site", "zero_after")),
        "next_address": address,
        "next_word": word,
        "cautions": cautions.when_measuring(orders.recorded_order(order_id).order.material)
        if recorded.state == "open" and PART not in request.headers
        else (),
        "gauge_station": stations.station_of_gauge(recorded.gauge_id) if recorded.state == "open" else None,
    }
    if PART in request.headers:
        answer = render(request, "lapwright/parts/sheet.html", content, status=said.status)
        answer[PART] = "sheet"
        return answer
    return give_ticket(request, shown(request, "set.html", here="readings", status=said.status, **content))


def _is_over(order_id: str, recorded: RecordedSet) -> bool:
    """Whether the work on the set's wafer has ended, so that nothing more is read of it."""
    if recorded.wafer_id is None or recorded.state == "closed":
        return False
    held = orders.order_wafers(order_id)
    return any(one.wafer.wafer_id == recorded.wafer_id and one.state == "rejected" for one in held)


def _asked(progress: SetProgress, correct: RecordedReading | None, again: str | None) -> str:
    if again is not None and correct is None:
        return _("Once more: site %(site)s") % {"site": again}
    if correct is not None:
        place = _("site %(site)s") % {"site": correct.reading.site} if correct.kind == "site" else _("the zero")
        return _("Again: %(place)s, instead of %(text)s") % {"place": place, "text": correct.reading.text}
    if progress.expected == "site":
        asked = _("Site %(site)s") % {"site": progress.site}
        again = _(", reading %(repeat)s") % {"repeat": progress.repeat}
        return asked + again if progress.repeat is not None and progress.repeat > 1 else asked
    words = {
        "zero_before": _("Zero of the gauge, before"),
        "zero_after": _("Zero of the gauge, after"),
        "close": _("All read"),
        "nothing": _("Set finished"),
    }
    return words[progress.expected]


def _set_of(order_id: str, set_id: int) -> RecordedSet:
    recorded = readings.show_set(set_id)
    if recorded.order_id not in (order_id, None):
        raise NotFound(f"Set {set_id} does not belong to order {order_id}. Open it from its own order.")
    return recorded


def _site_named(recorded: RecordedSet, text: str | None) -> str | None:
    """The site that is to be read once more, besides what the set asks for."""
    return text if text and recorded.state == "open" and text in recorded.pattern.labels else None


def _reading_named(recorded: RecordedSet, text: str | None) -> RecordedReading | None:
    if not text or recorded.state != "open":
        return None
    valid = valid_readings(recorded)
    if text == "last":
        return valid[-1] if valid else None
    for one in valid:
        if str(one.reading.reading_id) == text:
            return one
    raise NotFound(f"Reading {text} is not in this set, or was corrected already. Correct the one that stands now.")


def _as_before(sets: Sequence[SetHead], told: str | None) -> dict[str, object]:
    """How the set was read that is to be read again (``?like=``)."""
    one = next((one for one in sets if str(one.set_id) == told), None)
    if one is None:
        return {}
    return {
        "piece": one.piece, "moment": one.moment, "gauge": one.gauge_id, "pattern": one.pattern, "unit": one.unit,
        "repeats": one.repeats,
    }  # fmt: skip


def _likely(wafers: Sequence[RecordedWafer], sets: Sequence[SetHead], wafer_id: str | None) -> dict[str, object]:
    """What the next set most likely is: of the wafer asked for, at the moment it waits for, as the last one was."""
    likely: dict[str, object] = {}
    if sets:
        last = sets[-1]
        likely |= {"gauge": last.gauge_id, "pattern": last.pattern, "unit": last.unit}
    for one in wafers:
        if one.wafer.wafer_id == wafer_id or (wafer_id is None and one.state in NEXT_MOMENT):
            likely |= {"piece": one.wafer.wafer_id, "moment": LIKELY.get(one.state, "incoming")}
            break
    return likely
