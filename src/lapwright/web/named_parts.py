"""Words for the parts that a sum is made of: the lines of a quotation, the reasons of a rate."""

from __future__ import annotations

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from lapwright.reports.words.quotation import QUOTATION_ENGLISH, QUOTATION_GERMAN


def line_word(name: str) -> str:
    """A line of a quotation by its word in the reader's language; a stage that has none as it is named."""
    words = QUOTATION_GERMAN if get_language() == "de" else QUOTATION_ENGLISH
    return words.get(f"line_{name}", name)


def reason_word(name: str) -> str:
    """A reason of a rate in the words of the page."""
    words = {
        "this lab's level": _("this lab's level"),
        "pressure": _("pressure"),
        "speed": _("speed"),
        "this station": _("this station"),
        "this plate": _("this plate or pad"),
        "this abrasive lot": _("this abrasive lot"),
        "age of pad or dressing": _("age of the pad, or since dressing"),
        "age of slurry": _("age of the slurry"),
    }
    return words.get(name, name)
