"""Bond line's part about voids: the form of a photograph, and what was found in those that are kept."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from lapwright.app.bond_voids import BondVoids
from lapwright.errors import UnitError
from lapwright.model.surface_record import BondPhoto, VoidMark
from lapwright.model.wafer import Outline
from lapwright.process.void_dimples import LONGEST_PASSED
from lapwright.reports.drawing.void_map import NUMBERED, DrawnVoid, VoidWords, void_map
from lapwright.units import number
from lapwright.web.lettering import lettering
from lapwright.web.sentences import decimal

#: Quarter turns counter-clockwise that bring the mark to the bottom, by where it lies in the picture.
TURNS = {"bottom": 0, "left": 1, "top": 2, "right": 3}


@dataclass(frozen=True, slots=True, kw_only=True)
class VoidLine:
    """One void in the table."""

    longest_mm: str
    area_mm2: str
    edge_mm: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VoidView:
    """A photograph of a bond as shown: the record, its drawing, and the voids listed."""

    found: BondVoids
    drawing: str
    listed: tuple[VoidLine, ...]

    @property
    def more(self) -> int:
        """How many voids are not listed."""
        return len(self.found.voids) - len(self.listed)

    @property
    def mark(self) -> str:
        """The shape that says what the voids mean."""
        return {"none": "done", "small": "done", "watch": "cannot_be_decided", "rebond": "rebond"}[
            self.found.verdict.outcome
        ]

    @property
    def word(self) -> str:
        """The same in a word."""
        return {
            "none": _("no void"),
            "small": _("small voids only"),
            "watch": _("go on, and watch the place"),
            "rebond": _("bond again"),
        }[self.found.verdict.outcome]


class PhotoForm(forms.Form):
    """A photograph of a bond, and how it was taken."""

    photograph = forms.FileField(label=gettext_lazy("Photograph (JPEG or PNG), the wafer whole on a plain ground"))
    seen = forms.ChoiceField(
        label=gettext_lazy("Taken"),
        choices=[("behind", gettext_lazy("through the carrier")), ("front", gettext_lazy("from the worked face"))],
    )
    mark = forms.ChoiceField(
        label=gettext_lazy("Flat or notch lies, in the picture"),
        choices=[
            ("bottom", gettext_lazy("at the bottom")),
            ("left", gettext_lazy("at the left")),
            ("top", gettext_lazy("at the top")),
            ("right", gettext_lazy("at the right")),
        ],
    )
    look = forms.ChoiceField(
        label=gettext_lazy("Voids look"),
        choices=[
            ("either", gettext_lazy("lighter or darker")),
            ("lighter", gettext_lazy("lighter")),
            ("darker", gettext_lazy("darker")),
        ],
    )
    place = forms.CharField(
        label=gettext_lazy("Where the wafer lies, when it is not found"),
        required=False,
        max_length=60,
        help_text=gettext_lazy(
            "Once the mark is at the bottom: centre across, centre down and width, in pixels; for example 812 640 1400."
        ),
    )

    def clean_place(self) -> tuple[float, float, float] | None:
        """Centre and width in pixels, None when left empty."""
        text = self.cleaned_data["place"].strip()
        if not text:
            return None
        parts = re.split(r"[;\s]+|,\s+", text)
        try:
            numbers = [number(one) for one in (parts if len(parts) > 1 else text.split(","))]
        except UnitError:
            numbers = []
        if len(numbers) != 3 or not 1.0 <= numbers[2] <= 1e5 or not all(abs(one) <= 1e5 for one in numbers[:2]):
            raise ValidationError(_("Three numbers are expected: centre across, centre down, width, in pixels."))
        return numbers[0], numbers[1], numbers[2]

    def asked(self, outline: Outline, width: float) -> BondPhoto:
        """How the picture is to be read; `width` is that of the wafer [m]. Only after the form was found valid."""
        data: dict[str, Any] = self.cleaned_data
        place = data["place"]
        return BondPhoto(
            outline=outline,
            from_behind=data["seen"] == "behind",
            quarter_turns=TURNS[data["mark"]],
            look=data["look"],
            column=None if place is None else place[0],
            row=None if place is None else place[1],
            pixel=None if place is None else width / place[2],
        )


def void_view(found: BondVoids) -> VoidView:
    """A photograph as shown."""
    words = VoidWords(title=_("Voids of the bond, seen on the worked face"), told=told(found))
    drawn = [DrawnVoid(rim=one.rim, middle=(one.x, one.y), longest=one.longest) for one in found.voids]
    photo = found.photo
    drawing = void_map(
        drawn,
        photo.outline,
        words=words,
        passed=LONGEST_PASSED,
        edge_exclusion=photo.edge_exclusion,
        lettering=lettering(),
    )
    return VoidView(found=found, drawing=drawing, listed=tuple(_line(one) for one in found.voids[:NUMBERED]))


def told(found: BondVoids) -> str:
    """What the drawing shows, in a sentence."""
    if not found.voids:
        return _("No void is seen.")
    first = found.voids[0]
    return _(
        "%(n)d voids, %(share)s %% of the face. The longest is %(longest)s mm, %(edge)s mm from the edge, at"
        " x %(x)s mm, y %(y)s mm."
    ) % {
        "n": len(found.voids),
        "share": decimal(f"{100.0 * found.share:.2f}"),
        "longest": decimal(f"{first.longest * 1e3:.1f}"),
        "edge": decimal(f"{first.edge_distance * 1e3:.1f}"),
        "x": decimal(f"{first.x * 1e3:.1f}").replace("-", "\u2212"),
        "y": decimal(f"{first.y * 1e3:.1f}").replace("-", "\u2212"),
    }


# ----------------------------------------------------------------------------------------------------------------------


def _line(one: VoidMark) -> VoidLine:
    return VoidLine(
        longest_mm=decimal(f"{one.longest * 1e3:.2f}"),
        area_mm2=decimal(f"{one.area * 1e6:.2f}"),
        edge_mm=decimal(f"{one.edge_distance * 1e3:.1f}"),
    )
