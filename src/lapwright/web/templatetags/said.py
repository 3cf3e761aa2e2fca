"""Sentences made below the pages and dates, as the language of the page has them; known to every template.

The filter `date` is Django's own, but for the order and points of day and month, which the catalogue gives.
"""

from __future__ import annotations

from typing import Any

from django import template
from django.template import defaultfilters

from lapwright.web.sentences import day_form, said

register = template.Library()
register.filter("said", said)


@register.filter(expects_localtime=True)
def date(value: Any, form: str | None = None) -> str:
    """A date or time by a format of Django's, its day and month as the language writes them."""
    return str(defaultfilters.date(value, None if form is None else day_form(form)))
