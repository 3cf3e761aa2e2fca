"""Whether a gauge may be used, as pages mark it."""

from __future__ import annotations

from django import template
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from lapwright.model.gauge_care import Fitness
from lapwright.web.templatetags.lapwright import mark

register = template.Library()


@register.simple_tag
def may_use(fitness: Fitness) -> SafeString:
    """The mark and the word for it."""
    if fitness.may_use == "yes":
        return mark("done", _("may be used"))
    if fitness.may_use == "flagged":
        return mark("late", _("its sets are flagged"))
    return mark("late", _("takes no new sets"))
