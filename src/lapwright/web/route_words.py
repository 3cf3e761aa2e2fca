"""The words of routes on pages: labels, limits, ruler drawings, and a tuning as the fields of a form."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from lapwright.process.tuning import Tuning


def label_word(label: str) -> str:
    """What a route is best at, in a word or two."""
    kind, _space, count = label.partition(" ")
    if kind == "stages":
        return ngettext("shortest in %(n)s stage", "shortest in %(n)s stages", int(count)) % {"n": count}
    return {
        "shortest": _("shortest"),
        "cheapest": _("cheapest"),
        "surest": _("surest"),
        "usual": _("usual loads and speeds"),
        "gentle": _("lowest loads"),
        "other tools": _("other tools"),
        "by hand": _("set by hand"),
    }.get(label, label)


def chance_word(limit: str) -> str:
    """A limit as it heads a chance."""
    return {
        "thickness": _("Thickness"),
        "ttv": _("TTV"),
        "wedge": _("Wedge"),
        "flatness": _("Flatness"),
        "bow": _("Bow"),
        "warp": _("Warp"),
        "roughness_ra": _("Ra"),
        "roughness_sq": _("Sq"),
        "damage": _("No damage left"),
        "breakage": _("Unbroken"),
    }.get(limit, limit)


def tuning_fields(tuning: Tuning) -> dict[str, str]:
    """A tuning as the values of the form and of the query that asks for it."""
    return {
        "tools": ";".join(f"{place}~{abrasive}" for place, abrasive in tuning.tools),
        "load_percent": f"{100.0 * tuning.load_share:.0f}",
        "speed_percent": f"{100.0 * tuning.speed_share:.0f}",
        "lap_margin": f"{tuning.lap_multiple:.2f}",
        "finish_margin": f"{tuning.finish_multiple:.2f}",
    }
