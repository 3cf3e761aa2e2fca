"""The forms by which a picture of fringes or a profile is read and kept with a wafer."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext_lazy as _

from lapwright import units
from lapwright.app import gauges, orders, surface_records
from lapwright.errors import Fault, LapwrightError, UnitError
from lapwright.model.readings import Moment
from lapwright.model.surface_record import FringeSettings, ProfileSettings, SampleMask
from lapwright.model.wafer import Outline, Rectangle, Round
from lapwright.web.forms import LengthField, NumberField
from lapwright.web.surroundings import now
from lapwright.web.typed_fields import TypedField
from lapwright.web.words import MOMENTS

#: Moments at which a face can be measured.
FACE_MOMENTS: tuple[Moment, ...] = ("incoming", "after_stage", "on_carrier", "final")
#: Field of the use case -> field of the form, where the names differ.
FIELD_OF = {"image": "files", "frames": "files", "content": "files", "corners": "mask_corners"}
MOST_CORNERS = 60
_CORNER = re.compile(r"^\s*(-?\d+(?:\.\d+)?)\s*,\s*(-?\d+(?:\.\d+)?)\s*$")


class AngleField(TypedField):
    """An angle typed with its unit, a bare number being degrees; cleans to radians or None."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("max_length", 20)
        options.setdefault("required", False)
        super().__init__(**options)

    def clean(self, value: Any) -> float | None:
        """Radians for the text typed."""
        text = super().clean(value).strip()
        if not text:
            return None
        try:
            return units.parse(text if not text[-1:].isdigit() else f"{text} °", "angle")
        except UnitError as error:
            raise ValidationError(error.sentence, code=error.code) from error


class SeveralFiles(forms.ClearableFileInput):
    """A field for one or more files."""

    allow_multiple_selected = True


class FilesField(forms.FileField):
    """One or more files; cleans to a list."""

    def __init__(self, **options: Any) -> None:
        super().__init__(required=False, max_length=200, widget=SeveralFiles(), **options)

    def clean(self, data: Any, initial: Any = None) -> list[UploadedFile[Any]]:  # several, not one
        """The files chosen; none when none was."""
        given = data if isinstance(data, list | tuple) else [data] if data else []
        return [super(FilesField, self).clean(one, initial) for one in given]


class FaceForm(forms.Form):
    """What both pages ask: the files, and the wafer that they belong to."""

    kept = forms.CharField(widget=forms.HiddenInput, required=False, max_length=8000)
    wafer = forms.ChoiceField(
        label=_("Wafer"),
        required=False,
        help_text=_("Of the newest orders. A face of an older one: begin on the page of its wafer."),
    )
    moment = forms.ChoiceField(
        label=_("When in the job"), choices=[(name, MOMENTS[name]) for name in FACE_MOMENTS], initial="final"
    )
    gauge = forms.ChoiceField(
        label=_("Instrument on the shelf"), required=False, help_text=_("With its calibration, for the certificate.")
    )
    instrument = forms.CharField(
        label=_("Instrument in words"), required=False, max_length=120, help_text=_("For example: grazing set-up 2.")
    )
    reason = forms.CharField(label=_("Remark to the record"), required=False, max_length=300)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        named = str(self.data.get("wafer") or self.initial.get("wafer") or "")
        self.fields["wafer"].choices = [("", _("none: only look")), *wafer_choices(named)]  # type: ignore[attr-defined]
        known = [
            (one.gauge.gauge_id, f"{one.gauge.gauge_id} · {one.gauge.name}")
            for one in gauges.list_gauges(on=now().date())
        ]
        self.fields["gauge"].choices = [("", _("not on the shelf")), *known]  # type: ignore[attr-defined]

    def take_in(self, error: LapwrightError) -> None:
        """Put the faults of a use case beside their fields."""
        for fault in error.faults or (Fault(sentence=error.sentence),):
            name = FIELD_OF.get(fault.field or "", fault.field)
            self.add_error(name if name in self.fields else None, fault.sentence)

    def groups(self) -> list[tuple[str, bool, list[forms.BoundField]]]:
        """Heading, whether it stands open, and fields of each group."""
        return [(str(title), opened, [self[name] for name in names]) for title, opened, names in self.grouped]

    grouped: Sequence[tuple[object, bool, tuple[str, ...]]] = ()


