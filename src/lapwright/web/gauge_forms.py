"""Forms for the care of gauges: checks, calibrations, policy, studies. Every length is typed with its unit."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from lapwright import units
from lapwright.app.reading_budget import PieceRead
from lapwright.errors import LapwrightError, UnitError
from lapwright.model.gauge_care import CheckStandard, StudyRequest
from lapwright.model.readings import Calibration, CurvePoint
from lapwright.web.sentences import said
from lapwright.web.typed_fields import TypedField
from lapwright.web.words import material_choices

NAME = re.compile(r"\A[\w.\-]+( [\w.\-]+)*\Z")


class NameField(forms.RegexField):
    """A name that becomes part of an address."""

    default_error_messages = {  # noqa: RUF012  Django's way
        "invalid": _("Use letters, digits, dots, dashes and single blanks; it becomes part of an address.")
    }

    def __init__(self, **options: Any) -> None:
        super().__init__(NAME, **{"max_length": 60} | options)


class QuantityField(TypedField):
    """A quantity typed with its unit, in SI; empty is None. Refused beside its field when it is none."""

    def __init__(self, *, quantity: str, **options: Any) -> None:
        super().__init__(max_length=30, **options)
        self.quantity = quantity

    def clean(self, value: Any) -> float | None:
        """The value in SI."""
        text = super().clean(value)
        if not text:
            return None
        try:
            return units.parse(text, self.quantity)
        except UnitError as error:
            raise ValidationError(error.sentence) from error


class LengthField(QuantityField):
    """A length typed with its unit, in m."""

    def __init__(self, **options: Any) -> None:
        super().__init__(quantity="length", **options)


class CheckForm(forms.Form):
    """One reading of a check standard or of the zero."""

    standard = forms.ChoiceField(label=_("What was read"), required=False)
    value = forms.CharField(
        label=_("Value"), max_length=30, help_text=_("With its unit; a bare number is in µm."),
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )  # fmt: skip

    def __init__(self, *args: Any, standards: tuple[CheckStandard, ...], **options: Any) -> None:
        super().__init__(*args, **options)
        choices = [(one.standard_id, f"{one.standard_id}: {one.name}") for one in standards]
        self.fields["standard"].choices = [*choices, ("", _("the zero"))]  # type: ignore[attr-defined]


class StandardForm(forms.Form):
    """A check standard, new or better known."""

    standard_id = NameField(label=_("Short name"))
    name = forms.CharField(label=_("What it is"), max_length=200, help_text=_("For example: glass disc, 25 mm."))
    value = LengthField(label=_("Certified value"), required=False, help_text=_("Leave empty when it has none."))
    expanded_uncertainty = LengthField(label=_("Its expanded uncertainty (k = 2)"), required=False)

    def standard(self) -> CheckStandard:
        """The standard typed; only after the form was found valid."""
        return CheckStandard(**self.cleaned_data)


class CalibrationForm(forms.Form):
    """What a calibration certificate says."""

    certificate = forms.CharField(label=_("Certificate number"), max_length=100)
    done = forms.DateField(label=_("Done on"), widget=forms.DateInput(attrs={"type": "date"}))
    interval_days = forms.IntegerField(
        label=_("Next after, days"), min_value=1, max_value=3660, initial=365,
        help_text=_("Your own interval; a certificate holds for its day."),
    )  # fmt: skip
    as_found = LengthField(
        label=_("Largest deviation as found"),
        required=False,
        help_text=_(
            "Before anything was adjusted, with its sign: reading less reference. A gauge that reads 0.4 µm too much"
            " is +0.4 µm, one that reads too little −0.4 µm. A wrong sign turns the drift round."
        ),
    )
    deviation = LengthField(
        label=_("Largest deviation as left"), help_text=_("What remains, with its sign: reading less reference.")
    )
    expanded_uncertainty = LengthField(label=_("Expanded uncertainty (k = 2)"))
    passed = forms.ChoiceField(label=_("Verdict"), choices=[("yes", _("passed")), ("no", _("failed"))])
    curve = forms.CharField(
        label=_("Correction curve"), required=False, widget=forms.Textarea(attrs={"rows": 4}),
        help_text=_("One point a line: reading; what is added; expanded uncertainty. Each with its unit."),
    )  # fmt: skip

    def clean_done(self) -> date:
        """The day, which is not to come."""
        done: date = self.cleaned_data["done"]
        today = localtime().date()
        if done > today:
            told = {"day": date_format(done), "today": date_format(today)}
            raise ValidationError(
                _now("%(day)s is yet to come; today is %(today)s. Type the day on which it was calibrated.") % told
            )
        return done

    def clean_curve(self) -> tuple[CurvePoint, ...]:
        """The points; every bad line is told."""
        points, faults = [], []
        for number, line in enumerate(self.cleaned_data["curve"].splitlines(), start=1):
            if not line.strip():
                continue
            cells = [cell.strip() for cell in re.split(r"[;\t]", line)]
            try:
                value, correction, reach = (units.parse(cell, "length") for cell in cells)
                points.append(CurvePoint(value=value, correction=correction, expanded_uncertainty=reach))
            except ValueError:
                faults.append(
                    _now("Line %(n)s: three lengths are expected, found %(text)s.") % {"n": number, "text": line}
                )
            except LapwrightError as error:
                faults.append(_now("Line %(n)s: %(why)s") % {"n": number, "why": said(error.sentence)})
        if faults:
            raise ValidationError(faults)
        return tuple(points)

    def calibration(self, gauge_id: str) -> Calibration:
        """The calibration typed; only after the form was found valid."""
        data = self.cleaned_data
        done: date = data["done"]
        return Calibration(
            gauge_id=gauge_id,
            certificate=data["certificate"],
            done=done,
            due=done + timedelta(days=data["interval_days"]),
            deviation=data["deviation"],
            expanded_uncertainty=data["expanded_uncertainty"],
            passed=data["passed"] == "yes",
            interval_days=data["interval_days"],
            as_found=data["as_found"],
            curve=data["curve"],
        )


class PolicyForm(forms.Form):
    """What happens to new sets while the gauge is past due or failed."""

    when_unfit = forms.ChoiceField(
        label=_("While past due or failed, a new set"),
        choices=[("flag", _("is taken and flagged")), ("block", _("is refused"))],
    )
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)


class StudyForm(forms.Form):
    """A gauge study to be planned."""

    study_id = NameField(label=_("Name of the study"))
    parts = forms.CharField(
        label=_("Parts"),
        max_length=1000,
        help_text=_("Names with commas between. Ten that span what you measure do well."),
    )
    operators = forms.CharField(label=_("People"), max_length=300, help_text=_("Names with commas between."))
    repeats = forms.IntegerField(label=_("How often each reads each part"), min_value=2, max_value=20, initial=3)
    tolerance = LengthField(
        label=_("Tolerance, full width"), required=False, help_text=_("For example 4 µm for ± 2 µm.")
    )
    seed = forms.IntegerField(
        label=_("Seed of the order"), min_value=0, initial=1, help_text=_("The same seed gives the same order.")
    )

    def request(self, gauge_id: str) -> StudyRequest:
        """The study typed; only after the form was found valid."""
        data = self.cleaned_data
        parts, operators = (
            tuple(name.strip() for name in data[field].split(",") if name.strip()) for field in ("parts", "operators")
        )
        return StudyRequest(
            study_id=data["study_id"],
            gauge_id=gauge_id,
            parts=parts,
            operators=operators,
            repeats=data["repeats"],
            seed=data["seed"],
            tolerance=data["tolerance"],
        )


class ToleranceForm(forms.Form):
    """The tolerance that the gauge is looked at against."""

    tolerance = LengthField(
        label=_("Against a tolerance of"), required=False, help_text=_("Full width, for example 4 µm.")
    )


class PieceForm(forms.Form):
    """A piece of which one reading is looked at before it is taken."""

    material = forms.ChoiceField(label=_("Material"))
    thickness = LengthField(label=_("Thickness"), help_text=_("For example 500 µm."))
    warmth = QuantityField(
        quantity="temperature_difference",
        label=_("Off 20 °C by at most"),
        required=False,
        help_text=_("Without sign: 2 K for ± 2 K."),
    )
    bow_lift = LengthField(
        label=_("Lift of a bowed piece, at most"),
        required=False,
        help_text=_("How high it may stand off its rest, 1 µm."),
    )
    force = QuantityField(
        quantity="force",
        label=_("Force of the probe"),
        required=False,
        help_text=_("For example 0.5 N; empty for a gauge without contact."),
    )
    tip_radius = LengthField(
        label=_("Radius of its tip"), required=False, help_text=_("For example 1.5 mm; the tip is taken for ruby.")
    )
    repeats = forms.IntegerField(label=_("Readings averaged"), min_value=1, max_value=1000, initial=1)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["material"].choices = material_choices()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Force and tip go together; nothing is below zero."""
        data: dict[str, Any] = super().clean() or {}
        if (data.get("force") is None) != (data.get("tip_radius") is None) and not self.errors:
            self.add_error("tip_radius", _now("Give the force of the probe and the radius of its tip, or neither."))
        for name in ("thickness", "warmth", "bow_lift", "force", "tip_radius"):
            value = data.get(name)
            if value is not None and (value < 0.0 or (value == 0.0 and name in ("thickness", "tip_radius"))):
                self.add_error(name, _now("A limit has no sign, and a size is more than zero."))
        return data

    def piece(self) -> PieceRead:
        """The piece typed; only after the form was found valid."""
        data = self.cleaned_data
        return PieceRead(
            material=data["material"],
            thickness=data["thickness"],
            temperature_reach=data["warmth"] or 0.0,
            bow_lift=data["bow_lift"] or 0.0,
            force=data["force"],
            tip_radius=data["tip_radius"],
            repeats=data["repeats"],
        )
