"""How old the Board is that is shown, what was recorded since, and how far the next one is."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from lapwright.app.queue_drafts import Seen
from lapwright.app.queue_words import length
from lapwright.web.sentences import day_form

_ALMOST = 0.95  # of the bar; the last piece is only told by the plan being there


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanState:
    """The sentences of it, the bar's share [1] (None without), and what tells the script when to look and reload."""

    made: str
    since: str
    working: str
    share: float | None
    shown: str
    is_old: bool
    is_going: bool
    is_given_up: bool
    is_asked: bool

    @property
    def is_told(self) -> bool:
        """Whether it stands out: there is no plan yet, or something was recorded since, not only time passed."""
        return not self.made or bool(self.since) or self.is_given_up


def plan_state(seen: Seen, now: datetime, *, is_asked: bool = False) -> PlanState:
    """What is told of a draft; `is_asked` when it answers a question."""
    draft = seen.draft
    made = None if draft is None or seen.board is None else draft.made_at
    begun = None if draft is None else draft.begun_at
    took = None if draft is None else draft.took
    passed = None if begun is None else max(0.0, (now - begun).total_seconds())
    share = None if passed is None or not took else min(_ALMOST, passed / took)
    return PlanState(
        made="" if made is None else _moment(made),
        since="" if seen.is_current else since_words(seen.since),
        working=_working(begun, took) if seen.is_planned else "",
        share=share,
        shown=seen.shown,
        is_old=seen.board is not None and not seen.is_current,
        is_going=not seen.is_current and not seen.is_given_up,
        is_given_up=seen.is_given_up,
        is_asked=is_asked,
    )


def since_words(since: Mapping[str, int] | None) -> str:
    """What was recorded since, counted; empty for nothing."""
    if since is None:
        return _("more than is counted here")
    left = dict(since)
    if "waferevent" in left:
        left.pop("wafer", None)
    named: dict[str, Callable[[int], str]] = {
        "order": lambda n: ngettext("%(n)d order", "%(n)d orders", n),
        "route": lambda n: ngettext("%(n)d route", "%(n)d routes", n),
        "waferevent": lambda n: ngettext("%(n)d step of a wafer", "%(n)d steps of wafers", n),
        "run": lambda n: ngettext("%(n)d run", "%(n)d runs", n),
        "bond": lambda n: ngettext("%(n)d bonding", "%(n)d bondings", n),
        "stage": lambda n: ngettext("%(n)d stage", "%(n)d stages", n),
        "boardsetting": lambda n: ngettext("%(n)d setting of the Board", "%(n)d settings of the Board", n),
        "boardplan": lambda n: ngettext("%(n)d accepted schedule", "%(n)d accepted schedules", n),
    }
    parts = [words(left[name]) % {"n": left.pop(name)} for name, words in named.items() if name in left]
    others = sum(left.values())
    if others:
        parts.append(ngettext("%(n)d other record", "%(n)d other records", others) % {"n": others})
    if len(parts) < 2:
        return "".join(parts)
    return _("%(list)s and %(last)s") % {"list": ", ".join(parts[:-1]), "last": parts[-1]}


# ----------------------------------------------------------------------------------------------------------------------


def _working(begun: datetime | None, took: float | None) -> str:
    if begun is None:
        return _("It will be worked out in a moment.")
    since = f"{timezone.localtime(begun):%H:%M:%S}"
    if took is None:
        return _("It is being worked out since %(since)s.") % {"since": since}
    last = f"{took:.0f}\u00a0s" if took < 100.0 else length(took)
    return _("It is being worked out since %(since)s; the last time that took %(last)s.") % {
        "since": since,
        "last": last,
    }


def _moment(at: datetime) -> str:
    local = timezone.localtime(at)
    return f"{date_format(local, day_form('D j M'))} {local:%H:%M}"
