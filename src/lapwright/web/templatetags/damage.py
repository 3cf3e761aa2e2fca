"""Whether a finished polish ran long enough, in words: on Damage and beside its stage on the page of a wafer."""

from __future__ import annotations

from django import template
from django.utils.translation import gettext as _

from lapwright.app.wafer_damage import DamageView, damage_view
from lapwright.model.order import Order
from lapwright.model.story import WaferStory
from lapwright.web.templatetags.lapwright import minutes, share

register = template.Library()


@register.filter
def finished_polish(story: WaferStory) -> int | None:
    """The number of the last stage that takes something off, where it is a polish that is done."""
    last = next((one for one in reversed(story.stages) if one.stage.removal > 0.0 and one.state != "skipped"), None)
    return last.stage_id if last is not None and last.state == "done" and last.stage.kind == "polish" else None


@register.inclusion_tag("lapwright/parts/polish_line.html")
def polish_line(story: WaferStory, order: Order) -> dict[str, object]:
    """The line beside the finished polish of a wafer."""
    view = damage_view(story, start_damage=order.start_damage)
    return {"view": view, "order_id": order.order_id, "wafer_id": story.wafer.wafer.wafer_id}


@register.filter
def at_least_a_minute(time: float) -> str:
    """A time in minutes, where "0 min" would say that nothing is missing."""
    return _("less than 1 min") if 0.0 < time < 60.0 else minutes(time)


@register.filter
def polish_words(view: DamageView) -> str:
    """The finished polish held against the time it needed; empty while it goes on or where it cannot be told."""
    if view.polished is None or view.clear is None or view.shortfall is None:
        return ""
    said = {
        "early": at_least_a_minute(view.shortfall),
        "ran": minutes(view.ran),
        "needed": minutes(view.clear.time),
        "low": minutes(view.clear.low),
        "high": minutes(view.clear.high),
        "chance": share(view.chance_left),
    }
    if view.polished == "too_short":
        sentence = _("Stopped %(early)s early: it ran %(ran)s of %(needed)s.") % said
    else:
        sentence = _("Nothing more needed: it ran %(ran)s, %(needed)s were needed.") % said
    band = _("The last damage goes between %(low)s and %(high)s of polishing (90 %%).") % said
    return f"{sentence} {band} {_('Chance that damage remains now: %(chance)s.') % said}"
