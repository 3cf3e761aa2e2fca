"""Sentences made below the pages and dates, as the language of the page has them; known to every template.

The filter `date` is Django's own, but for the order and points of day and month, which the catalogue gives.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any

from django import template
from django.template import defaultfilters
from django.utils.timezone import get_current_timezone_name
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from lapwright.web.moments import moments_said
from lapwright.web.sentences import day_form, decimal
from lapwright.web.sentences import said as sentence_said

register = template.Library()

MOST_SAID = 20_000  # sentences of which is kept how they are said; some megabytes
#: What one version set otherwise than another: "load 2.0 → 2.4 kg".
_CHANGE = re.compile(r"(.+?) (none|[\u2212\d.,]+[^→]*|\S+) → (.+)")


#: A chance printed to one decimal that rounds to nothing or to certainty, and what it is then.
_CERTAIN = re.compile(r"(?<![\d.,])(0|100)([.,])0(?=%)")
_PER_CENT = re.compile(r"(?<=\d)%(?!\w)")


@register.filter
def said(text: Any) -> Any:
    """A sentence in the language of the page, its days, times and shares as the page says them; else as it is."""
    if type(text) is str:  # plain, and so said alike on every page of a language and a zone
        return _said(text, get_language(), get_current_timezone_name())
    told = sentence_said(text)
    return shares_said(moments_said(told)) if isinstance(told, str) and not hasattr(told, "__html__") else told


@lru_cache(maxsize=MOST_SAID)
def _said(text: str, _language: str | None, _zone: str) -> str:
    return shares_said(moments_said(sentence_said(text)))


def shares_said(text: str) -> str:
    """A sentence with a space before its per cent signs, true signs, and no chance that is nothing or certain.

    >>> shares_said("The chance of being outside is 0.0%, at most the agreed 2.0%.").replace("\u00a0", " ")
    'The chance of being outside is < 0.1 %, at most the agreed 2.0 %.'
    """
    text = _CERTAIN.sub(lambda found: f"<\u00a00{found[2]}1" if found[1] == "0" else f">\u00a099{found[2]}9", text)
    return _PER_CENT.sub("\u00a0%", text).replace("x/÷", "×/÷")


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
