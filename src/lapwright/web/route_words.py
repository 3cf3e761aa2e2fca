"""The words of routes on pages: labels, limits, ruler drawings, and a tuning as the fields of a form."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from pydantic import ValidationError

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


def hand_faults(error: ValidationError) -> str:
    """What is wrong with a route set by hand, field by field: what was found, what is expected, what to do."""
    told = []
    for one in error.errors():
        name = str(one["loc"][0]) if one["loc"] else ""
        word, expected = _hand_words().get(name, (name, ""))
        found = str(one["input"])[:40] if one["type"] != "missing" else ""
        told.append(
            _("%(field)s: found “%(found)s”, expected %(expected)s. Set it anew.")
            % {"field": word, "found": found, "expected": expected}
        )
    return " ".join(told)


def _hand_words() -> dict[str, tuple[str, str]]:
    """The fields of a route set by hand: what they are called on the page, and what they take."""
    return {
        "tools": (_("Plates and abrasives"), _("one of the list, as place~abrasive with ; between them")),
        "load_percent": (
            _("Load, from the lowest usual to the highest"), _("a number from 0 to 100 in %(unit)s") % {"unit": "%"},
        ),
        "speed_percent": (_("Speed, of the usual"), _("a number from 50 to 150 in %(unit)s") % {"unit": "%"}),
        "lap_margin": (
            _("Margin of the laps on the damage before"), _("a factor from 1 to 8, without a unit"),
        ),
        "finish_margin": (
            _("Margin of the last stage on the damage before"), _("a factor from 1 to 8, without a unit"),
        ),
    }  # fmt: skip
