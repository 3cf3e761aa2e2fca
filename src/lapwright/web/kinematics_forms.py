"""The form of the Kinematics page: speeds and places of plate, jig and sweep, in the units of their dials."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from lapwright.app.kinematics import MotionQuestion
from lapwright.process.kinematics import Motion
from lapwright.process.kinematics_sweep import Sweep
from lapwright.web.forms import NumberField
from lapwright.web.questions import si, si_or_none
from lapwright.web.sentences import decimal

_MOST_RPM = 10_000.0
_MOST_MM = 3_000.0
USUAL = {"plate_speed_rpm": "50", "jig_speed_rpm": "46.5", "offset_mm": "95", "wafer_diameter_mm": "100"}


class MotionForm(forms.Form):
    """A motion; speeds in the laboratory, the same sense positive."""

    plate_speed_rpm = NumberField(label=_("Plate, rpm"), max_length=20)
    jig_speed_rpm = NumberField(
        label=_("Jig, rpm"), max_length=20, help_text=_("In the room, not on the plate; negative turns against it.")
    )
    offset_mm = NumberField(label=_("Between their axes, mm"), max_length=20)
    wafer_diameter_mm = NumberField(label=_("Wafer, mm"), max_length=20, help_text=_("Its diameter."))
    wafer_offset_mm = NumberField(
        label=_("Wafer off the jig's axis, mm"), required=False, max_length=20, help_text=_("Of several in one jig.")
    )
    sweep_half_stroke_mm = NumberField(
        label=_("Sweep to either side, mm"), required=False, max_length=20, help_text=_("Empty: the arm stays.")
    )
    sweep_period_s = NumberField(label=_("One sweep to and fro, s"), required=False, max_length=20)
    arm_length_mm = NumberField(
        label=_("Arm, mm"), required=False, max_length=20, help_text=_("Empty: a straight stroke.")
    )
    pivot_distance_mm = NumberField(label=_("Its pivot from the plate's axis, mm"), required=False, max_length=20)

    SWEEP = ("sweep_half_stroke_mm", "sweep_period_s", "arm_length_mm", "pivot_distance_mm")

    @property
    def turning(self) -> list[forms.BoundField]:
        """What turns where."""
        return [field for field in self if field.name not in self.SWEEP]

    @property
    def sweeping(self) -> list[forms.BoundField]:
        """The arm's sweep."""
        return [self[name] for name in self.SWEEP]

    @property
    def sweeps(self) -> bool:
        """Whether anything is said of a sweep."""
        return any(self.data.get(name) for name in self.SWEEP)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for field in self.fields.values():
            field.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})

    def clean(self) -> dict[str, Any]:
        """What cannot be meant, and what one field needs from another."""
        data = super().clean() or self.cleaned_data
        for name, value in list(data.items()):
            if value is None:
                continue
            most, unit = (_MOST_RPM, _("rpm")) if name.endswith("_rpm") else (_MOST_MM, "mm")
            low = -most if name.endswith("_rpm") else 0.0
            if not low <= value <= most:
                self.add_error(name, _("Between %(low)s and %(high)s %(unit)s.") % {
                    "low": decimal(f"{low:g}"), "high": decimal(f"{most:g}"),
                    "unit": "s" if name.endswith("_s") else unit,
                })  # fmt: skip
        if data.get("sweep_half_stroke_mm") and not data.get("sweep_period_s"):
            self.add_error("sweep_period_s", _("A sweep needs the time of one sweep to and fro."))
        if data.get("wafer_diameter_mm") == 0.0:
            self.add_error("wafer_diameter_mm", _("A wafer has a diameter."))
        return data

    def question(self) -> MotionQuestion:
        """The motion typed, in SI; only after the form was found valid. Raises what the model of a sweep refuses."""
        data = self.cleaned_data
        sweep = None
        if data["sweep_half_stroke_mm"]:
            sweep = Sweep(
                half_stroke=si(data["sweep_half_stroke_mm"], "mm"),
                period=data["sweep_period_s"],
                arm_length=si_or_none(data["arm_length_mm"], "mm"),
                pivot_distance=si_or_none(data["pivot_distance_mm"], "mm"),
            )
        return MotionQuestion(
            motion=Motion(
                offset=si(data["offset_mm"], "mm"),
                plate_speed=si(data["plate_speed_rpm"], "rpm", "rotation"),
                jig_speed=si(data["jig_speed_rpm"], "rpm", "rotation"),
            ),
            wafer_radius=si(data["wafer_diameter_mm"], "mm") / 2.0,
            wafer_offset=si(data["wafer_offset_mm"] or 0.0, "mm"),
            sweep=sweep,
        )