class FringeForm(FaceForm):
    """How pictures of fringes are to be read."""

    files = FilesField(  # type: ignore[assignment]  # Django takes declared fields out of the class
        label=_("Picture, or all phase steps of a set"),
        help_text=_("PNG, TIFF or JPEG; up to 50 MB each. Steps are taken in the order of their names."),
    )
    method = forms.ChoiceField(
        label=_("Fringes"),
        choices=[
            ("auto", _("find out")),
            ("carrier", _("tilt fringes, one picture")),
            ("closed", _("closed fringes, one picture")),
            ("steps", _("phase steps")),
        ],
    )
    wavelength = LengthField(label=_("Wavelength"), required=False, initial="632.8 nm")
    incidence = AngleField(
        label=_("Incidence, from the normal"), initial="0°", help_text=_("0° is straight on, 75° is grazing.")
    )
    fringe_height = LengthField(
        label=_("or: height per fringe"), required=False, help_text=_("Takes the place of wavelength and angle.")
    )
    diameter = LengthField(
        label=_("Diameter, or width"), required=False, help_text=_("Empty: that of the wafer. For example 50.8 mm.")
    )
    height = LengthField(label=_("Height, if rectangular"), required=False)
    edge_exclusion = LengthField(
        label=_("Edge exclusion"), required=False, help_text=_("Empty: that of the wafer's order, else none.")
    )
    mask_kind = forms.ChoiceField(
        label=_("Where the sample is"),
        choices=[("auto", _("find out")), ("circle", _("circle")), ("polygon", _("polygon"))],
    )
    mask_x = NumberField(label=_("Middle, to the right"), required=False, max_length=10, help_text=_("Pixels."))
    mask_y = NumberField(label=_("Middle, from the top"), required=False, max_length=10, help_text=_("Pixels."))
    mask_radius = NumberField(label=_("Radius"), required=False, max_length=10, help_text=_("Pixels."))
    mask_corners = forms.CharField(
        label=_("Corners of the polygon"),
        required=False,
        max_length=2000,
        help_text=_("Pixels, as x,y with blanks between: 40,40 600,40 600,600."),
    )
    tilt_opens_toward = AngleField(
        label=_("The gap opens toward"),
        help_text=_("Direction of the tilt, counter-clockwise from the right: 0° right, 90° up. Empty: not known."),
    )
    pressed_fringes_toward = AngleField(
        label=_("Pressed, tilt fringes move toward"), help_text=_("Sample pressed to the reference. Empty: not tried.")
    )
    pressed_fringes_move = forms.ChoiceField(
        label=_("Pressed, closed fringes move"),
        required=False,
        choices=[("", _("not tried")), ("outward", _("outward")), ("inward", _("inward"))],
    )
    step = AngleField(label=_("Phase between steps"), help_text=_("For example 90°. Empty: found from the pictures."))
    steps_open_gap = forms.ChoiceField(
        label=_("Each step makes the gap"),
        required=False,
        choices=[("", _("not known")), ("yes", _("wider")), ("no", _("narrower"))],
    )
    reference_flatness = LengthField(
        label=_("Reference face true within ±"), required=False, help_text=_("From its certificate, for example 30 nm.")
    )
    scale_reach = NumberField(label=_("Wavelength or height per fringe within ±, %"), required=False, max_length=10)
    incidence_reach = AngleField(label=_("Incidence within ±"))

    grouped = (
        (_("The scale"), True, ("wavelength", "incidence", "fringe_height", "method")),
        (_("The sample"), True, ("wafer", "moment", "diameter", "height", "edge_exclusion")),
        (_("Where it lies in the picture"), False, ("mask_kind", "mask_x", "mask_y", "mask_radius", "mask_corners")),
        (
            _("Which way is up"), False,
            ("tilt_opens_toward", "pressed_fringes_toward", "pressed_fringes_move", "step", "steps_open_gap"),
        ),
        (_("How well it is known"), False, ("reference_flatness", "scale_reach", "incidence_reach")),
        (_("For the record"), False, ("gauge", "instrument", "reason")),
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """All that must hold between fields."""
        data = super().clean() or {}
        if data.get("fringe_height") is None and data.get("wavelength") is None:
            self.add_error("wavelength", _("Give the wavelength, or the height per fringe."))
        if data.get("diameter") is None and not data.get("wafer"):
            self.add_error("diameter", _("Give the diameter or width, or choose the wafer."))
        if data.get("mask_kind") == "circle" and None in [data.get(f"mask_{name}") for name in ("x", "y", "radius")]:
            self.add_error("mask_radius", _("A circle needs its middle and radius; drag it in the picture, or type."))
        if data.get("mask_kind") == "polygon":
            data["mask_corners"] = self._corners(data.get("mask_corners") or "")
        return data

    def settings(self) -> FringeSettings:
        """The settings asked for; raises what the model raises."""
        data = self.cleaned_data
        outline, exclusion = self._sample()
        opening = {"yes": True, "no": False}.get(data["steps_open_gap"])
        given = data["fringe_height"]
        return FringeSettings(
            outline=outline,
            method=data["method"],
            edge_exclusion=exclusion,
            fringe_height=given,
            wavelength=None if given is not None else data["wavelength"],
            incidence=0.0 if given is not None else data["incidence"] or 0.0,
            scale_reach=None if data["scale_reach"] is None else data["scale_reach"] / 100.0,
            incidence_reach=data["incidence_reach"],
            reference_flatness=data["reference_flatness"],
            mask=self._mask(),
            tilt_opens_toward=data["tilt_opens_toward"],
            pressed_fringes_toward=data["pressed_fringes_toward"],
            pressed_fringes_move=data["pressed_fringes_move"] or None,
            step=data["step"],
            steps_open_gap=opening,
        )

    def _sample(self) -> tuple[Outline, float]:
        """Outline and edge exclusion: as typed, else of the wafer's order."""
        data = self.cleaned_data
        order = None
        if data["wafer"]:
            order = orders.recorded_order(orders.show_wafer(data["wafer"]).wafer.order_id).order
        exclusion = data["edge_exclusion"]
        if exclusion is None:
            exclusion = 0.0 if order is None else order.edge_exclusion
        if data["diameter"] is None and order is not None:
            return order.outline, exclusion
        if data["height"] is not None:
            return Rectangle(width=data["diameter"], height=data["height"]), exclusion
        return Round(diameter=data["diameter"]), exclusion

    def _mask(self) -> SampleMask | None:
        data = self.cleaned_data
        if data["mask_kind"] == "circle":
            return SampleMask(centre=(data["mask_x"], data["mask_y"]), radius=data["mask_radius"])
        if data["mask_kind"] == "polygon":
            return SampleMask(corners=tuple(data["mask_corners"]))
        return None

    def _corners(self, text: str) -> list[tuple[float, float]]:
        found = [_CORNER.match(one) for one in re.sub(r"\s*,\s*", ",", text).split()]
        if not 3 <= len(found) <= MOST_CORNERS or None in found:
            self.add_error(
                "mask_corners", _("A polygon needs 3 to 60 corners as x,y with blanks between: 40,40 600,40 600,600.")
            )
            return []
        return [(float(one[1]), float(one[2])) for one in found if one is not None]


class ProfileForm(FaceForm):
    """How a profile is to be read."""

    files = FilesField(label=_("Profile or small map"), help_text=_("CSV with x_mm,z_nm, X3P or SDF; up to 50 MB."))  # type: ignore[assignment]
    cutoff = LengthField(
        label=_("Cutoff"), required=False, help_text=_("Empty: chosen by the profile's own Ra. For example 0.08 mm.")
    )
    filter_kind = forms.ChoiceField(
        label=_("Filter"),
        choices=[
            ("gaussian", _("Gaussian")), ("robust_gaussian", _("robust Gaussian")), ("spline", _("spline")),
        ],
    )  # fmt: skip
    instrument_kind = forms.ChoiceField(
        label=_("Kind of instrument"),
        choices=[("not_stated", _("not stated")), ("stylus", _("stylus")), ("optical", _("optical"))],
    )
    tip_radius = LengthField(label=_("Radius of the stylus tip"), required=False)
    noise = LengthField(
        label=_("Noise, Rq on a reference flat"), required=False, help_text=_("With the same settings; 0.1 nm.")
    )
    height_uncertainty = NumberField(label=_("Height scale, standard uncertainty, %"), required=False, max_length=10)
    way = forms.ChoiceField(
        label=_("How the face was made"),
        required=False,
        choices=[
            ("", _("polished, or not stated")),
            ("lap_loose", _("lapped, loose grain")),
            ("lap_bound", _("lapped, bound grain")),
            ("grind", _("ground")),
        ],
        help_text=_("Damage can only be told from a ratio for this very way."),
    )

    grouped = (
        (_("The filter"), True, ("cutoff", "filter_kind", "instrument_kind")),
        (_("The wafer"), True, ("wafer", "moment", "way")),
        (_("How well it is known"), False, ("noise", "height_uncertainty", "tip_radius")),
        (_("For the record"), False, ("gauge", "instrument", "reason")),
    )

    def settings(self) -> ProfileSettings:
        """The settings asked for."""
        data = self.cleaned_data
        share = data["height_uncertainty"]
        return ProfileSettings(
            cutoff=data["cutoff"],
            filter_kind=data["filter_kind"],
            instrument_kind=data["instrument_kind"],
            tip_radius=data["tip_radius"],
            noise=data["noise"],
            height_uncertainty=None if share is None else share / 100.0,
            way=data["way"] or None,
        )


def wafer_choices(named: str) -> list[tuple[str, Any]]:
    """The wafers of the newest orders and one that is named already, those of one order together."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for order_id, wafer_id in surface_records.list_wafers(besides=named):
        groups.setdefault(order_id, []).append((wafer_id, wafer_id))
    return list(groups.items())
