"""Sentences made below the pages and dates, as the language of the page has them; known to every template.

The filter `date` is Django's own, but for the order and points of day and month, which the catalogue gives.
"""

from __future__ import annotations

import re
from typing import Any

from django import template
from django.template import defaultfilters
from django.utils.translation import gettext as _

from lapwright.web.sentences import day_form, decimal, said

register = template.Library()
register.filter("said", said)

#: What one version set otherwise than another: "load 2.0 → 2.4 kg".
_CHANGE = re.compile(r"(.+?) (none|[\u2212\d.,]+[^→]*|\S+) → (.+)")


@register.filter
def changed(text: str) -> str:
    """A change of a setting or a price, its word and numbers as the language of the page has them."""
    found = _CHANGE.fullmatch(text)
    if found is None:
        return str(said(text))
    old, new = (_("none") if side == "none" else decimal(side) for side in found.groups()[1:])
    return f"{said(found[1])} {old} → {new}"


@register.filter(expects_localtime=True)
def date(value: Any, form: str | None = None) -> str:
    """A date or time by a format of Django's, its day and month as the language writes them."""
    return str(defaultfilters.date(value, None if form is None else day_form(form)))
