"""Routes searched beside the pages: shown when they are found, asked for while they are not; no page waits for them.

The planner's process (`queue_planner`) makes the searches that are wanted, the one asked for last first. What was found
is kept under the mark of its question, so that the same question is searched once, whoever asks and after a restart.
Where no pages are served everything is searched on the spot.
"""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from threading import Lock
from typing import Any

from lapwright.app import order_outlook, queue_kept, queue_planner, route_questions, routes, wiring
from lapwright.app.route_kept import Findings, packed, unpacked
from lapwright.app.route_questions import Aim, Asked
from lapwright.errors import CannotAnswer, LapwrightError
from lapwright.model.route_search import RouteSearch

MOST_TRIES = 3  # a search begun so often without an end is left until it is asked for after a rest
TRIED_AGAIN = timedelta(seconds=60.0)
STILL_ASKED = timedelta(seconds=3.0)  # between two notes that somebody still asks
TYPED_ON = timedelta(seconds=10.0)  # after which nobody asks any more for what was typed
MOST_READY = 64  # findings unpacked in memory

_log = logging.getLogger(__name__)
_ready: dict[str, Findings] = {}
_lock = Lock()


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


def kept(asked: Asked) -> Findings | None:
    """What was found before for the very same question; None for nothing, and where no pages are served."""
    if not wiring.is_serving():
        return None
    with _lock:
        ready = _ready.get(asked.mark)
    if ready is not None:
        return ready
    from lapwright.records import route_searches

    found = unpacked(route_searches.data_of(asked.mark), asked.setting)
    return None if found is None else _made_ready(asked.mark, found)


def ahead(order_id: str, now: datetime) -> None:
    """Have the routes of an order searched before anybody looks at them, unless one is chosen already."""
    if not wiring.is_serving() or routes.chosen_route(order_id) is not None:
        return
    with contextlib.suppress(LapwrightError):  # whoever looks at the page is told
        look(route_questions.ask(order_id), now)


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


def _on_the_spot(asked: Asked) -> Seen:
    try:
        return Seen(findings=asked.search())
    except CannotAnswer as error:
        return Seen(refusal=error)


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
        return order_outlook.asked_again(question)
    return route_questions.ask(
        question["order"],
        Aim(
            objective=question["objective"], target_chance=question["target_chance"], wafer_id=question["wafer"]
        ),
    )  # fmt: skip


def _seen(row: RouteSearch, asked: Asked) -> Seen:
    if row.made_at is None:
        is_left = row.tries >= MOST_TRIES and (row.begun_at is None or not queue_planner.is_at_work())
        return Seen(is_given_up=is_left)
    if row.refusal is not None:
        return Seen(refusal=queue_kept.refusal_of(row.refusal))
    return Seen(findings=kept(asked))


def _is_forgiven(row: RouteSearch | None, now: datetime) -> bool:
    """Whether what was given up is tried once more: memory or disk may be free again."""
    return row is not None and now - row.asked_at > TRIED_AGAIN


def _made_ready(mark: str, found: Findings) -> Findings:
    with _lock:
        _ready[mark] = found
        while len(_ready) > MOST_READY:
            _ready.pop(next(iter(_ready)))
    return found
