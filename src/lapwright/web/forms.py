"""Forms: text as typed, checked all at once, to SI values of the model.

Every length is typed with its unit; a bare number is refused beside its field. What the order itself refuses (an
exclusion below zero, a flat longer than the wafer) comes back from the model as a fault of its field.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from lapwright import units
from lapwright.errors import BadInput, Fault, LapwrightError, UnitError
from lapwright.formats.wafer_list import read_wafer_list
from lapwright.model.order import DecisionRule, Limit, Order, Quantity
from lapwright.model.request import GivenWafer
from lapwright.model.wafer import Outline, Rectangle, Round
from lapwright.web.sentences import decimal, said
from lapwright.web.typed_fields import TypedField

#: Field of the form -> quantity that it limits from above.
UPPER_LIMITS: dict[str, Quantity] = {
    "ttv_limit": "ttv",
    "wedge_limit": "wedge",
    "flatness_limit": "flatness",
    "bow_limit": "bow",
    "warp_limit": "warp",
    "roughness_ra_limit": "roughness_ra",
    "roughness_sq_limit": "roughness_sq",
}
#: Attribute of the model -> field of the form, where the names differ.
FIELD_OF = {
    "diameter": "diameter",
    "flat_length": "flat_length",
    "false_accept": "risk",
    "lower limit of thickness": "tolerance",
    **{f"upper limit of {quantity}": field for field, quantity in UPPER_LIMITS.items()},
}


class LengthField(TypedField):
    """A length typed with its unit; cleans to metres, or None when left empty and not required."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("max_length", 40)
        super().__init__(**options)
        self.widget.attrs.update({"inputmode": "text", "spellcheck": "false"})

    def clean(self, value: Any) -> float | None:
        """Metres for the text typed."""
        text = super().clean(value)
        if not text:
            return None
        try:
            return units.parse(text, "length")
        except UnitError as error:
            raise ValidationError(error.sentence, code=error.code) from error


class NumberField(TypedField):
    """A plain number with decimal point or comma, within what it may be."""

    def __init__(self, *, least: float | None = None, most: float | None = None, **options: Any) -> None:
        options.setdefault("max_length", 40)
        super().__init__(**options)
        self.least, self.most = least, most
        self.widget.attrs.update({"inputmode": "decimal", "spellcheck": "false", "autocomplete": "off"})

    def clean(self, value: Any) -> float | None:
        """The number typed."""
        text = super().clean(value)
        if not text:
            return None
        try:
            found = units.number(text)
        except UnitError as error:
            raise ValidationError(error.sentence, code=error.code) from error
        if self.least is not None and found < self.least:
            least = decimal(f"{self.least:g}")
            raise ValidationError(
                _now("Found %(found)s; it must be %(least)s or more.") % {"found": text, "least": least}
            )
        if self.most is not None and found > self.most:
            most = decimal(f"{self.most:g}")
            raise ValidationError(_now("Found %(found)s; it must be at most %(most)s.") % {"found": text, "most": most})
        return found


