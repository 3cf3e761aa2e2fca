"""What the lab's runs say of a stage to come, as a part of the page of a wafer."""

from __future__ import annotations

from django import template
from django.utils.translation import gettext as _

from lapwright.app import learning
from lapwright.app.runs import NextStage
from lapwright.web.named_parts import reason_word
from lapwright.web.sentences import decimal
from lapwright.web.surroundings import now

register = template.Library()
RATE_UNIT = 60e6  # µm/min in a m/s
_SHORT = 600.0  # s; below, tenths of a minute count


@register.inclusion_tag("lapwright/parts/learned_run.html")
def learned_run(stage: NextStage | None, material: str) -> dict[str, object]:
    """Rate, time, suggested preset and pad of the next run; nothing when it is no run."""
    found = None if stage is None else learning.next_run(stage, material, at=now())
    return {"found": found, "stage": stage}


@register.filter
def per_minute(rate: float | None) -> str:
    """A rate in µm/min with three digits that count, without its unit."""
    return "–" if rate is None else decimal(f"{rate * RATE_UNIT:#.3g}")


@register.filter
def factor(value: float) -> str:
    """A factor with two decimals."""
    return decimal(f"{value:.2f}")


@register.filter
def first_sentence(text: str) -> str:
    """The first of several sentences."""
    first, dot, _rest = text.partition(". ")
    return first + dot.rstrip()


@register.filter
def span(time: float) -> str:
    """A time in minutes; tenths of them where it is short."""
    digits = 1 if time < _SHORT else 0
    return _("%(t)s min") % {"t": decimal(f"{time / 60.0:.{digits}f}")}


register.filter("reason_word", reason_word)
