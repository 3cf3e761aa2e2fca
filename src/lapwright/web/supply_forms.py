"""Forms for what is used up: a lot that came, and what was taken of it."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.timezone import localtime
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from lapwright.app import queue
from lapwright.errors import UnitError
from lapwright.model.supply import Measure, SupplyLot
from lapwright.units import find_unit, parse, to_unit
from lapwright.web.forms import NumberField
from lapwright.web.gauge_forms import NameField
from lapwright.web.sentences import decimal
from lapwright.web.surroundings import now
from lapwright.web.typed_fields import TypedField
from lapwright.web.words import item_name, items_known

KINDS = (
    ("slurry", _("slurry")),
    ("abrasive", _("abrasive, dry or paste")),
    ("adhesive", _("adhesive")),
    ("solvent", _("solvent or bath")),
    ("pad", _("pad or film")),
)
USES = (("used", _("used")), ("discarded", _("thrown away")), ("counted", _("counted: so much is left")))
PIECES = "pieces"


def amount_of(text: str) -> tuple[float, Measure]:
    """An amount typed with its unit, in m³, kg or pieces. Raises `UnitError`."""
    plain = text.strip()
    number = next(
        (plain.removesuffix(word).strip() for word in (PIECES, _now("pieces"), "pcs") if plain.endswith(word)), ""
    )
    if number:
        return parse(f"{number} 1", "count"), "count"
    for measure in ("volume", "mass"):
        try:
            return parse(plain, measure), measure
        except UnitError:
            continue
    raise UnitError(f"{text!r} is no amount; expected a number with its unit, such as 5 l, 800 g or 12 pieces.")


def amount_text(amount: float, measure: Measure) -> str:
    """An amount with its unit, with three digits that count."""
    if measure == "count":
        return decimal(f"{amount:.0f}\u00a0" if amount >= 100.0 else f"{amount:.3g}\u00a0") + _now("pieces")
    symbol = {"volume": "l" if amount >= 1e-3 else "ml", "mass": "kg" if amount >= 1.0 else "g"}[measure]
    number = f"{to_unit(amount, find_unit(symbol, measure)):.3g}"
    return decimal(f"{float(number):.0f}\u00a0{symbol}" if "e+" in number else f"{number}\u00a0{symbol}")


class ItemInput(forms.TextInput):
    """A box that offers what the library knows; anything else may be typed."""

    def render(self, *args: Any, **options: Any) -> SafeString:
        """The box, and what it offers."""
        offered = [(item, item_name(item)) for item in items_known()]
        listed = format_html_join("", '<option value="{}">{}</option>', offered)
        return format_html('{}<datalist id="items">{}</datalist>', super().render(*args, **options), listed)


class LotForm(forms.Form):
    """A lot that came, or what changed about it."""

    lot_id = NameField(label=_("Name of the lot"))
    kind = forms.ChoiceField(label=_("What it is"), choices=KINDS)
    item = forms.CharField(
        label=_("Item"),
        max_length=60,
        widget=ItemInput(attrs={"list": "items", "autocomplete": "off"}),
        help_text=_("As in the library, so that runs find it, or a name of your own."),
    )
    amount = TypedField(label=_("Amount that came"), max_length=30, help_text=_("5 l, 800 g, 12 pieces"))
    received = forms.DateField(label=_("Came on"), widget=forms.DateInput(attrs={"type": "date"}))
    expires = forms.DateField(
        label=_("Good until"), required=False, widget=forms.DateInput(attrs={"type": "date"}),
        help_text=_("As on its label; empty where it keeps."),
    )  # fmt: skip
    feed = TypedField(
        label=_("Feed of a running station"), required=False, max_length=30,
        help_text=_("2 ml/min; empty where nothing runs off it by itself."),
    )  # fmt: skip
    per_bond = TypedField(
        label=_("One bond takes"), required=False, max_length=30,
        help_text=_("Of an adhesive, 0.4 g; empty where it is entered by hand."),
    )  # fmt: skip
    lead_days = NumberField(label=_("Delivery takes, days"), required=False, least=0.0, most=1000.0)
    held = forms.CharField(
        label=_("Not to be used, because"), required=False, max_length=200, help_text=_("Empty while it may be used.")
    )

    @property
    def own_name(self) -> str:
        """What to say of an item that the library does not know and a run or bond would look for; else ""."""
        item = self.cleaned_data["item"].strip()
        if item in items_known() or self.cleaned_data["kind"] not in ("slurry", "abrasive", "adhesive"):
            return ""
        sentence = _now("“%(item)s” is kept as a name of your own: the library has no such item, and no run finds it.")
        return sentence % {"item": item}

    def clean_amount(self) -> tuple[float, Measure]:
        """An amount with its measure."""
        try:
            return amount_of(self.cleaned_data["amount"])
        except UnitError as error:
            raise forms.ValidationError(error.sentence) from error

    def clean_feed(self) -> float | None:
        """A feed [m³/s], None when left empty."""
        text = self.cleaned_data["feed"].strip()
        if not text:
            return None
        try:
            return parse(text, "flow")
        except UnitError as error:
            raise forms.ValidationError(error.sentence) from error

    def clean_per_bond(self) -> tuple[float, Measure] | None:
        """An amount with its measure, None when left empty."""
        text = self.cleaned_data["per_bond"].strip()
        if not text:
            return None
        try:
            return amount_of(text)
        except UnitError as error:
            raise forms.ValidationError(error.sentence) from error

    def clean(self) -> dict[str, Any]:
        """A feed takes volume, so the lot must be measured in it; a bond takes of it in the lot's own measure."""
        data = super().clean() or {}
        bond = data.get("per_bond")
        if bond is not None and data.get("kind") != "adhesive":
            self.add_error("per_bond", _("Only of an adhesive does a bond take something. Leave it empty."))
        elif bond is not None and "amount" in data and bond[1] != data["amount"][1]:
            self.add_error("per_bond", _("This lot is measured otherwise; give the amount as it came."))
        if data.get("feed") is not None and data.get("amount", (0.0, "volume"))[1] != "volume":
            self.add_error("feed", _("A feed is a volume in a time, but this lot is not measured in litres."))
        return data

    def lot(self) -> SupplyLot:
        """The lot; only after the form was found valid. Raises `BadInput`."""
        data = self.cleaned_data
        amount, measure = data["amount"]
        return SupplyLot(
            lot_id=data["lot_id"], kind=data["kind"], item=data["item"].strip(), measure=measure, amount=amount,
            received=data["received"], expires=data["expires"], feed=data["feed"],
            lead_time=(data["lead_days"] or 0.0) * 86_400.0, held=data["held"].strip(),
            per_bond=None if data["per_bond"] is None else data["per_bond"][0],
        )  # fmt: skip


