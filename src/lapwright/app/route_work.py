"""Making the searches for routes that pages have asked for: what the planner does beside its schedules."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from lapwright.app import queue_kept, route_questions, typed_routes
from lapwright.app.route_kept import packed
from lapwright.app.route_questions import Aim, Asked
from lapwright.errors import LapwrightError

MOST_TRIES = 3  # a search begun so often without an end is left until it is asked for after a rest
TYPED_ON = timedelta(seconds=10.0)  # after which nobody asks any more for what was typed

_log = logging.getLogger(__name__)


def is_wanted(now: datetime) -> bool:
    """Whether a search waits for being made."""
    from lapwright.records import route_searches

    return route_searches.next_wanted(most_tries=MOST_TRIES, typed_after=now - TYPED_ON) is not None


def work_one(is_ours: Callable[[], bool] = lambda: True) -> bool:
    """Make the search that was asked for last; False when nothing is wanted.

    `is_ours` is asked before anything is put down: another may have taken over.
    """
    from lapwright.records import route_searches

    now = datetime.now(UTC)
    wanted = route_searches.next_wanted(most_tries=MOST_TRIES, typed_after=now - TYPED_ON)
    if wanted is None:
        return False
    route_searches.begin(wanted.key, wanted.tries + 1, now)
    try:
        asked = _asked(wanted.question)
        found = None if _is_made(asked.mark) else _searched(asked)
    except Exception:  # noqa: BLE001  whatever it is, the planner goes on and the page says so
        _log.exception("a search for routes failed")
        route_searches.begin(wanted.key, MOST_TRIES, now)
        return True
    if not is_ours():
        return True
    if asked.mark != wanted.key:
        route_searches.drop(wanted.key)  # something was recorded since: nobody comes back for this one
    if found is not None:
        data, refusal = found
        route_searches.put(asked.mark, wanted.question, made_at=datetime.now(UTC), data=data, refusal=refusal)
    return True


# ----------------------------------------------------------------------------------------------------------------------


def _is_made(mark: str) -> bool:
    """Whether it was found in the meantime, wanted with what was recorded since."""
    from lapwright.records import route_searches

    row = route_searches.search(mark)
    return row is not None and row.made_at is not None


def _searched(asked: Asked) -> tuple[bytes | None, dict[str, Any] | None]:
    """What was found, or why nothing was."""
    try:
        return packed(asked.search()), None
    except LapwrightError as error:
        return None, queue_kept.refusal_plain(error)


def _asked(question: Mapping[str, Any]) -> Asked:
    """A question from the JSON by which it can be asked anew."""
    if "terms" in question:
        return typed_routes.asked_again(question)
    return route_questions.ask(
        question["order"],
        Aim(
            objective=question["objective"], target_chance=question["target_chance"], wafer_id=question["wafer"]
        ),
    )  # fmt: skip
