"""The small forms by which a person has something done to a wafer."""

from __future__ import annotations

import math
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from lapwright import units
from lapwright.app import shelf, supplies
from lapwright.errors import UnitError
from lapwright.model.wafer import Frame
from lapwright.web.forms import LengthField
from lapwright.web.run_forms import GoesOnField, need_preset_to_go_on
from lapwright.web.sentences import said
from lapwright.web.supply_forms import shelf_day
from lapwright.web.typed_fields import TypedField
from lapwright.web.words import QUANTITIES, item_name


class ReasonForm(forms.Form):
    """A deed that needs nothing but its reason."""

    reason = forms.CharField(label=_("Reason"), max_length=500, help_text=_("It stays with the record."))


class NothingForm(forms.Form):
    """A deed that needs nothing."""


class BondForm(forms.Form):
    """A bond as made."""

    carrier = forms.ChoiceField(label=_("Carrier"))
    adhesive = forms.ChoiceField(label=_("Adhesive"))
    adhesive_shelf = forms.ChoiceField(label=_("Lot of the adhesive"), required=False)
    adhesive_lot = forms.CharField(
        label=_("Another lot of it"), required=False, max_length=60,
        help_text=_("Scanned from its label, or in words of your own; it then is not on the shelf."),
    )  # fmt: skip
    seen_from = forms.ChoiceField(
        label=_("The incoming map was read on"),
        choices=[("worked", _("the face that is worked")), ("bonded", _("the face that is bonded"))],
        help_text=_("On the bonded face the map is mirrored."),
    )
    wafer_turn = TypedField(
        label=_("Wafer turned by"), initial="0°", max_length=20, help_text=_("Counter-clockwise, like 90°.")
    )
    carrier_turn = TypedField(label=_("Carrier turned by"), initial="0°", max_length=20)

    asked_about = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        free = sorted(
            (one for one in shelf.list_carriers() if one.wafer_id is None), key=lambda one: one.set_id is None
        )
        self.unread = {one.carrier.carrier_id for one in free if one.set_id is None}
        names = [one.carrier.carrier_id for one in free]
        told = [
            (name, _now("%(name)s, never read") % {"name": name} if name in self.unread else name) for name in names
        ]
        self.fields["carrier"].choices = told  # type: ignore[attr-defined]
        self.fields["carrier"].help_text = (
            "" if free else _("None is free. Take a wafer off, or enter another carrier.")
        )
        self.fields["adhesive"].choices = _adhesives()  # type: ignore[attr-defined]
        usable = supplies.adhesive_lots(on=shelf_day())
        lots = [(one.lot_id, f"{one.lot_id} ({item_name(one.item)})") for one in usable]
        self.fields["adhesive_shelf"].choices = [("", "–"), *lots]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """A carrier that was never read is asked about once: under a wafer it cannot be read."""
        data = super().clean() or self.cleaned_data
        name = data.get("carrier")
        if name in self.unread and data.get("asked_about") != name:
            self.data = {**dict(self.data.items()), self.add_prefix("asked_about"): name}
            sentence = _now(
                "%(name)s was never read bare, and under a wafer it cannot be; the bond could not be judged. Read it"
                " first. If its readings stand on paper, send this once more and enter them afterwards."
            )
            self.add_error("carrier", sentence % {"name": name})
        return data

    def clean_wafer_turn(self) -> float:
        """Radians."""
        return _angle(self.cleaned_data["wafer_turn"])

    def clean_carrier_turn(self) -> float:
        """Radians."""
        return _angle(self.cleaned_data["carrier_turn"])

    def frames(self) -> tuple[Frame, Frame]:
        """Frames of the wafer's and of the carrier's map."""
        data = self.cleaned_data
        return Frame(seen_from=data["seen_from"], turn=data["wafer_turn"]), Frame(turn=data["carrier_turn"])


class DecideForm(forms.Form):
    """What is decided about a bond, with or against the advice."""

    decision = forms.ChoiceField(
        label=_("Decision"),
        choices=[("keep", _("keep the bond")), ("rebond", _("make the bond again"))],
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label=_("Reason"), max_length=500, required=False, help_text=_("Needed against the advice.")
    )


class DebondForm(forms.Form):
    """How a wafer was taken off."""

    method = forms.CharField(
        label=_("How it was taken off"), max_length=200, help_text=_("For example: slid off, hot plate 90 °C.")
    )


class ZeroForm(forms.Form):
    """The zero of the jig's gauge, three readings or more."""

    station = forms.ChoiceField(label=_("Station"))
    jig = forms.ChoiceField(label=_("Jig"))
    texts = TypedField(
        label=_("Zero readings"),
        max_length=200,
        help_text=_("Three or more, separated by blanks; a bare number is µm."),
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["station"].choices = _stations("lap")  # type: ignore[attr-defined]
        self.fields["jig"].choices = _jigs()  # type: ignore[attr-defined]


class StartForm(forms.Form):
    """A run to be started; what is left empty is taken from the stage as planned."""

    station = forms.ChoiceField(label=_("Station"))
    jig = forms.ChoiceField(label=_("Jig"), required=False)
    preset = LengthField(label=_("Preset dialled in"), required=False, help_text=_("Empty: as planned."))
    goes_on = GoesOnField()

    def clean(self) -> dict[str, Any]:
        """A stage goes on after a run of a length of its own."""
        data = super().clean() or self.cleaned_data
        need_preset_to_go_on(self)
        return data

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["station"].choices = _stations("lap", "polish")  # type: ignore[attr-defined]
        self.fields["jig"].choices = [("", _("none")), *_jigs()]  # type: ignore[attr-defined]


class FinishForm(forms.Form):
    """The end of a run."""

    gauge_removal = TypedField(
        label=_("Removed, by the jig's gauge"), required=False, max_length=40, help_text=_("For example 398.2 µm.")
    )
    stop_reason = forms.CharField(label=_("Why it stopped"), initial=_("preset reached"), max_length=200)


class FindingForm(forms.Form):
    """A quantity measured otherwise than by a set of readings."""

    quantity = forms.ChoiceField(
        label=_("Quantity"),
        choices=[(name, word) for name, word in QUANTITIES.items() if name not in ("thickness", "ttv", "wedge")],
    )
    text = TypedField(label=_("Value"), max_length=40, help_text=_("For example 0.8 nm."))
    expanded_uncertainty = LengthField(label=_("Expanded uncertainty (95 %)"), required=False)
    method = forms.CharField(label=_("How it was measured"), max_length=200)


# ----------------------------------------------------------------------------------------------------------------------


def _angle(text: str) -> float:
    try:
        value = units.parse(text, "angle")
    except UnitError as error:
        raise ValidationError(error.sentence) from error
    return value % (2.0 * math.pi)


def _stations(*kinds: str) -> list[tuple[str, str]]:
    every = [one.station for one in shelf.list_stations()]
    return [(one.station_id, _named(one.station_id, one.name)) for one in every if one.kind in kinds]


def _jigs() -> list[tuple[str, str]]:
    return [(one.jig.jig_id, _named(one.jig.jig_id, one.jig.name)) for one in shelf.list_jigs()]


def _adhesives() -> list[tuple[str, str]]:
    from lapwright.library import load

    return [(row.adhesive_id, str(said(row.name))) for row in load().adhesives]


def _named(short: str, name: str) -> str:
    return short if name in ("", short) else f"{short} · {name}"