class RenameForm(forms.Form):
    """Another name for a lot."""

    name = NameField(label=_("New name"), help_text=_("The old one still finds it; no other lot may take it."))


class UseForm(forms.Form):
    """What was taken of a lot."""

    kind = forms.ChoiceField(label=_("What happened"), choices=USES)
    amount = TypedField(label=_("Amount"), max_length=30)
    reason = forms.CharField(label=_("For what"), required=False, max_length=200)

    def __init__(self, *args: Any, measure: Measure, **options: Any) -> None:
        super().__init__(*args, **options)
        self._measure = measure

    @property
    def own_name(self) -> str:
        """What to say of an item that the library does not know; "" of one that it does."""
        item = self.cleaned_data["item"].strip()
        if item in items_known():
            return ""
        sentence = _now("“%(item)s” is kept as a name of your own: the library has no such item, and no run finds it.")
        return sentence % {"item": item}

    def clean_amount(self) -> float:
        """An amount in the lot's own measure."""
        try:
            amount, measure = amount_of(self.cleaned_data["amount"])
        except UnitError as error:
            raise forms.ValidationError(error.sentence) from error
        if measure != self._measure:
            raise forms.ValidationError(_("This lot is measured otherwise; give the amount as it came."))
        return amount


def shelf_day() -> date:
    """The day by which lots are good: today, or the one on which an invented story ends."""
    return localtime(queue.moment(now())).date()


def initial_of(lot: SupplyLot) -> dict[str, object]:
    """A recorded lot as its form shows it."""
    feed = "" if lot.feed is None else decimal(f"{to_unit(lot.feed, find_unit('ml/min', 'flow')):.4g} ml/min")
    return {
        "lot_id": lot.lot_id, "kind": lot.kind, "item": lot.item, "amount": amount_text(lot.amount, lot.measure),
        "received": lot.received, "expires": lot.expires, "feed": feed, "lead_days": lot.lead_time / 86_400.0 or None,
        "held": lot.held, "per_bond": "" if lot.per_bond is None else amount_text(lot.per_bond, lot.measure),
    }  # fmt: skip


def new_lot(today: date) -> dict[str, object]:
    """What a new lot's form shows at first."""
    return {"received": today}
