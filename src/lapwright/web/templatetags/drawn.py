"""Parts of a page that hang on nothing but what they are given: drawn once, kept while they are as they were."""

from __future__ import annotations

from collections.abc import Hashable
from functools import lru_cache

from django import template
from django.template.loader import render_to_string
from django.urls import get_script_prefix
from django.utils.safestring import SafeString
from django.utils.timezone import get_current_timezone_name
from django.utils.translation import get_language

register = template.Library()
MOST_PARTS = 3000  # of which is kept how they are drawn


@register.simple_tag
def drawn_once(part: str, **given: Hashable) -> SafeString:
    """The template of a part with what it is given, in the language and zone of the page.

    For long lists, whose lines mostly stay as they were; the part may ask nothing besides what it is given.
    """
    return _drawn(part, tuple(given.items()), get_language(), get_current_timezone_name(), get_script_prefix())


# ----------------------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=MOST_PARTS)
def _drawn(
    part: str, given: tuple[tuple[str, Hashable], ...], _language: str | None, _zone: str, _prefix: str
) -> SafeString:
    return render_to_string(part, dict(given))
