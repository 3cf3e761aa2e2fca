"""The form that opens a set of readings: of what, when in the job, with which gauge, on which sites."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from lapwright import units
from lapwright.app import gauges, shelf
from lapwright.app.reading_plan import ReadingPlan, reading_plan
from lapwright.errors import UnitError
from lapwright.metrology.site_patterns import PATTERN_NAMES
from lapwright.model.job import RecordedWafer
from lapwright.model.order import Order
from lapwright.model.readings import Conditions, Gauge
from lapwright.model.request import SetRequest
from lapwright.web.sentences import printed
from lapwright.web.surroundings import now
from lapwright.web.typed_fields import TypedField
from lapwright.web.words import MOMENTS, QUANTITIES, SUBJECTS

SITES = {"five": _("5 sites"), "nine": _("9 sites"), "thirteen": _("13 sites"), "seventeen": _("17 sites")}
COUNTS = {"five": 5, "nine": 9, "thirteen": 13, "seventeen": 17}
YES_NO = [("", _("not known")), ("yes", _("yes")), ("no", _("no"))]


class SetForm(forms.Form):
    """A set of readings to be opened."""

    piece = forms.ChoiceField(label=_("Wafer or carrier"))
    moment = forms.ChoiceField(label=_("When in the job"), choices=list(MOMENTS.items()))
    gauge = forms.ChoiceField(label=_("Gauge"))
    pattern = forms.ChoiceField(
        label=_("Sites"), choices=[(name, SITES.get(name, name)) for name in PATTERN_NAMES], initial="nine"
    )
    repeats = forms.IntegerField(label=_("Readings at each site"), min_value=1, max_value=20, initial=1)
    unit = forms.ChoiceField(
        label=_("A bare number means"),
        choices=[(symbol, symbol) for symbol in ("µm", "mm", "mil", "in", "nm")],
        initial="µm",
    )
    hold = forms.ChoiceField(label=_("Held"), choices=[("free", _("free")), ("clamped", _("clamped"))])
    temperature = TypedField(label=_("Temperature"), required=False, max_length=20, help_text=_("For example 21.5 °C."))
    soaked = forms.ChoiceField(label=_("Cooled down fully since the last hot step"), choices=YES_NO, required=False)
    zero = forms.BooleanField(label=_("Read the zero of the gauge before and after"), required=False, initial=True)

    def __init__(self, *args: Any, order: Order, wafers: Sequence[RecordedWafer], **options: Any) -> None:
        super().__init__(*args, **options)
        self._order_id = order.order_id
        of_order = [(one.wafer.wafer_id,) * 2 for one in wafers if one.state != "rejected"]
        carriers = [(one.carrier.carrier_id,) * 2 for one in shelf.list_carriers()]
        pieces = [(str(_("Wafers")), of_order), (str(_("Carriers")), carriers)]
        self.fields["piece"].choices = [group for group in pieces if group[1]]  # type: ignore[attr-defined]
        held = [one.gauge for one in gauges.list_gauges(on=now().date())]
        known = [(one.gauge_id, " · ".join(dict.fromkeys((one.gauge_id, one.name)))) for one in held]
        self.fields["gauge"].choices = known  # type: ignore[attr-defined]
        if not known:
            self.fields["gauge"].help_text = _("No gauge is on record yet. Enter one on the page Room.")
        self._propose(order, held)
        self._carriers = {name for name, _same in carriers}

    def _propose(self, order: Order, held: Sequence[Gauge]) -> None:
        """As many readings as the limits of the order ask for with the gauge that stands in the form, and why."""
        gauge = next((one for one in held if one.gauge_id == self.initial.get("gauge")), held[0] if held else None)
        if gauge is not None:
            plan = reading_plan(order, gauge, sites=COUNTS.get(str(self.initial.get("pattern")), COUNTS["nine"]))
            self.fields["repeats"].initial = plan.repeats
            self.fields["repeats"].help_text = _why_so_many(plan)

    def clean_temperature(self) -> float | None:
        """Kelvins, or None when left empty."""
        text = self.cleaned_data["temperature"].strip()
        if not text:
            return None
        try:
            return units.parse(text, "temperature")
        except UnitError as error:
            raise ValidationError(error.sentence) from error

    def clean(self) -> dict[str, Any]:
        """A carrier is read as a carrier, and nothing else is."""
        data = super().clean() or self.cleaned_data
        is_carrier, as_carrier = data.get("piece") in self._carriers, data.get("moment") == "carrier"
        if "moment" in data and "piece" in data and is_carrier != as_carrier:
            self.add_error("moment", _("A carrier is read as “the bare carrier”, a wafer as anything else."))
        return data

    def request(self) -> SetRequest:
        """The request typed; only after the form was found valid."""
        data = self.cleaned_data
        return SetRequest(
            piece=data["piece"],
            subject=SUBJECTS[data["moment"]],
            moment=data["moment"],
            gauge_id=data["gauge"],
            pattern=data["pattern"],
            repeats=data["repeats"],
            unit=data["unit"],
            zero=data["zero"],
            order_id=self._order_id if data["moment"] == "carrier" else None,
            conditions=Conditions(
                hold=data["hold"],
                temperature=data["temperature"],
                soaked={"yes": True, "no": False}.get(data["soaked"]),
            ),
        )


# ----------------------------------------------------------------------------------------------------------------------


def _why_so_many(plan: ReadingPlan) -> str:
    """Why so many readings are proposed."""
    if not plan.is_repeatability_known:
        sentence = _now("The repeatability of %(gauge)s is not on record; two readings at a site show it.")
        return sentence % {"gauge": plan.gauge_id}
    if plan.quantity is None:
        return ""
    if not plan.is_enough:
        sentence = _now(
            "With %(gauge)s this gives the %(quantity)s to ± %(known)s; a quarter of what is allowed is %(wanted)s."
            " More readings gain little: what stays is the gauge's own error."
        )
    elif plan.repeats == 1:
        sentence = _now(
            "Enough with %(gauge)s: it gives the %(quantity)s to ± %(known)s; a quarter of what is allowed is"
            " %(wanted)s."
        )
    else:
        sentence = _now(
            "Proposed with %(gauge)s, to know the %(quantity)s to ± %(known)s; a quarter of what is allowed is"
            " %(wanted)s. One reading gives ± %(one)s."
        )
    return sentence % {
        "gauge": plan.gauge_id,
        "quantity": QUANTITIES[plan.quantity],
        "known": printed(plan.known_to, "µm", "length", digits=2),
        "wanted": printed(plan.wanted, "µm", "length", digits=2),
        "one": printed(plan.known_by_one, "µm", "length", digits=2),
    }
