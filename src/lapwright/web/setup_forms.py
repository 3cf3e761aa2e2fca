"""The form that says what is on a station: lot, the very plate or pad, fresh slurry, dressing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from lapwright.app import supplies
from lapwright.app.run_history import OLDEST_SLURRY
from lapwright.app.station_setup import SetupNote
from lapwright.model.shelf import Station
from lapwright.web.words import tool_name

_DAYS = 72.0  # h; from here on days are told


class SetupForm(forms.Form):
    """What was put on, or is found to be on it."""

    abrasive_lot = forms.CharField(
        label=_("Lot of abrasive or slurry"), required=False, max_length=60,
        help_text=_("From the label. Another lot counts as fresh."), widget=forms.TextInput(attrs={"list": "lots"}),
    )  # fmt: skip
    plate_piece = forms.CharField(
        label=_("Which plate or pad"), required=False, max_length=60,
        help_text=_("What you call this very one. Another one begins its hours anew."),
    )  # fmt: skip
    is_charged = forms.BooleanField(label=_("Fresh slurry was put on now"), required=False)
    is_dressed = forms.BooleanField(label=_("Plate or pad was dressed now"), required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    wafer = forms.CharField(widget=forms.HiddenInput, required=False)

    def note(self) -> SetupNote:
        """What was said; only after the form was found valid."""
        data = self.cleaned_data
        return SetupNote(
            abrasive_lot=data["abrasive_lot"],
            plate_piece=data["plate_piece"],
            is_charged=data["is_charged"],
            is_dressed=data["is_dressed"],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class OnStation:
    """A station with its plate and abrasive by name, and the age of its slurry in words, "" where it is not known.

    `is_old`: too old to count for rates. `may`: whether the lot on it may be used, None where the shelf does not know
    it; `lots` are those of this abrasive that may be.
    """

    station: Station
    tool: str
    slurry: str
    is_old: bool
    may: supplies.May | None
    lots: tuple[str, ...]


def on_station(station: Station, *, at: datetime) -> OnStation:
    """What is on a station, in words."""
    charged = station.charged_at
    hours = 0.0 if charged is None else max((at - charged).total_seconds(), 0.0) / 3600.0
    told = "" if charged is None else f"{hours:.1f}\u00a0h" if hours < _DAYS else f"{hours / 24.0:.0f}\u00a0d"
    return OnStation(
        station=station, tool=tool_name(station.abrasive, station.plate), slurry=told,
        is_old=hours * 3600.0 > OLDEST_SLURRY, may=supplies.may_use(station.abrasive_lot, on=at.date()),
        lots=supplies.lots_for(station.abrasive, on=at.date()),
    )  # fmt: skip


def setup_start(station: Station, version: int, wafer_id: str) -> dict[str, Any]:
    """What the form opens with."""
    return {
        "abrasive_lot": station.abrasive_lot or "",
        "plate_piece": station.plate_piece or "",
        "version": version,
        "wafer": wafer_id,
    }
