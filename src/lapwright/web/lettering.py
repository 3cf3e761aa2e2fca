"""Drawings with the words and the decimal mark of the page's language."""

from __future__ import annotations

from typing import Any

from django.utils.formats import get_format
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from lapwright.reports import drawing
from lapwright.reports.drawing import ENGLISH, Lettering


def lettering() -> Lettering:
    """What drawings of thickness maps and charts say."""
    if (get_language() or "en").startswith("en"):
        return ENGLISH
    return Lettering(
        decimal=str(get_format("DECIMAL_SEPARATOR")),
        not_measured=_("not measured"),
        thickest=_("thickest edge"),
        wedge=_("wedge"),
        o_clock=_("o'clock"),
        no_direction=_("direction cannot be told"),
        values_shown=_("{shown} of {all} values written; the rest stand in the table"),
        only_between=_("coloured between the sites only"),
        edge_exclusion=_("edge exclusion"),
        worked_face=_("seen on the worked face"),
        wafer_map=_("Thickness map"),
        site=_("site"),
    )


def wafer_map(*what: Any, **how: Any) -> str:
    """SVG of a thickness map in the language of the page."""
    return drawing.wafer_map(*what, **{"lettering": lettering()} | how)


def line_chart(*what: Any, **how: Any) -> str:
    """SVG of lines over an axis in the language of the page."""
    return drawing.line_chart(*what, **{"lettering": lettering()} | how)
