"""Words of the Board."""

from __future__ import annotations

from datetime import datetime

from django import template
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from lapwright.app.queue_shop import laboratory_zone
from lapwright.app.queue_words import length
from lapwright.process.queue_measures import Reached
from lapwright.web.board_forms import KINDS, MOMENT
from lapwright.web.sentences import day_form

register = template.Library()


@register.simple_tag
def board_clock(seconds: float) -> str:
    """A moment by the laboratory's clock, with its day."""
    moment = datetime.fromtimestamp(seconds, tz=laboratory_zone())
    return f"{date_format(moment, day_form('D j M'))} {moment:%H:%M}"


@register.simple_tag
def board_time(seconds: float) -> str:
    """A moment as a box for moments takes it."""
    return datetime.fromtimestamp(seconds, tz=laboratory_zone()).strftime(MOMENT)


@register.simple_tag
def board_zone() -> str:
    """The zone of the laboratory's clock."""
    return laboratory_zone().key


@register.simple_tag
def board_kind(kind: str) -> str:
    """A kind of place in words."""
    return str(dict(KINDS)[kind])


@register.simple_tag
def board_aim(reached: Reached) -> str:
    """What was reached in one aim, and how near the best that is."""
    names = {
        "lateness": _("lateness, weighed"), "moves": _("tasks out of their order"), "changeovers": _("changeovers"),
        "makespan": _("all done after"),
    }  # fmt: skip
    is_time = reached.aim in ("lateness", "makespan")
    value, bound = (length(each) if is_time else f"{each:.0f}" for each in (reached.value, reached.bound))
    if reached.gap == 0.0:
        return _("%(name)s %(value)s, proved best") % {"name": names[reached.aim], "value": value}
    return _("%(name)s %(value)s (at best %(bound)s)") % {"name": names[reached.aim], "value": value, "bound": bound}
