"""The form that says what is on a station: lot, the very plate or pad, fresh slurry, dressing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from lapwright.app import plates, supplies
from lapwright.app.lot_names import lot_part
from lapwright.app.run_history import OLDEST_SLURRY
from lapwright.app.station_setup import SetupNote
from lapwright.model.shelf import Station
from lapwright.model.supply import PAD_MARK
from lapwright.web.sentences import decimal
from lapwright.web.words import tool_name

_DAYS = 72.0  # h; from here on days are told


class SetupForm(forms.Form):
    """What was put on, or is found to be on it."""

    lot_choice = forms.CharField(required=False, max_length=60)
    abrasive_lot = forms.CharField(
        label=_("Another lot of abrasive or slurry"), required=False, max_length=60,
        help_text=_("Scanned from its label, or in words of your own. Another lot counts as fresh."),
    )  # fmt: skip
    piece_choice = forms.CharField(required=False, max_length=60)
    plate_piece = forms.CharField(
        label=_("Another plate or pad"), required=False, max_length=60,
        help_text=_("Scanned, or what you call this very one. Another one begins its hours anew."),
    )  # fmt: skip
    is_charged = forms.BooleanField(label=_("Fresh slurry was put on now"), required=False)
    is_dressed = forms.BooleanField(label=_("Plate or pad was dressed now"), required=False)
    is_new_pad = forms.BooleanField(label=_("A new pad of the same lot was put on now"), required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    wafer = forms.CharField(widget=forms.HiddenInput, required=False)

    def note(self) -> SetupNote:
        """What was said; only after the form was found valid. What is typed or scanned counts before what is chosen."""
        data = self.cleaned_data
        return SetupNote(
            abrasive_lot=data["abrasive_lot"] or data["lot_choice"],
            plate_piece=data["plate_piece"] or data["piece_choice"],
            is_charged=data["is_charged"],
            is_dressed=data["is_dressed"],
            is_new_pad=data["is_new_pad"],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Something that may be on a station: its name, until when it is good, whether the shelf has it, and if it is on.

    `is_new`: a lot of pads, of which a new one would be put on.
    """

    name: str
    expires: date | None = None
    is_on_shelf: bool = True
    is_on_it: bool = False
    is_new: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OnStation:
    """A station with its plate and abrasive by name, and the age of its slurry in words, "" where it is not known.

    `is_old`: too old to count for rates. `may`: whether the lot on it may be used, None where the shelf does not know
    it; `lots` and `pieces` are what it may be, the one on it first.
    """

    station: Station
    tool: str
    slurry: str
    is_old: bool
    may: supplies.May | None
    lots: tuple[Choice, ...]
    pieces: tuple[Choice, ...]

    @property
    def has_pad(self) -> bool:
        """Whether the piece on it is a pad of a lot."""
        return PAD_MARK in (self.station.plate_piece or "")


def on_station(station: Station, *, at: datetime, on: date) -> OnStation:
    """What is on a station, in words; `on` is the day by which lots are good."""
    charged = station.charged_at
    hours = 0.0 if charged is None else max((at - charged).total_seconds(), 0.0) / 3600.0
    told = "" if charged is None else decimal(f"{hours:.1f}\u00a0h") if hours < _DAYS else f"{hours / 24.0:.0f}\u00a0d"
    return OnStation(
        station=station, tool=tool_name(station.abrasive, station.plate), slurry=told,
        is_old=hours * 3600.0 > OLDEST_SLURRY, may=supplies.may_use(station.abrasive_lot, on=on),
        lots=_lots(station, on), pieces=_pieces(station, on),
    )  # fmt: skip


def setup_start(station: Station, version: int, wafer_id: str) -> dict[str, Any]:
    """What the form opens with."""
    return {
        "lot_choice": station.abrasive_lot or "",
        "piece_choice": station.plate_piece or "",
        "version": version,
        "wafer": wafer_id,
    }


# ----------------------------------------------------------------------------------------------------------------------


def _lots(station: Station, on: date) -> tuple[Choice, ...]:
    """The lot on it, then those of its abrasive that may be used, the oldest first."""
    here = station.abrasive_lot
    usable = [
        Choice(name=lot.lot_id, expires=lot.expires, is_on_it=lot.lot_id == here)
        for lot in supplies.lots_for(station.abrasive, on=on)
    ]
    return _with_the_one_on_it(here, usable)


def _pieces(station: Station, on: date) -> tuple[Choice, ...]:
    """The plate or pad on it, then plates recorded for the station and lots of such pads."""
    here = station.plate_piece
    held = [one.plate.plate_id for one in plates.recorded_plates() if one.plate.station_id == station.station_id]
    usable = [Choice(name=name, is_on_it=name == here) for name in held]
    usable += [
        Choice(name=lot.lot_id, expires=lot.expires, is_new=True)
        for lot in supplies.lots_for(station.plate, on=on)
        if lot_part(here) != lot.lot_id
    ]
    return _with_the_one_on_it(here, usable)


def _with_the_one_on_it(here: str | None, usable: list[Choice]) -> tuple[Choice, ...]:
    if here and not any(one.is_on_it for one in usable):
        return (Choice(name=here, is_on_it=True, is_on_shelf=supplies.is_on_shelf(here)), *usable)
    return tuple(sorted(usable, key=lambda one: not one.is_on_it))
