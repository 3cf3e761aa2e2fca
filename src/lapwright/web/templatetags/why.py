"""The link from a computed number to its formula, inputs, source and uncertainty."""

from __future__ import annotations

import re
from functools import cache
from urllib.parse import urlencode

from django import template
from django.template import Context
from django.urls import get_script_prefix, reverse
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from lapwright.web.why import WHY

register = template.Library()
#: An index after an underscore, a power after a caret: one word, or what stands in brackets.
_BELOW = re.compile(r"(?<=[\w̄σ])_(?:\{([^{}]*)\}|(\w+))")
_ABOVE = re.compile(r"\^(?:\{([^{}]*)\}|(\w+))")


@register.simple_tag(takes_context=True)
def why(context: Context, name: str, of: object = "") -> SafeString:
    """A small link “why?” that leads to how a number came about, and from there back to this page.

    `of` says which one, where the page shows several of the kind: the key of a set, a verdict, a lot.
    """
    request = context.get("request") or getattr(context, "request", None)  # the latter inside a part of a page
    asked = {} if request is None else {"from": request.get_full_path()}
    if of not in ("", None):
        asked["of"] = str(of)
    tail = f"?{urlencode(asked)}" if asked else ""
    address, told = _told(name, get_language(), get_script_prefix())
    return format_html('<a class="why" href="{}{}" {}</a>', address, tail, told)


@cache
def _told(name: str, _language: str | None, _prefix: str) -> tuple[str, SafeString]:
    """Where such a link leads, and what it says, as the end of its tag, in the language of the page."""
    label = _("Why? %(title)s: formula, inputs, source, uncertainty") % {"title": WHY[name].title}
    return reverse("why", args=[name]), format_html('aria-label="{}">{}', label, _("why?"))


@register.simple_tag
def why_of(name: str, back: str, of: object) -> str:
    """The address of the same why for another of its kind."""
    return f"{reverse('why', args=[name])}?{urlencode({'from': back, 'of': of})}"


@register.filter
def typeset(formula: str) -> SafeString:
    """A formula with its indices below and its powers above the line, letters as they are written."""
    text = _BELOW.sub(lambda found: f"<sub>{found[1] or found[2]}</sub>", conditional_escape(formula))
    return mark_safe(_ABOVE.sub(lambda found: f"<sup>{found[1] or found[2]}</sup>", text))  # noqa: S308  # escaped above
