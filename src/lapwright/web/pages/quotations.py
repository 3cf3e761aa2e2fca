"""Quotation: what an order will cost, when it is done, how many wafers to start, and how it came in the end."""

from __future__ import annotations

from dataclasses import dataclass

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from lapwright.app import orders, quotation_actual, quotations
from lapwright.errors import BadInput, LapwrightError
from lapwright.model.quotation import ActualJob, ActualLine, Quotation, QuotedLine
from lapwright.web.forms import NumberField
from lapwright.web.named_parts import line_word
from lapwright.web.surroundings import now, shown, signed

_FIELDS = {"confidence": "chance", "started": "start", "valid_days": "days"}


class QuoteForm(forms.Form):
    """How a quotation is asked for."""

    chance = NumberField(label=_("Chance of delivering all, in %"), max_length=10, initial="90")
    start = forms.IntegerField(
        label=_("Wafers to start"), required=False, min_value=1, max_value=10_000,
        help_text=_("Empty: as many as that chance asks for."),
    )  # fmt: skip
    days = forms.IntegerField(label=_("Days that it holds"), min_value=1, max_value=3650, initial=30)
    language = forms.ChoiceField(label=_("Language of the PDF"), choices=[("en", "English"), ("de", "Deutsch")])
    reason = forms.CharField(label=_("Why"), max_length=300, required=False)

    def offer(self) -> quotations.Offer:
        """What was asked for; only after the form was found valid. Raises `BadInput`."""
        data = self.cleaned_data
        return quotations.Offer(confidence=0.01 * data["chance"], started=data["start"], valid_days=data["days"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A line of the table: quoted, with the length of its bar in percent, and as it came where work was done."""

    word: str
    line: QuotedLine | None
    bar: float
    came: ActualLine | None

    @property
    def person_h(self) -> float:
        """A person's hours, quoted."""
        return 0.0 if self.line is None else self.line.person / 3600.0

    @property
    def machine_h(self) -> float:
        """The machine's hours, quoted."""
        return 0.0 if self.line is None else self.line.machine / 3600.0

    @property
    def came_h(self) -> float:
        """Hours of both as recorded."""
        return 0.0 if self.came is None else (self.came.person + self.came.machine) / 3600.0


@require_http_methods(["GET", "HEAD", "POST"])
def quotation(request: HttpRequest, order_id: str) -> HttpResponse:
    """The latest quotation, or what one would say; a POST records the next."""
    standing = orders.order_standing(order_id)
    form = QuoteForm(request.POST if request.method == "POST" else None)
    status = 200
    if request.method == "POST":
        status = _record(request, order_id, form)
        if status == 200:
            return redirect(f"{reverse('quotation', args=[order_id])}#main")
    recorded = quotations.quotations(order_id)
    held, sentence = _held(order_id, [one.quotation for one in recorded])
    actual = None if held is None or not recorded else quotation_actual.job_actual(held, standing)
    return shown(
        request,
        "quotation.html",
        here="quotation",
        order_id=order_id,
        status=status,
        order=standing.order.order,
        is_simulated=standing.order.simulated,
        form=form,
        held=held,
        sentence=sentence,
        latest=recorded[-1] if recorded else None,
        versions=recorded[::-1],
        files={one.name.removesuffix(".pdf"): one for one in standing.documents if one.kind == "quotation_pdf"},
        rows=[] if held is None else _rows(held, actual),
        actual=actual,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _record(request: HttpRequest, order_id: str, form: QuoteForm) -> int:
    if not form.is_valid():
        return 422
    data = form.cleaned_data
    why = signed(request, data["reason"] or _now("quotation asked for"))
    try:
        kept = quotations.record_quotation(order_id, offer=form.offer(), language=data["language"], **why)
    except BadInput as error:
        for fault in error.faults:
            form.add_error(_FIELDS.get(fault.field or ""), fault.sentence)
        return 422
    except LapwrightError as error:
        form.add_error(None, error.sentence)
        return 409
    messages.success(request, _now("Quotation %(number)s is recorded.") % {"number": kept.quotation.number})
    return 200


def _held(order_id: str, recorded: list[Quotation]) -> tuple[Quotation | None, str]:
    """The latest recorded, else what one would say now, else the sentence why there can be none."""
    if recorded:
        return recorded[-1], ""
    try:
        return quotations.reckon_order(order_id, on=now().date()), ""
    except LapwrightError as error:
        return None, error.sentence


def _rows(held: Quotation, actual: ActualJob | None) -> list[Row]:
    """Worst first."""
    came = {} if actual is None else {one.name: one for one in actual.lines}
    largest = max((one.cost for one in held.lines), default=0.0) or 1.0
    rows = [
        Row(word=line_word(one.name), line=one, bar=100.0 * one.cost / largest, came=came.pop(one.name, None))
        for one in sorted(held.lines, key=lambda one: -one.cost)
    ]
    return [*rows, *(Row(word=line_word(one.name), line=None, bar=0.0, came=one) for one in came.values())]
