"""The link from a computed number to its formula, inputs, source and uncertainty."""

from __future__ import annotations

from urllib.parse import urlencode

from django import template
from django.template import Context
from django.urls import reverse

from lapwright.web.why import WHY

register = template.Library()


@register.inclusion_tag("lapwright/parts/why.html", takes_context=True)
def why(context: Context, name: str) -> dict[str, object]:
    """A small link “why?” that leads to what is known of a number, and from there back to this page."""
    request = context.get("request")
    back = "" if request is None else f"?{urlencode({'from': request.get_full_path()})}"
    return {"address": f"{reverse('why', args=[name])}{back}", "title": WHY[name].title}
