"""The form by which the terms of an order under way are changed: only what may change, filled with what stands."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from lapwright.errors import LapwrightError
from lapwright.model.order import Limit, Order
from lapwright.web.forms import FIELD_OF, UPPER_LIMITS, OrderForm, limits_of, rule_of
from lapwright.web.order_fields import order_fields

#: What another order is for: the pieces themselves.
FIXED = (
    "order_id", "quantity", "spares", "wafer_names", "material", "orientation", "shape", "diameter", "mark",
    "flat_length", "width", "height", "start_thickness", "start_ttv", "start_damage", "copied_from",
)  # fmt: skip


class ChangeForm(OrderForm):
    """New terms of a known order, with what was agreed."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(
        label=_("What was agreed, with whom"), max_length=500, help_text=_("For example: mail of the customer, 27 Nov.")
    )

    CHOSEN = ("guard_factor",)
    GROUPS = (
        (_("Who, and when"), ("customer", "due", "value_per_wafer")),
        (_("To which thickness"), ("target_thickness", "tolerance")),
        (_("Within which limits"), tuple(UPPER_LIMITS)),
        (_("Judged how"), ("edge_exclusion", "hold", "rule", "risk", "guard_factor", "notes")),
        (_("Why it changes"), ("reason",)),
    )

    def __init__(self, *args: Any, known: Order, **options: Any) -> None:
        super().__init__(*args, materials=(), **options)
        self._known = known
        for name in FIXED:
            del self.fields[name]

    def _build_order(self, data: dict[str, Any]) -> None:
        """The known order with the new terms; limits that the form does not ask for stay."""
        known = self._known
        asked = {"thickness", *UPPER_LIMITS.values()}
        before = order_fields(known)
        same = all(str(self.data.get(name, "")) == str(before[name]) for name in ("target_thickness", "tolerance"))
        try:
            limits = limits_of(data)
            thickness = known.limit("thickness")
            if same and thickness is not None:  # a range that is no ± of the target stays as it is
                limits = (thickness, *limits[1:])
            kept: tuple[Limit, ...] = tuple(one for one in known.limits if one.quantity not in asked)
            self._order = replace(
                known,
                customer=data["customer"],
                due=data["due"],
                value_per_wafer=data["value_per_wafer"],
                target_thickness=known.target_thickness if same else data["target_thickness"],
                limits=_in_order((*limits, *kept), known),
                edge_exclusion=data["edge_exclusion"],
                hold=data["hold"],
                rule=rule_of(data),
                notes=data["notes"],
            )
        except LapwrightError as error:
            field = FIELD_OF.get(str(error.details.get("name")), str(error.details.get("name")))
            self.add_error(field if field in self.fields else None, error.sentence)


def change_start(order: Order, version: int) -> dict[str, Any]:
    """What the form opens with: the terms as they stand."""
    return {**order_fields(order), "due": order.due, "version": version}


# ----------------------------------------------------------------------------------------------------------------------


def _in_order(limits: tuple[Limit, ...], known: Order) -> tuple[Limit, ...]:
    """Limits in the order that the known ones have, new ones last; equal ones are the very same."""
    place = {one.quantity: number for number, one in enumerate(known.limits)}
    held = {one.quantity: one for one in known.limits}
    near = [_same(held.get(one.quantity), one) for one in limits]
    return tuple(sorted(near, key=lambda one: place.get(one.quantity, len(place))))


def _same(held: Limit | None, typed: Limit) -> Limit:
    """The held limit when what was typed is the same to a part in 10⁹: a text carries no more."""
    if held is None or (held.lower is None) != (typed.lower is None) or (held.upper is None) != (typed.upper is None):
        return typed
    pairs = ((held.lower, typed.lower), (held.upper, typed.upper))
    alike = all(a is None or b is None or abs(a - b) <= 1e-9 * max(abs(a), abs(b)) for a, b in pairs)
    return held if alike else typed
