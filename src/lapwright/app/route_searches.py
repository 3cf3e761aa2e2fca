"""Routes searched beside the pages: shown when they are found, asked for while they are not; no page waits for them.

The planner's process (`queue_planner`) makes the searches that are wanted, the one asked for last first. What was found
is kept under the mark of its question, so that the same question is searched once, whoever asks and after a restart.
Where no pages are served everything is searched on the spot.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from datetime import datetime, timedelta

from lapwright.app import queue_kept, queue_planner, route_questions, routes, wiring
from lapwright.app.route_kept import Findings
from lapwright.app.route_questions import Asked
from lapwright.app.route_work import MOST_TRIES
from lapwright.errors import CannotAnswer, LapwrightError
from lapwright.model.route_search import RouteSearch

TRIED_AGAIN = timedelta(seconds=60.0)
STILL_ASKED = timedelta(seconds=3.0)  # between two notes that somebody still asks


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What there is of a search: what was found, or why nothing was; neither while it goes on or was given up."""

    findings: Findings | None = None
    refusal: LapwrightError | None = None
    is_given_up: bool = False

    @property
    def is_going(self) -> bool:
        """Whether somebody searches, or will."""
        return self.findings is None and self.refusal is None and not self.is_given_up


def look(asked: Asked, now: datetime) -> Seen:
    """What was found, at once; what was not is asked for."""
    if not wiring.is_serving():
        return _on_the_spot(asked)
    from lapwright.records import route_searches

    row = route_searches.search(asked.mark)
    seen = None if row is None else _seen(row, asked)
    if seen is not None and not seen.is_going and not (seen.is_given_up and _is_forgiven(row, now)):
        return seen
    if row is None or row.made_at is not None or row.tries >= MOST_TRIES:
        route_searches.want(asked.mark, asked.told, now, is_typed=asked.is_typed)
    elif now - row.asked_at > STILL_ASKED:
        route_searches.ask_again(asked.mark, now)
    queue_planner.wake()
    return Seen()


def ahead(order_id: str, now: datetime) -> None:
    """Have the routes of an order searched before anybody looks at them, unless one is chosen already."""
    if not wiring.is_serving() or routes.chosen_route(order_id) is not None:
        return
    with contextlib.suppress(LapwrightError):  # whoever looks at the page is told
        look(route_questions.ask(order_id), now)


# ----------------------------------------------------------------------------------------------------------------------


def _on_the_spot(asked: Asked) -> Seen:
    try:
        return Seen(findings=asked.search())
    except CannotAnswer as error:
        return Seen(refusal=error)


def _seen(row: RouteSearch, asked: Asked) -> Seen:
    if row.made_at is None:
        is_left = row.tries >= MOST_TRIES and (row.begun_at is None or not queue_planner.is_at_work())
        return Seen(is_given_up=is_left)
    if row.refusal is not None:
        return Seen(refusal=queue_kept.refusal_of(row.refusal))
    return Seen(findings=asked.kept)


def _is_forgiven(row: RouteSearch | None, now: datetime) -> bool:
    """Whether what was given up is tried once more: memory or disk may be free again."""
    return row is not None and now - row.asked_at > TRIED_AGAIN
