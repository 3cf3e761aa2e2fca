"""Gauges: what is each worth, may I use it, and how does it stand? With its checks, calibrations and studies."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lapwright.app import gauge_care, gauge_pairs, gauge_studies, gauges, reading_budget
from lapwright.errors import Fault, LapwrightError, NotFound
from lapwright.model.gauge_care import RecordedStudy
from lapwright.web.budget_views import BudgetTable, piece_table
from lapwright.web.gauge_forms import (
    CalibrationForm,
    CheckForm,
    PieceForm,
    PolicyForm,
    StandardForm,
    StudyForm,
    ToleranceForm,
)
from lapwright.web.gauge_views import (
    budget_drawing,
    gauge_figures,
    gauge_line,
    gauge_lines,
    study_drawings,
    study_words,
)
from lapwright.web.surroundings import now, shown, signed
from lapwright.web.typed_fields import need_one_way

MOST_PAIRS = 6
DEEDS = ("check", "standard", "calibrate", "policy", "plan")


@require_safe
def overview(request: HttpRequest) -> HttpResponse:
    """All gauges, against a tolerance when one is named."""
    form, tolerance = _tolerance(request)
    lines = gauge_lines(tolerance=tolerance)
    return shown(request, "gauges.html", here="gauges", form=form, tolerance=tolerance, lines=lines)


@require_safe
def gauge(request: HttpRequest, gauge_id: str) -> HttpResponse:
    """One gauge."""
    return _page(request, gauge_id, {})


@require_POST
def do(request: HttpRequest, gauge_id: str, deed: str) -> HttpResponse:
    """One deed of care: a check, a standard, a calibration, the policy, a study planned."""
    if deed not in DEEDS:
        raise NotFound(f"Nothing called {deed!r} is done to a gauge here. Open the page of the gauge.")
    form = _forms(gauge_id, {deed: request.POST})[deed]
    if form.is_valid():
        try:
            to = _DOERS[deed](request, gauge_id, form)
        except LapwrightError as error:
            _tell(form, error)
        else:
            return redirect(to)
    return _page(request, gauge_id, {deed: form}, status=422)


@require_http_methods(["GET", "HEAD", "POST"])
def study(request: HttpRequest, gauge_id: str, study_id: str) -> HttpResponse:
    """One study: the next line while it is read, its result once it can be told. A value is typed and Enter pressed."""
    found = _study_of(gauge_id, study_id)
    text, sentence = "", ""
    line = _line(found, request.POST.get("line") or request.GET.get("line"))
    if request.method == "POST":
        text = request.POST.get("value", "").strip()
        if request.POST.get("seen") != str(len(found.readings)):
            sentence = _("This study has moved on meanwhile; nothing was recorded. Look which part is next.")
            return _study_page(request, found, _line(found, None), said=(text, sentence))
        try:
            if not gauge_studies.is_like_before(found, text):
                need_one_way(text)
            gauge_studies.record_study_reading(study_id, text, line=line, **signed(request, "typed in the study"))
        except LapwrightError as error:
            sentence = error.sentence
        else:
            return redirect("study", gauge_id, study_id)
    return _study_page(request, found, line, said=(text, sentence))


@require_safe
def sheet(request: HttpRequest, gauge_id: str, study_id: str) -> HttpResponse:
    """The sheet of a study to be printed and written on."""
    return shown(request, "study_sheet.html", here="gauges", study=_study_of(gauge_id, study_id))


@require_POST
def end_study(request: HttpRequest, gauge_id: str, study_id: str) -> HttpResponse:
    """File the study, or declare it unusable with the reason typed."""
    found = _study_of(gauge_id, study_id)
    try:
        if request.POST.get("what") == "void":
            reason = request.POST.get("reason", "").strip()
            gauge_studies.void_study(study_id, version=found.version, **signed(request, reason))
        else:
            gauge_studies.file_study(study_id, version=found.version, **signed(request, "all lines read"))
    except LapwrightError as error:
        ending = request.POST.get("reason") if request.POST.get("what") == "void" else None
        return _study_page(request, found, None, said=("", error.sentence), ending=ending)
    return redirect("study", gauge_id, study_id)


# ----------------------------------------------------------------------------------------------------------------------


def _page(request: HttpRequest, gauge_id: str, sent: dict[str, forms.Form], *, status: int = 200) -> HttpResponse:
    form, tolerance = _tolerance(request)
    recorded = gauges.show_gauge(gauge_id, on=now().date())
    piece_form, piece_tables, left_out = _piece(request, gauge_id)
    content: dict[str, Any] = {
        "form": form,
        "piece_form": piece_form,
        "budgets": piece_tables,
        "left_out": left_out,
        "tolerance": tolerance,
        "line": gauge_line(recorded, tolerance=tolerance),
        "budget": budget_drawing(recorded),
        "figures": gauge_figures(gauge_id),
        "zeros": gauge_care.zero_history(gauge_id)[-12:][::-1],
        "checks": gauge_care.list_checks(gauge_id)[-12:][::-1],
        "calibrations": gauge_care.list_calibrations(gauge_id)[::-1],
        "pairs": [(one, gauge_pairs.pair_sentence(one)) for one in gauge_pairs.list_pairs(gauge_id)[:MOST_PAIRS]],
        "studies": gauge_studies.list_studies(gauge_id),
        "touched": gauge_care.touched_of_late(gauge_id),
        "forms": _forms(gauge_id, {}) | sent,
        "sent": list(sent),
    }
    return shown(request, "gauge.html", here="gauges", status=status, **content)


def _forms(gauge_id: str, data: dict[str, Any]) -> dict[str, forms.Form]:
    recorded = gauges.show_gauge(gauge_id, on=now().date())
    standards = gauge_care.list_standards()
    policy = {"when_unfit": recorded.gauge.when_unfit, "version": recorded.version}
    return {
        "check": CheckForm(data.get("check"), standards=standards, prefix="check"),
        "standard": StandardForm(data.get("standard"), prefix="standard"),
        "calibrate": CalibrationForm(data.get("calibrate"), prefix="calibrate", initial={"done": now().date()}),
        "policy": PolicyForm(data.get("policy"), prefix="policy", initial=policy),
        "plan": StudyForm(data.get("plan"), prefix="plan", initial={"study_id": _free_name(gauge_id)}),
    }


def _free_name(gauge_id: str) -> str:
    return f"{gauge_id}-S{len(gauge_studies.list_studies(gauge_id)) + 1}"


def _check(request: HttpRequest, gauge_id: str, form: Any) -> str:
    data = form.cleaned_data
    why = signed(request, "read on the Gauges page")
    gauge_care.record_check(gauge_id, data["standard"] or None, data["value"], **why)
    messages.success(request, _("The check is recorded."))
    return reverse("gauge", args=[gauge_id])


def _standard(request: HttpRequest, gauge_id: str, form: Any) -> str:
    gauge_care.register_standard(form.standard(), **signed(request, "entered on the Gauges page"))
    messages.success(request, _("The check standard is recorded."))
    return reverse("gauge", args=[gauge_id])


def _calibrate(request: HttpRequest, gauge_id: str, form: Any) -> str:
    gauges.record_calibration(form.calibration(gauge_id), **signed(request, "certificate received"))
    messages.success(request, _("The calibration is recorded."))
    return reverse("gauge", args=[gauge_id])


def _policy(request: HttpRequest, gauge_id: str, form: Any) -> str:
    recorded = gauges.show_gauge(gauge_id, on=now().date())
    changed = gauge_care.with_policy(recorded.gauge, form.cleaned_data["when_unfit"])
    seen = form.cleaned_data["version"]
    version = recorded.version if seen is None else seen
    gauges.register_gauge(changed, version=version, **signed(request, "policy set on the Gauges page"))
    messages.success(request, _("The policy is recorded."))
    return reverse("gauge", args=[gauge_id])


def _plan(request: HttpRequest, gauge_id: str, form: Any) -> str:
    planned = gauge_studies.plan_study(form.request(gauge_id), **signed(request, "planned on the Gauges page"))
    return reverse("study", args=[gauge_id, planned.plan.study_id])


_DOERS = {"check": _check, "standard": _standard, "calibrate": _calibrate, "policy": _policy, "plan": _plan}


def _tell(form: forms.Form, error: LapwrightError) -> None:
    for fault in error.faults or (Fault(sentence=error.sentence),):
        form.add_error(fault.field if fault.field in form.fields else None, fault.sentence)


def _tolerance(request: HttpRequest) -> tuple[ToleranceForm, float | None]:
    form = ToleranceForm(request.GET if "tolerance" in request.GET else None)
    chosen = form.cleaned_data["tolerance"] if form.is_bound and form.is_valid() else None
    if chosen is not None and not chosen > 0.0:
        form.add_error("tolerance", _("A tolerance is more than zero; give its full width."))
        chosen = None
    return form, chosen


def _piece(request: HttpRequest, gauge_id: str) -> tuple[PieceForm, list[BudgetTable], tuple[str, ...]]:
    """The form of a piece, and the budget of one reading of it once it is filled in."""
    form = PieceForm(request.GET if "material" in request.GET else None)
    if not (form.is_bound and form.is_valid()):
        return form, [], ()
    try:
        found = reading_budget.reading_budget(gauge_id, form.piece())
    except LapwrightError as error:
        form.add_error(None, error.sentence)
        return form, [], ()
    return form, [piece_table(found)], found.left_out


def _study_of(gauge_id: str, study_id: str) -> RecordedStudy:
    found = gauge_studies.show_study(study_id)
    if found.plan.gauge_id != gauge_id:
        raise NotFound(f"Study {study_id} is not of gauge {gauge_id}. Open it from gauge {found.plan.gauge_id}.")
    return found


def _line(found: RecordedStudy, text: str | None) -> int | None:
    """The line to read: one asked for, else the next."""
    if text and text.isdecimal() and found.is_open:
        return int(text)
    return None if found.next_line is None else found.next_line.order


def _study_page(
    request: HttpRequest, found: RecordedStudy, line: int | None, *, said: tuple[str, str], ending: str | None = None
) -> HttpResponse:
    form, tolerance = _tolerance(request)
    against = found.plan.tolerance if tolerance is None else tolerance
    asked = next((one for one in found.plan.sheet if one.order == line), None)
    content: dict[str, Any] = {
        "study": found,
        "form": form,
        "tolerance": against,
        "asked": asked,
        "reading": found.next_line is not None,
        "correcting": line is not None and line in found.standing,
        "standing": found.standing.get(line or 0),
        "text": said[0],
        "sentence": said[1],
        "ending": ending,
        "taken": len(found.standing),
        "wanted": len(found.plan.sheet),
        "rows": _rows(found),
        "words": study_words(found, tolerance),
    }
    try:
        result = gauge_studies.study_result(found, tolerance=against)
        content |= {"result": result, "drawings": study_drawings(found, result)}
        content["resolution"] = gauge_studies.resolution_of(found, tolerance=against)
    except LapwrightError:
        content["words"] = ()
    status = 422 if said[1] else 200
    return shown(request, "study.html", here="gauges", status=status, **content)


def _rows(found: RecordedStudy) -> list[tuple[Any, Any]]:
    standing = found.standing
    return [(line, standing.get(line.order)) for line in found.plan.sheet]
