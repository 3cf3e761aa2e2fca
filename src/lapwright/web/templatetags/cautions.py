"""The cautions of a step, on the pages on which it is done."""

from __future__ import annotations

from django import template

from lapwright.app import cautions

register = template.Library()


@register.inclusion_tag("lapwright/parts/cautions.html")
def wafer_cautions(wafer_id: str | None) -> dict[str, tuple[str, ...]]:
    """What can hurt whoever measures this wafer; any wafer while it is not said which."""
    return {"cautions": cautions.when_measuring_wafer(str(wafer_id or ""))}


@register.inclusion_tag("lapwright/parts/cautions.html")
def plate_cautions() -> dict[str, tuple[str, ...]]:
    """What can hurt whoever handles a plate."""
    return {"cautions": cautions.at_plate()}
