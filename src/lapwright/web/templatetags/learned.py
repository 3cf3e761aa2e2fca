"""What the lab's runs say of a stage to come, as a part of the page of a wafer."""

from __future__ import annotations

from django import template

from lapwright.app import learning
from lapwright.app.runs import NextStage

register = template.Library()
#: What the reasons of a rate are called on a page, by what the process model calls them.
RATE_UNIT = 60e6


@register.inclusion_tag("lapwright/parts/learned_run.html")
def learned_run(stage: NextStage | None, material: str) -> dict[str, object]:
    """Rate, time, suggested preset and pad of the next run; nothing when it is no run."""
    found = None if stage is None else learning.next_run(stage, material)
    return {"found": found, "stage": stage}


@register.filter
def per_minute(rate: float | None) -> str:
    """A rate in µm/min with three digits that count, without its unit."""
    return "–" if rate is None else f"{rate * RATE_UNIT:#.3g}"


@register.filter
def factor(value: float) -> str:
    """A factor with two decimals."""
    return f"{value:.2f}"