class OrderForm(forms.Form):
    """A new order with every definition that its limits need."""

    order_id = forms.RegexField(
        r"^(?!new$)[\w.+-][\w.+ -]*$",
        label=_("Order"),
        max_length=40,
        help_text=_("Your number for it, for example AP-2410."),
        error_messages={"invalid": _("Use letters, digits, dots, dashes and blanks; it becomes part of an address.")},
    )
    customer = forms.CharField(label=_("Customer"), max_length=120)
    due = forms.DateField(
        label=_("Due"), required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    quantity = forms.IntegerField(label=_("Pieces"), min_value=1, max_value=500)
    spares = forms.IntegerField(label=_("Spares"), min_value=0, max_value=100, initial=0)
    value_per_wafer = NumberField(
        label=_("Value of one piece"), required=False, max_length=20, help_text=_("In your currency; for the risk.")
    )

    material = forms.ChoiceField(label=_("Material"))
    orientation = forms.CharField(
        label=_("Orientation"), required=False, max_length=60, help_text=_("Crystal face, if it matters.")
    )
    shape = forms.ChoiceField(label=_("Outline"), choices=[("round", _("round")), ("rectangle", _("rectangular"))])
    diameter = LengthField(label=_("Diameter"), required=False, help_text=_("For example 50.8 mm or 2 in."))
    mark = forms.ChoiceField(
        label=_("Orientation mark"),
        choices=[("none", _("none")), ("flat", _("flat")), ("notch", _("notch"))],
        required=False,
    )
    flat_length = LengthField(label=_("Length of the flat"), required=False, help_text=_("For example 16 mm."))
    width = LengthField(label=_("Width"), required=False, help_text=_("Of a rectangular piece."))
    height = LengthField(label=_("Height"), required=False, help_text=_("Of a rectangular piece."))

    start_thickness = LengthField(label=_("Thickness now"), help_text=_("For example 500 µm."))
    start_ttv = LengthField(label=_("TTV now"), required=False, help_text=_("If known."))
    start_damage = LengthField(
        label=_("Damage now"),
        required=False,
        help_text=_("Depth below the face, from sawing or grinding. Empty: none."),
    )
    target_thickness = LengthField(label=_("Thickness wanted"), help_text=_("For example 100 µm."))
    tolerance = LengthField(label=_("Tolerance ±"), help_text=_("For example 2 µm."))

    ttv_limit = LengthField(label=_("TTV at most"), required=False)
    wedge_limit = LengthField(
        label=_("Wedge at most"), required=False, help_text=_("Difference over the full diameter.")
    )
    flatness_limit = LengthField(label=_("Flatness at most"), required=False)
    bow_limit = LengthField(label=_("Bow at most"), required=False)
    warp_limit = LengthField(label=_("Warp at most"), required=False)
    roughness_ra_limit = LengthField(label=_("Ra at most"), required=False, help_text=_("For example 1 nm."))
    roughness_sq_limit = LengthField(label=_("Sq at most"), required=False)

    edge_exclusion = LengthField(
        label=_("Edge exclusion"), help_text=_("The rim that does not count. Write 0 mm if all counts.")
    )
    hold = forms.ChoiceField(
        label=_("Measured"), choices=[("", _("choose")), ("free", _("free")), ("clamped", _("clamped"))]
    )
    rule = forms.ChoiceField(
        label=_("Judged"),
        choices=[
            ("guarded", _("with a guard band by chance")),
            ("factor", _("with a guard band by factor")),
            ("simple", _("by the value alone")),
        ],
        help_text=_("A guard band is as wide as the chance or the factor beside asks for."),
    )
    risk = NumberField(label=_("Chance of a wrong acceptance, %"), initial="2", max_length=10, required=False)
    guard_factor = NumberField(
        label=_("Factor of the guard band"),
        max_length=10,
        required=False,
        help_text=_(
            "So many expanded uncertainties (95 %) inside the limit; often 1. Only with a guard band by factor."
        ),
    )
    notes = forms.CharField(
        label=_("Notes"), required=False, max_length=10_000, widget=forms.Textarea(attrs={"rows": 3})
    )
    wafer_names = forms.CharField(
        label=_("Names of the wafers"),
        required=False,
        max_length=50_000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_(
            "Paste from a spreadsheet: one name a row, spares last; or with a heading: wafer, thickness_um, spare."
            " Empty: they are numbered after the order."
        ),
    )
    copied_from = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)

    #: What stands back on the page while it is empty and the chosen outline or rule has no use for it.
    CHOSEN: tuple[str, ...] = ("diameter", "flat_length", "width", "height", "guard_factor")
    #: How the fields are grouped on the page.
    GROUPS: tuple[tuple[Any, tuple[str, ...]], ...] = (
        (_("Who, and how many"), ("order_id", "customer", "due", "quantity", "spares", "wafer_names",
                                   "value_per_wafer")),
        (_("The piece"), ("material", "orientation", "shape", "diameter", "mark", "flat_length", "width", "height")),
        (_("From which thickness to which"), ("start_thickness", "start_ttv", "start_damage", "target_thickness",
                                            "tolerance")),
        (_("Within which limits"), tuple(UPPER_LIMITS)),
        (_("Judged how"), ("edge_exclusion", "hold", "rule", "risk", "guard_factor", "notes")),
    )  # fmt: skip

    def __init__(self, *args: Any, materials: Sequence[tuple[str, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        self._order: Order | None = None
        choices = [("", _("choose")), *materials]
        self.fields["material"].choices = choices  # type: ignore[attr-defined]
        for name in self.CHOSEN:
            self.fields[name].widget.attrs["placeholder"] = " "

    @property
    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Headings with their bound fields, in reading order."""
        return [(str(title), [self[name] for name in names]) for title, names in self.GROUPS]

    def clean(self) -> dict[str, Any]:
        """What one field needs from another."""
        data = super().clean() or self.cleaned_data
        needed = {"round": ("diameter",), "rectangle": ("width", "height")}.get(data.get("shape", ""), ())
        for name in needed:
            if name not in self.errors and data.get(name) is None:
                self.add_error(name, _("The outline needs this length; type it with its unit."))
        if data.get("shape") == "round" and data.get("mark") == "flat" and not data.get("flat_length"):
            self.add_error("flat_length", _("A flat needs its length; type it with its unit."))
        if data.get("rule") == "guarded" and "risk" not in self.errors and data.get("risk") is None:
            self.add_error("risk", _("A guard band needs the chance it keeps to; usual is 2."))
        self._check_factor(data)
        if not self.errors:
            self._build_order(data)
        return data

    def clean_wafer_names(self) -> tuple[GivenWafer, ...]:
        """The wafers of a pasted list; every fault with its row."""
        try:
            return read_wafer_list(self.cleaned_data["wafer_names"])
        except BadInput as error:
            told = [f"{_('Row')} {one.row}: {said(one.sentence)}" if one.row else one.sentence for one in error.faults]
            raise ValidationError(told) from error

    @property
    def missing(self) -> list[str]:
        """The labels of needed fields that nothing has been typed into yet."""
        return [str(field.label) for field in self if field.field.required and not field.data]

    @property
    def order(self) -> Order | None:
        """The order typed, also when the records then refused it; None while a field has a fault."""
        return self._order

    def take_in(self, error: LapwrightError) -> None:
        """Show what the records refuse: beside its field where it names one."""
        for fault in error.faults or (Fault(sentence=error.sentence),):
            field = "wafer_names" if fault.field == "wafer_ids" else fault.field
            self.add_error(field if field in self.fields else None, fault.sentence)

    # ------------------------------------------------------------------------------------------------------------------

    def _check_factor(self, data: dict[str, Any]) -> None:
        if "guard_factor" in self.errors:
            return
        if data.get("rule") == "factor" and data.get("guard_factor") is None:
            self.add_error("guard_factor", _("A guard band by factor needs the factor; often 1."))
        elif data.get("rule") in ("guarded", "simple") and data.get("guard_factor") is not None:
            self.add_error(
                "guard_factor", _("The rule chosen has no factor. Leave it empty, or choose a guard band by factor.")
            )

    def _build_order(self, data: dict[str, Any]) -> None:
        try:
            self._order = _order_of(data)
        except LapwrightError as error:
            field = FIELD_OF.get(str(error.details.get("name")), str(error.details.get("name")))
            self.add_error(field if field in self.fields else None, error.sentence)


def rule_of(data: dict[str, Any]) -> DecisionRule:
    """The rule of a cleaned form."""
    if data["rule"] == "guarded":
        return DecisionRule(kind="guarded", false_accept=data["risk"] / 100.0)
    if data["rule"] == "factor":
        return DecisionRule(kind="guarded", guard_factor=data["guard_factor"])
    return DecisionRule(kind="simple")


def limits_of(data: dict[str, Any]) -> tuple[Limit, ...]:
    """The limits of a cleaned form, that of the thickness first."""
    target, tolerance = data["target_thickness"], data["tolerance"]
    limits = [Limit(quantity="thickness", lower=target - tolerance, upper=target + tolerance)]
    limits += [
        Limit(quantity=quantity, upper=data[field])
        for field, quantity in UPPER_LIMITS.items()
        if data[field] is not None
    ]
    return tuple(limits)


# ----------------------------------------------------------------------------------------------------------------------


def _order_of(data: dict[str, Any]) -> Order:
    return Order(
        order_id=data["order_id"],
        customer=data["customer"],
        material=data["material"],
        orientation=data["orientation"],
        outline=_outline_of(data),
        quantity=data["quantity"],
        spares=data["spares"],
        start_thickness=data["start_thickness"],
        target_thickness=data["target_thickness"],
        limits=limits_of(data),
        edge_exclusion=data["edge_exclusion"],
        hold=data["hold"],
        rule=rule_of(data),
        due=data["due"],
        start_ttv=data["start_ttv"],
        start_damage=data["start_damage"] or 0.0,
        value_per_wafer=data["value_per_wafer"],
        notes=data["notes"],
    )


def _outline_of(data: dict[str, Any]) -> Outline:
    if data["shape"] == "rectangle":
        return Rectangle(width=data["width"], height=data["height"])
    flat = data["flat_length"] if data["mark"] == "flat" else 0.0
    return Round(diameter=data["diameter"], mark=data["mark"] or "none", flat_length=flat)
