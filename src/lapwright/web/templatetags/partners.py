"""Which carrier goes with which wafer, for templates."""

from __future__ import annotations

import math
from typing import Any

from django import template
from django.utils.translation import gettext as _

from lapwright.app import partners
from lapwright.model.story import WaferStory
from lapwright.process.partners import Partner
from lapwright.web.sentences import decimal

register = template.Library()


@register.inclusion_tag("lapwright/parts/partners.html")
def carriers_for(story: WaferStory) -> dict[str, Any]:
    """The carriers for one wafer; nothing once it is bonded."""
    waits = story.wafer.state in partners.BEFORE_BOND
    return {"one": partners.pairing(story.wafer.wafer.wafer_id) if waits else None}


@register.simple_tag
def pairings() -> tuple[partners.Pairing, ...]:
    """The carriers for all wafers that wait for one."""
    return partners.pairings()


@register.filter
def turn_words(partner: Partner) -> str:
    """What to do with a carrier, in a sentence: turn it so far, and what becomes of the wedge."""
    told = {
        "c": partner.carrier_id,
        "a": round(math.degrees(partner.turn)) % 360,
        "before": decimal(f"{partner.unturned * 1e6:.2f}"),
        "after": decimal(f"{partner.wedge.amount * 1e6:.2f}"),
    }
    if not told["a"]:
        return _("Carrier %(c)s, mark on mark: the pair then has a wedge of %(after)s µm.") % told
    return _("Carrier %(c)s: turn it by %(a)s°, and the wedge falls from %(before)s to %(after)s µm.") % told


@register.filter
def degrees(turn: float) -> str:
    """A turn [rad] in whole degrees."""
    return f"{round(math.degrees(turn)) % 360}°"
