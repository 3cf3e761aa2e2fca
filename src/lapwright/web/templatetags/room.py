"""What is on a station, in words."""

from __future__ import annotations

from django import template
from django.utils.translation import gettext as _

from lapwright.model.shelf import Station
from lapwright.web.board_forms import KINDS
from lapwright.web.words import tool_name

register = template.Library()


@register.filter
def on_it_words(station: Station) -> str:
    """What is done there and with what."""
    kind = str(dict(KINDS).get(station.kind, station.kind))
    tool = tool_name(station.abrasive, station.plate)
    return _("%(kind)s, %(tool)s") % {"kind": kind, "tool": tool} if tool else kind
