"""Forms of Countdown: the zero of the gauge, and the start of a run."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from lapwright.app.stations import StartSheet
from lapwright.web.forms import LengthField

_READING = {"inputmode": "decimal", "autocomplete": "off"}


class TripletForm(forms.Form):
    """Three readings of the gauge with the wafer at its datum, the foot lifted between them."""

    wafer = forms.CharField(widget=forms.HiddenInput)
    jig = forms.CharField(widget=forms.HiddenInput)
    first = forms.CharField(label=_("First"), max_length=40, widget=forms.TextInput(_READING))
    second = forms.CharField(label=_("Second"), max_length=40, widget=forms.TextInput(_READING))
    third = forms.CharField(label=_("Third"), max_length=40, widget=forms.TextInput(_READING))

    @property
    def readings(self) -> list[forms.BoundField]:
        """The three boxes."""
        return [self[name] for name in ("first", "second", "third")]

    @property
    def texts(self) -> tuple[str, ...]:
        """The three readings as typed."""
        return tuple(self.cleaned_data[name] for name in ("first", "second", "third"))


class StartRunForm(forms.Form):
    """A run under the recorder; what is left empty is taken from the route."""

    wafer = forms.CharField(widget=forms.HiddenInput)
    jig = forms.CharField(widget=forms.HiddenInput, required=False)
    preset = LengthField(
        label=_("Another removal than the route's"), required=False, help_text=_("With its unit. Empty: as planned.")
    )
    by_clock = forms.ChoiceField(
        label=_("By the clock"),
        required=False,
        choices=[("first", _("first of two steps")), ("whole", _("in one go"))],
        initial="first",
        widget=forms.RadioSelect,
    )
    minutes = forms.FloatField(
        label=_("Another time than the route's, min"), required=False, min_value=0.05, max_value=24.0 * 60.0
    )

    def clean_jig(self) -> str | None:
        """No jig is None."""
        return self.cleaned_data["jig"] or None

    def clean(self) -> dict[str, Any]:
        """A choice that was not on the page is the careful one."""
        data = super().clean() or self.cleaned_data
        data["by_clock"] = data.get("by_clock") or "first"
        return data

    def run_time(self, sheet: StartSheet) -> float | None:
        """Time of a run by the clock [s]; None for one by the gauge, or where the route gives no rate."""
        if sheet.target is not None:
            return None
        if self.cleaned_data["minutes"]:
            return float(self.cleaned_data["minutes"]) * 60.0
        if self.cleaned_data["by_clock"] == "first" and sheet.two_steps is not None:
            return sheet.two_steps.first.time
        return None if sheet.timed is None else sheet.timed.time
