"""What a request that is no order yet would cost, for the page Intake."""

from __future__ import annotations

from typing import Any

from django import template

from lapwright.app import quotations
from lapwright.app.order_outlook import Outlook
from lapwright.errors import LapwrightError
from lapwright.web.forms import OrderForm
from lapwright.web.surroundings import now

register = template.Library()


@register.inclusion_tag("lapwright/parts/request_price.html")
def request_price(outlook: Outlook | None, form: OrderForm) -> dict[str, Any]:
    """The price by the best route of the outlook; a sentence where there can be none."""
    if outlook is None or outlook.plan is None or form.order is None:
        return {"held": None, "sentence": ""}
    try:
        return {"held": quotations.reckoned(form.order, outlook.plan, on=now().date()), "sentence": ""}
    except LapwrightError as error:
        return {"held": None, "sentence": error.sentence}
