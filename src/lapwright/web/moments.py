"""Days and times as the pages show them: by the clock of the laboratory, in the words of the page's language.

The layers below know no zone and write "2026-11-09 07:10 UTC" and "2027-08-16", which stays so in records, JSON and
logs. On a page the same moment must not stand in two ways, so such a time in a sentence is said as all others there.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime

from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import get_language

from lapwright.web.sentences import day_form

#: A day, or a moment of universal time, in a sentence; not within a name, and not as somebody typed it.
_WRITTEN = re.compile(r"(?<![\w'\"“./:-])(\d{4}-\d\d-\d\d)(?: (\d\d:\d\d)(?::\d\d)? UTC)?(?![\w'\"”/-]|[.:]\w)")
#: A moment by the laboratory's clock, as the reasons of the Board write it: "Mon 23.11. 11:55".
_SHORT = re.compile(r"\b(Mon|Tue|Wed|Thu|Fri|Sat|Sun) (\d\d)\.(\d\d)\. (?=\d\d:\d\d)")
_MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]


def when_said(at: datetime, form: str = "j M Y H:i") -> str:
    """A moment by the laboratory's clock."""
    return date_format(localtime(at), day_form(form))


def moments_said(text: str) -> str:
    """A sentence with its days and times as the page says them."""
    if (get_language() or "en").startswith("en"):
        text = _SHORT.sub(_short, text)
    return _WRITTEN.sub(_written, text)


# ----------------------------------------------------------------------------------------------------------------------


def _written(found: re.Match[str]) -> str:
    try:
        day = date.fromisoformat(found[1])
        if found[2] is None:
            return date_format(day, day_form("j M Y"))
        return when_said(datetime.fromisoformat(f"{found[1]} {found[2]}").replace(tzinfo=UTC))
    except ValueError:  # no day of the calendar: somebody's number
        return found[0]


def _short(found: re.Match[str]) -> str:
    number = int(found[3])
    if not 1 <= number <= len(_MONTHS):
        return found[0]
    return f"{found[1]} {int(found[2])} {_MONTHS[number - 1]} "
