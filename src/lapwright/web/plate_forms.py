"""Forms for plates: a plate recorded, its checks, its ring. Lengths are typed with their unit, or in the unit named."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from lapwright.app.plates import CheckRequest
from lapwright.errors import BadInput
from lapwright.formats.plate_points import read_points
from lapwright.model.plates import Plate
from lapwright.web.forms import NumberField
from lapwright.web.gauge_forms import LengthField, NameField
from lapwright.web.typed_fields import TypedField

_DIAL = {"inputmode": "decimal", "autocomplete": "off"}
LAYINGS = 2


class RanForm(forms.Form):
    """How long the plate ran since its last line."""

    ran_min = NumberField(
        label=_("Ran since the last line, min"), required=False, least=0.0,
        help_text=_("Left empty: by the recorded runs of its station."),
    )  # fmt: skip

    @property
    def ran(self) -> float | None:
        """Seconds, None when left empty; only after the form was found valid."""
        told = self.cleaned_data.get("ran_min")
        return None if told is None else float(told) * 60.0


class BarForm(RanForm):
    """Dial readings along a bar laid across the plate, once or twice; a place left empty was not read."""

    places = forms.CharField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, places: Sequence[float], **options: Any) -> None:
        super().__init__(*args, **options)
        self.bar = list(places)
        self.fields["places"].initial = " ".join(f"{place:g}" for place in places)
        for laying in range(LAYINGS):
            for number, place in enumerate(places):
                label = _now("at %(place)s mm") % {"place": f"{place:g}".replace("-", "\u2212")}
                self.fields[f"v{laying}_{number}"] = TypedField(
                    label=label, required=False, max_length=20, widget=forms.TextInput(attrs=_DIAL)
                )

    @property
    def rows(self) -> list[list[forms.BoundField]]:
        """The boxes of each laying, along the bar."""
        return [[self[f"v{laying}_{number}"] for number in range(len(self.bar))] for laying in range(LAYINGS)]

    def clean(self) -> dict[str, Any]:
        """At least one reading."""
        data = super().clean() or self.cleaned_data
        if not self.errors and not self.request().rows:
            raise ValidationError(_now("No reading was typed. Type what the dial says at three places or more."))
        return data

    @property
    def typed(self) -> list[str]:
        """The boxes that hold a reading, in the order of the rows of the check."""
        boxes = [f"v{laying}_{number}" for laying in range(LAYINGS) for number in range(len(self.bar))]
        return [name for name in boxes if self.cleaned_data.get(name)]

    def request(self) -> CheckRequest:
        """The check typed; only after the fields were found valid."""
        asked = [name[1:].split("_") for name in self.typed]
        rows = [
            (self.bar[int(number)], int(laying), self.cleaned_data[f"v{laying}_{number}"]) for laying, number in asked
        ]
        return CheckRequest(method="straightedge", rows=tuple(rows), ran=self.ran)


class SagittaForm(RanForm):
    """A check by one sagitta: bridge, test block or lapped wafer."""

    method = forms.ChoiceField(
        label=_("Read from"),
        choices=[("wafer", _("a lapped wafer")), ("block", _("a test block")), ("bridge", _("a bridge on the plate"))],
    )
    size = LengthField(label=_("Its diameter, or the span of the bridge"), help_text=_("With its unit: 50.8 mm."))
    value = TypedField(
        label=_("Sagitta"), max_length=20, help_text=_("Domed is positive, dished negative; a bare number is in µm."),
        widget=forms.TextInput(attrs=_DIAL),
    )  # fmt: skip

    def request(self) -> CheckRequest:
        """The check typed; only after the form was found valid."""
        data = self.cleaned_data
        return CheckRequest(method=data["method"], rows=((0.0, 0, data["value"]),), ran=self.ran, size=data["size"])


class MapForm(RanForm):
    """Heights anywhere on the plate, pasted."""

    points = forms.CharField(
        label=_("Points"), max_length=200_000, widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false"}),
        help_text=_("A row each: x mm, y mm from the plate's axis, and the height, higher positive; a bare one is µm."),
    )  # fmt: skip

    def clean_points(self) -> tuple[tuple[float, float, str], ...]:
        """The rows read; all faults at once."""
        try:
            return read_points(self.cleaned_data["points"])
        except BadInput as error:
            raise ValidationError([fault.sentence for fault in error.faults]) from error

    def request(self) -> CheckRequest:
        """The check typed; only after the form was found valid."""
        points = self.cleaned_data["points"]
        return CheckRequest(
            method="map",
            rows=tuple((x, 0, text) for x, _y, text in points),
            across=tuple(y for _x, y, _text in points),
            ran=self.ran,
        )


class RingForm(RanForm):
    """Where the ring was set."""

    offset = LengthField(label=_("Ring set to"), help_text=_("From the plate's axis, with its unit: 97.5 mm."))
    speed_ratio = NumberField(
        label=_("Speed of the ring over that of the plate"), required=False, least=-10.0, most=10.0,
        help_text=_("Only when it was changed."),
    )  # fmt: skip


class PlateForm(forms.Form):
    """A plate with its ring."""

    plate_id = NameField(label=_("Short name"))
    name = forms.CharField(
        label=_("What it is"), required=False, max_length=200, help_text=_("For example: glass, 300 mm.")
    )
    station_id = forms.ChoiceField(
        label=_("Lies on station"), required=False, help_text=_("Its recorded runs count as running time.")
    )
    inner_radius = LengthField(label=_("Inner radius of the land"), initial="40 mm")
    outer_radius = LengthField(label=_("Outer radius of the land"), initial="150 mm")
    ring_outer_radius = LengthField(label=_("Outer radius of the ring"))
    ring_inner_radius = LengthField(
        label=_("Inner radius of the ring"), initial="0 mm", help_text=_("0 mm when it is filled with work.")
    )
    least_offset = LengthField(label=_("Nearest place of the ring"), help_text=_("From the plate's axis."))
    most_offset = LengthField(label=_("Farthest place of the ring"))
    offset = LengthField(label=_("Where the ring stands"))
    dome_limit = LengthField(label=_("Largest dome or dish"), initial="10 µm")
    check_every_h = NumberField(label=_("Checked at least every, hours of running"), initial="8", least=0.1)
    reading_uncertainty = LengthField(
        label=_("Uncertainty of a dial reading"), initial="0.5 µm", help_text=_("Standard, with the bar.")
    )

    def __init__(self, *args: Any, stations: Sequence[str], **options: Any) -> None:
        super().__init__(*args, **options)
        choices = [("", _("none")), *((one, one) for one in stations)]
        self.fields["station_id"].choices = choices  # type: ignore[attr-defined]

    def plate(self) -> Plate:
        """The plate typed; only after the form was found valid. Raises `BadInput` for what does not fit together."""
        data = dict(self.cleaned_data)
        hours, station = data.pop("check_every_h"), data.pop("station_id") or None
        data["name"] = data["name"] or data["plate_id"]
        return Plate(station_id=station, check_every=hours * 3600.0, **data)
