"""Forms of Countdown: the zero of the gauge, and the start of a run."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from lapwright.app.stations import StartSheet
from lapwright.model.job import RunStep
from lapwright.web.forms import LengthField, NumberField
from lapwright.web.typed_fields import TypedField

_READING = {"inputmode": "decimal", "autocomplete": "off"}


class TripletForm(forms.Form):
    """Three readings of the gauge with the wafer at its datum, the foot lifted between them."""

    wafer = forms.CharField(widget=forms.HiddenInput)
    jig = forms.CharField(widget=forms.HiddenInput)
    first = TypedField(label=_("First"), max_length=40, widget=forms.TextInput(_READING))
    second = TypedField(label=_("Second"), max_length=40, widget=forms.TextInput(_READING))
    third = TypedField(label=_("Third"), max_length=40, widget=forms.TextInput(_READING))

    @property
    def readings(self) -> list[forms.BoundField]:
        """The three boxes."""
        return [self[name] for name in ("first", "second", "third")]

    @property
    def texts(self) -> tuple[str, ...]:
        """The three readings as typed."""
        return tuple(self.cleaned_data[name] for name in ("first", "second", "third"))


class GoesOnField(forms.BooleanField):
    """Whether the stage goes on after a run that takes off only a part of what it should."""

    def __init__(self) -> None:
        super().__init__(
            label=_("The stage goes on after it"),
            required=False,
            help_text=_(
                "Ticked: what is then left is run again, with a new zero. Not ticked: the stage is done with this run,"
                " and what is left falls to the next one."
            ),
        )


def need_preset_to_go_on(form: forms.Form) -> None:
    """Refuse, beside its box, a stage that is to go on after a run without a length of its own."""
    if form.cleaned_data.get("goes_on") and form.cleaned_data.get("preset") is None and "preset" not in form.errors:
        form.add_error("preset", _("Say how much this run takes off: the stage goes on only after a part of it."))


class StartRunForm(forms.Form):
    """A run under the recorder; what is left empty is taken from the route."""

    wafer = forms.CharField(widget=forms.HiddenInput)
    jig = forms.CharField(widget=forms.HiddenInput, required=False)
    preset = LengthField(
        label=_("Another removal than the route's"),
        required=False,
        help_text=_("With its unit. Empty: as planned."),
    )
    goes_on = GoesOnField()
    by_clock = forms.ChoiceField(
        label=_("By the clock"),
        required=False,
        choices=[("first", _("first of two steps")), ("whole", _("in one go"))],
        initial="first",
        widget=forms.RadioSelect,
    )
    together = forms.CharField(widget=forms.HiddenInput, required=False)
    minutes = NumberField(label=_("Another time than the route's, min"), required=False, least=0.05, most=24.0 * 60.0)

    def clean_jig(self) -> str | None:
        """No jig is None."""
        return self.cleaned_data["jig"] or None

    def clean_together(self) -> tuple[str, ...]:
        """The other pieces, as the page worked them out."""
        return tuple(one for one in self.cleaned_data["together"].split(",") if one)

    def clean(self) -> dict[str, Any]:
        """A choice that was not on the page is the careful one."""
        data = super().clean() or self.cleaned_data
        data["by_clock"] = data.get("by_clock") or "first"
        need_preset_to_go_on(self)
        return data

    def run_time(self, sheet: StartSheet) -> float | None:
        """Time of a run by the clock [s]; None for one by the gauge, or where the route gives no rate."""
        if sheet.target is not None:
            return None
        if self.cleaned_data["minutes"]:
            return float(self.cleaned_data["minutes"]) * 60.0
        if sheet.clock is None:
            return None
        if self.step(sheet) == "first" and sheet.clock.two_steps is not None:
            return sheet.clock.two_steps.first.time
        return sheet.clock.one_step.time

    def step(self, sheet: StartSheet) -> RunStep:
        """Which part of its stage the run does."""
        if sheet.clock is None:
            return "first" if self.cleaned_data["goes_on"] else "whole"
        if sheet.clock.finishes:
            return "finish"
        return "first" if self.cleaned_data["by_clock"] == "first" else "whole"


class WeighForm(forms.Form):
    """A mass of what lies on the balance, dry and clean."""

    wafer = forms.CharField(widget=forms.HiddenInput)
    together = forms.CharField(widget=forms.HiddenInput, required=False)
    text = TypedField(
        label=_("Mass"), max_length=30, widget=forms.TextInput(_READING), help_text=_("For example 12.3456 g.")
    )
    uncertainty = TypedField(
        label=_("Standard uncertainty of the balance"), max_length=30, widget=forms.TextInput(_READING),
        help_text=_("For example 0.1 mg."),
    )  # fmt: skip
    balance = forms.CharField(label=_("Balance"), max_length=60, required=False)
    pieces = forms.ChoiceField(label=_("On the balance"), widget=forms.RadioSelect, required=False)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        names = str((self.data or self.initial).get("together") or "")
        if "," not in names:
            del self.fields["pieces"]
            return
        choices = [(names, _("all together: %s") % names.replace(",", ", ")), ("", _("this wafer with its carrier"))]
        self.fields["pieces"].choices = choices  # type: ignore[attr-defined]
        self.fields["pieces"].initial = names

    def on_balance(self) -> tuple[str, ...]:
        """The pieces that were weighed."""
        chosen = self.cleaned_data.get("pieces") or self.cleaned_data["wafer"]
        return tuple(str(chosen).split(","))
