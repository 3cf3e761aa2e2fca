"""The form of the price list: money as plain numbers, times in hours and minutes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from lapwright.errors import BadInput, Fault
from lapwright.model.prices import PriceList
from lapwright.web.forms import NumberField

_HOUR = 3600.0
_MINUTE = 60.0
#: Field of the model -> field of the form, where the names differ.
_FIELDS = {
    "station_hour": "station",
    "piece_price": "piece",
    "pad_life": "pad_life_h",
    "measuring_time": "measuring_min",
    "cleaning_time": "cleaning_min",
    "set_up_time": "set_up_min",
}


class PriceForm(forms.Form):
    """Every price and planning time; a station or slurry left empty has no price of its own."""

    currency = forms.CharField(
        label=_("What the money is called"), required=False, max_length=12, help_text=_("For example EUR.")
    )
    labour = NumberField(label=_("An hour of a person"), max_length=20)
    station = NumberField(label=_("An hour of a station"), max_length=20, help_text=_("Where it has no price below."))
    pad = NumberField(label=_("A pad"), max_length=20)
    pad_life_h = NumberField(label=_("Hours that a pad lasts"), max_length=20)
    piece = NumberField(
        label=_("Consumables of each wafer"), max_length=20, help_text=_("Adhesive, solvent, wipes; 0 for none.")
    )
    scrap = NumberField(
        label=_("A lost wafer"), required=False, max_length=20,
        help_text=_("Where its order names no value. Empty: nothing is added for wafers lost."),
    )  # fmt: skip
    measuring_min = NumberField(label=_("Minutes for a measurement"), max_length=20)
    cleaning_min = NumberField(label=_("Minutes for a cleaning"), max_length=20)
    set_up_min = NumberField(
        label=_("Minutes to set up an order"), max_length=20, help_text=_("Once for each order, for plates and papers.")
    )
    overhead = NumberField(
        label=_("Overhead in %"), max_length=20, help_text=_("On all that the lab spends itself; 0 for none.")
    )
    reason = forms.CharField(label=_("Why"), max_length=300, help_text=_("For example: prices of 2026."))
    after = forms.IntegerField(widget=forms.HiddenInput, min_value=0)

    GROUPS = (
        (_("Hours"), ("currency", "labour", "station")),
        (_("Minutes of a person"), ("measuring_min", "cleaning_min", "set_up_min")),
        (_("What is used up"), ("pad", "pad_life_h", "piece")),
        (_("What goes wrong"), ("scrap",)),
        (_("On top"), ("overhead",)),
    )

    def __init__(self, *args: Any, stations: Sequence[str], kinds: Sequence[tuple[str, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        self._stations = [(f"station_{number}", name) for number, name in enumerate(stations)]
        self._kinds = [(f"slurry_{number}", name) for number, (name, _word) in enumerate(kinds)]
        words = dict(kinds) | {name: _now("Station %(name)s") % {"name": name} for name in stations}
        for field, name in (*self._stations, *self._kinds):
            self.fields[field] = NumberField(label=words.get(name, name), required=False, max_length=20)
        for box in self.fields.values():
            if isinstance(box, NumberField):
                box.widget.attrs.update({"inputmode": "decimal"})

    @property
    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Headings with their fields, in reading order; the stations stand with the hours."""
        own = [self[field] for field, _name in self._stations]
        found = []
        for title, names in self.GROUPS:
            found.append((str(title), [self[name] for name in names] + (own if names[0] == "currency" else [])))
        found.insert(3, (str(_("An hour of slurry, by kind of abrasive")), [self[one] for one, _name in self._kinds]))
        return found

    def prices(self) -> PriceList:
        """The list typed; only after the form was found valid. Raises `BadInput`."""
        data = self.cleaned_data
        return PriceList(
            currency=data["currency"].strip(),
            labour=data["labour"],
            station_hour=data["station"],
            station_hours=self._told(self._stations),
            slurry_hours=self._told(self._kinds),
            pad=data["pad"],
            pad_life=data["pad_life_h"] * _HOUR,
            piece_price=data["piece"],
            scrap=data["scrap"],
            measuring_time=data["measuring_min"] * _MINUTE,
            cleaning_time=data["cleaning_min"] * _MINUTE,
            set_up_time=data["set_up_min"] * _MINUTE,
            overhead=0.01 * data["overhead"],
        )

    def take_in(self, error: BadInput) -> None:
        """Show what the records refuse beside its field."""
        for fault in error.faults or (Fault(sentence=error.sentence),):
            field = _FIELDS.get(fault.field or "", fault.field)
            self.add_error(field if field in self.fields else None, fault.sentence)

    # ------------------------------------------------------------------------------------------------------------------

    def _told(self, priced: list[tuple[str, str]]) -> tuple[tuple[str, float], ...]:
        return tuple((name, self.cleaned_data[field]) for field, name in priced if self.cleaned_data[field] is not None)


def filled(prices: PriceList, stations: Sequence[str], kinds: Sequence[str], *, after: int) -> dict[str, Any]:
    """What the form shows of a price list."""
    of_station, of_kind = dict(prices.station_hours), dict(prices.slurry_hours)
    shown: dict[str, Any] = {
        "currency": prices.currency,
        "labour": prices.labour,
        "station": prices.station_hour,
        "pad": prices.pad,
        "pad_life_h": prices.pad_life / _HOUR,
        "piece": prices.piece_price,
        "scrap": prices.scrap,
        "measuring_min": prices.measuring_time / _MINUTE,
        "cleaning_min": prices.cleaning_time / _MINUTE,
        "set_up_min": prices.set_up_time / _MINUTE,
        "overhead": 100.0 * prices.overhead,
        "after": after,
        **{f"station_{number}": of_station.get(name) for number, name in enumerate(stations)},
        **{f"slurry_{number}": of_kind.get(name) for number, name in enumerate(kinds)},
    }
    return {name: f"{value:.10g}" if isinstance(value, float) else value for name, value in shown.items()}
