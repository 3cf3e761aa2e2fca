"""Forms for what stands in the room: gauges, carriers, jigs, stations. Every length is typed with its unit."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from datetime import datetime
from functools import lru_cache
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from lapwright.app import jig_moves, station_setup
from lapwright.errors import LapwrightError
from lapwright.model.readings import Gauge
from lapwright.model.shelf import Jig, Station
from lapwright.model.wafer import Carrier
from lapwright.units import find_unit, number, to_unit
from lapwright.web.board_forms import KINDS
from lapwright.web.forms import LengthField, NumberField
from lapwright.web.gauge_forms import NAME, NameField
from lapwright.web.sentences import decimal
from lapwright.web.words import material_choices, tool_name

MOST_CARRIERS = 200


class VersionedForm(forms.Form):
    """A form that remembers which version of the record it was filled from."""

    version = forms.IntegerField(required=False, widget=forms.HiddenInput)


class GaugeForm(VersionedForm):
    """A gauge, or what is newly known of it."""

    gauge_id = NameField(label=_("Short name"), help_text=_("For example G1."))
    name = forms.CharField(
        label=_("What it is"), max_length=200, required=False, help_text=_("For example: drop gauge on granite.")
    )
    limit = LengthField(
        label=_("Accuracy, ±"),
        help_text=_("As its data sheet or certificate says: every reading lies within it. For example 1 µm."),
    )
    local = LengthField(
        label=_("Of that, what differs from site to site, ±"),
        required=False,
        help_text=_("By this alone a TTV is uncertain. Empty: not known, and the whole counts."),
    )
    resolution = LengthField(label=_("Smallest step"), required=False, help_text=_("For example 0.1 µm."))
    repeatability = LengthField(
        label=_("Repeatability"), required=False, help_text=_("Standard deviation; empty until a study has told it.")
    )
    contact = forms.ChoiceField(
        label=_("It reads"), choices=[("touches", _("touching the face")), ("free", _("without touching"))]
    )

    def gauge(self, known: Gauge | None) -> Gauge:
        """The gauge typed; only after the form was found valid. What the form does not ask stays."""
        data = self.cleaned_data
        base = known or Gauge(gauge_id=data["gauge_id"], name=data["gauge_id"], limit=data["limit"])
        return replace(
            base,
            name=data["name"].strip() or data["gauge_id"],
            limit=data["limit"],
            local=data["local"],
            resolution=data["resolution"] or 0.0,
            repeatability=data["repeatability"],
            contact=data["contact"] == "touches",
        )


class CarriersForm(forms.Form):
    """One carrier, or several alike."""

    names = forms.CharField(
        label=_("Names"), max_length=8000, widget=forms.Textarea(attrs={"rows": 3, "spellcheck": "false"}),
        help_text=_("One a row, or from a first to a last: C-01 to C-12."),
    )  # fmt: skip
    material = forms.ChoiceField(label=_("Material"))
    diameter = LengthField(label=_("Diameter"), help_text=_("For example 60 mm."))
    thickness = LengthField(label=_("Thickness, nominal"), help_text=_("For example 6 mm."))

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["material"].choices = [("", _("choose")), *material_choices()]  # type: ignore[attr-defined]

    def clean_names(self) -> tuple[str, ...]:
        """The names, each once; every bad one is told."""
        names = [name for row in re.split(r"[\n,;]", self.cleaned_data["names"]) for name in _spelled(row.strip())]
        faults = [_now("“%(name)s” is no name: use letters, digits, dots and dashes.") % {"name": name}
                  for name in names if len(name) > 60 or not NAME.match(name)]  # fmt: skip
        faults += [_now("%(name)s stands there twice.") % {"name": name}
                   for name in sorted({name for name in names if names.count(name) > 1})]  # fmt: skip
        if len(names) > MOST_CARRIERS:
            faults = [
                _now("%(n)d names are too many at once; at most %(most)d.") % {"n": len(names), "most": MOST_CARRIERS}
            ]
        if faults:
            raise ValidationError(faults)
        return tuple(names)

    def carriers(self) -> tuple[Carrier, ...]:
        """The carriers typed; only after the form was found valid."""
        data = self.cleaned_data
        return tuple(
            Carrier(
                carrier_id=name, material=data["material"], diameter=data["diameter"],
                nominal_thickness=data["thickness"],
            )
            for name in data["names"]
        )  # fmt: skip


class JigForm(VersionedForm):
    """A jig, or its changed geometry."""

    jig_id = NameField(label=_("Short name"), help_text=_("For example J1."))
    adjuster_radius = LengthField(
        label=_("How far from the axis its adjusters stand"), help_text=_("For example 45 mm.")
    )
    azimuths = forms.CharField(
        label=_("Where they stand, degrees"), max_length=80, initial="90, 210, 330",
        help_text=_("Jig turned face up, counter-clockwise from the right; the mark of the wafer is at 270."),
    )  # fmt: skip
    per_division = LengthField(label=_("One division moves"), help_text=_("By its data sheet, for example 2 µm."))
    division_step = NumberField(
        label=_("Smallest part of a division you can set"),
        max_length=20,
        initial="0.25",
        help_text=_("0.25: a quarter."),
    )
    mass_kg = NumberField(
        label=_("Rests on the wafer without weights, kg"),
        max_length=20,
        required=False,
        help_text=_("Empty: not known."),
    )
    clockwise = forms.ChoiceField(
        label=_("A clockwise turn brings the wafer"), required=False,
        choices=[("", _("not known; the first test turn tells")), ("near", _("nearer to the plate")),
                 ("away", _("away from the plate"))],
    )  # fmt: skip

    def clean_azimuths(self) -> tuple[float, ...]:
        """Radians."""
        try:
            found = tuple(
                math.radians(number(text)) for text in re.split(r"[,;]\s*|\s+", self.cleaned_data["azimuths"].strip())
            )
        except LapwrightError as error:
            raise ValidationError(error.sentence) from error
        if len(found) < 3:
            raise ValidationError(_now("Give three azimuths or more; a plane is not set by fewer."))
        return found

    def jig(self, known: Jig | None) -> Jig:
        """The jig typed; only after the form was found valid. What was learned of its screws stays while they do."""
        data = self.cleaned_data
        name, advance, azimuths = data["jig_id"], data["per_division"], data["azimuths"]
        return Jig(
            jig_id=name,
            name=name if known is None else known.name,
            adjuster_radius=data["adjuster_radius"],
            adjuster_azimuths=azimuths,
            advance_per_division=advance,
            division_step=data["division_step"],
            spring_force=0.0 if known is None else known.spring_force,
            ring_share=0.0 if known is None else known.ring_share,
            mass=data["mass_kg"] or 0.0,
            clockwise_brings_near={"near": True, "away": False}.get(data["clockwise"]),
            learned_advances=jig_moves.learned_before(name, advance, azimuths),
        )


class StationForm(VersionedForm):
    """A station, with the plate and the abrasive that are on it now; `wafer` is the one it is made ready for."""

    wafer = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)

    station_id = NameField(label=_("Short name"), help_text=_("For example L1."))
    kind = forms.ChoiceField(label=_("What is done there"), choices=KINDS)
    plate = forms.ChoiceField(label=_("Plate or pad on it now"), required=False)
    abrasive = forms.ChoiceField(
        label=_("Abrasive or slurry on it now"), required=False,
        help_text=_("Routes keep to plates that lie on a station. A run starts only with what its stage wants."),
    )  # fmt: skip

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for field, of_library in zip(("plate", "abrasive"), _tools(), strict=True):
            named = [(str(tool_name(one, None)), one) for one in of_library]
            self.fields[field].choices = [("", _("none")), *((one, name) for name, one in named)]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """What laps or polishes has a plate and an abrasive."""
        data = super().clean() or self.cleaned_data
        if data.get("kind") in ("lap", "polish"):
            for field in ("plate", "abrasive"):
                if not data.get(field) and field not in self.errors:
                    self.add_error(field, _now("Say what is on it; it can be changed at any time."))
        return data

    def station(self, known: Station | None, *, at: datetime) -> Station:
        """The station typed; only after the form was found valid. Lot and piece stay with their plate and abrasive."""
        data = self.cleaned_data
        plate, abrasive = data["plate"] or None, data["abrasive"] or None
        base = known or Station(station_id=data["station_id"], name=data["station_id"], kind=data["kind"])
        changed = replace(
            base,
            kind=data["kind"],
            plate=plate,
            abrasive=abrasive,
            plate_piece=base.plate_piece if plate == base.plate else None,
            abrasive_lot=base.abrasive_lot if abrasive == base.abrasive else None,
        )
        return station_setup.with_ages(changed, is_charged=False, is_dressed=False, at=at)


def gauge_filled(gauge: Gauge, version: int) -> dict[str, Any]:
    """A recorded gauge as its form shows it."""
    return {
        "version": version, "gauge_id": gauge.gauge_id, "name": gauge.name, "limit": _length(gauge.limit, "µm"),
        "local": _length(gauge.local, "µm"), "resolution": _length(gauge.resolution or None, "µm"),
        "repeatability": _length(gauge.repeatability, "µm"), "contact": "touches" if gauge.contact else "free",
    }  # fmt: skip


def jig_filled(jig: Jig, version: int) -> dict[str, Any]:
    """A recorded jig as its form shows it."""
    brings = {True: "near", False: "away", None: ""}[jig.clockwise_brings_near]
    return {
        "version": version, "jig_id": jig.jig_id, "adjuster_radius": _length(jig.adjuster_radius, "mm"),
        "azimuths": ", ".join(f"{math.degrees(one):.10g}" for one in jig.adjuster_azimuths),
        "per_division": _length(jig.advance_per_division, "µm"), "division_step": f"{jig.division_step:g}",
        "mass_kg": f"{jig.mass:g}" if jig.mass else "", "clockwise": brings,
    }  # fmt: skip


def station_filled(station: Station, version: int) -> dict[str, Any]:
    """A recorded station as its form shows it."""
    return {
        "version": version, "station_id": station.station_id, "kind": station.kind, "plate": station.plate or "",
        "abrasive": station.abrasive or "",
    }  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _spelled(row: str) -> list[str]:
    """The names that a row stands for: one, or a run from a first to a last."""
    run = re.fullmatch(r"(.*?)(\d+)\s+(?:to|bis|–|-|…|\.\.)\s+(.*?)(\d+)", row)
    if run is None or run[1] != run[3] or not 0 < int(run[4]) - int(run[2]) < MOST_CARRIERS:
        return [row] if row else []
    return [f"{run[1]}{count:0{len(run[2])}d}" for count in range(int(run[2]), int(run[4]) + 1)]


@lru_cache(maxsize=1)
def _tools() -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Plates with pads, and abrasives with slurries, by their names in the library."""
    from lapwright.library import load

    library = load()
    return tuple(one.plate_id for one in library.plates), tuple(one.abrasive_id for one in library.abrasives)


def _length(value: float | None, symbol: str) -> str:
    return "" if value is None else decimal(f"{to_unit(value, find_unit(symbol, 'length')):.6g} {symbol}")
