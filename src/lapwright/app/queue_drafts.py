"""Use cases: the Board as last worked out, what was recorded since, and whether it is being worked out anew.

No page waits for the planner: it gets the last draft at once, told how old it is, and a process beside the pages makes
the next. In a process that serves no pages there is nobody to keep waiting, and the draft is made on the spot.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from threading import Lock

from lapwright.app import queue_kept, queue_planner, wiring
from lapwright.app.queue import Board, BoardQuestion
from lapwright.app.queue_kept import Sought
from lapwright.errors import CannotAnswer, LapwrightError
from lapwright.model.board import RecordedPlan
from lapwright.model.board_draft import BoardDraft

#: Tables that a schedule does not rest on; what else is written makes a draft old.
BESIDES = frozenset({
    "calibration", "change", "checkstandard", "cleancheck", "document", "finding", "gauge", "gaugecheck", "gaugestudy",
    "handover", "handovertaken", "jigmove", "note", "plate", "plateentry", "pricelist", "quotation", "reading",
    "readingset", "signing", "streamblock", "streamevent", "studyreading", "supplylot", "supplyuse", "surface",
    "verdict", "weighing", "zero",
})  # fmt: skip
TRIED_AGAIN = 300.0  # s after the planner gave up
MOST_READY = 8  # drafts unpacked in memory
LOOKS_EVERY, PATIENCE = 0.2, 90.0  # s; of one who waits


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What there is of it: the last Board, when it was made, what was recorded since, and whether a new one is coming.

    `since` counts rows by table; None for more than anybody looks through. `is_given_up` says that the planner ended
    again and again without an answer.
    """

    board: Board | None
    draft: BoardDraft | None
    refusal: LapwrightError | None
    since: Mapping[str, int] | None
    is_current: bool
    is_given_up: bool = False

    @property
    def is_planned(self) -> bool:
        """Whether somebody works on it, or will."""
        return self.draft is not None and self.draft.wanted is not None and not self.is_given_up

    @property
    def shown(self) -> str:
        """Changes with every answer."""
        made = None if self.draft is None else self.draft.made_at
        return "" if made is None else f"{made.timestamp():.6f}"


def look(sought: Sought, now: datetime) -> Seen:
    """The last draft of it, at once; one that is old is asked for anew."""
    from lapwright.records import board_drafts

    key = _key_of(sought)
    seen = _seen(key, sought)
    if seen.is_current or _rests(seen, now):
        return seen
    if seen.draft is None or seen.draft.wanted != sought.at or _is_forgiven(seen, now):
        board_drafts.want(key, queue_kept.question_plain(sought.question), sought.at, now)
    queue_planner.wake()
    return _seen(key, sought)


def latest(sought: Sought, now: datetime) -> Seen:
    """The Board as it stands, however old; asked for when there is none yet."""
    seen = _seen("", replace(sought, question=None, is_now=True))
    if seen.board is not None and (seen.is_current or wiring.is_serving()):
        return seen
    return look(replace(sought, question=None), now)


def kept(sought: Sought, now: datetime) -> Seen:
    """What was shown of it, whatever was recorded since; asked for when nothing is kept."""
    seen = _seen(_key_of(sought), sought)
    if seen.board is not None and wiring.is_serving():
        return seen
    own = _seen(sought.key, sought)
    if own.board is not None and wiring.is_serving():
        return own
    return look(sought, now)


def awaited(sought: Sought, now: datetime) -> Board:
    """The Board it comes to, waited for. Raises what planning it raises, `CannotAnswer` when that takes too long."""
    end = time.monotonic() + PATIENCE
    while True:
        seen = look(sought, now)
        if seen.refusal is not None and seen.is_current:
            raise seen.refusal
        if seen.board is not None and seen.is_current:
            return seen.board
        if seen.is_given_up or time.monotonic() > end:
            raise CannotAnswer(
                f"No schedule was worked out within {PATIENCE:.0f} s. Ask again in a while, or look into the server's"
                " log."
            )
        time.sleep(LOOKS_EVERY)


def at_once(sought: Sought, now: datetime) -> tuple[Board, Seen]:
    """The Board as it stands, however old, while the next one is worked out; waited for only where there is none yet.

    Raises what `awaited` raises.
    """
    seen = look(sought, now)
    if seen.board is not None and not seen.is_current and wiring.is_serving():
        return seen.board, seen
    board = awaited(sought, now)
    return board, look(sought, now)


def keep_accepted(proposal: Seen, recorded: RecordedPlan, now: datetime) -> None:
    """Take a proposal that was just accepted as the Board that stands, so that nobody has to wait for it."""
    from lapwright.records import board_drafts

    assert proposal.board is not None
    assert proposal.draft is not None
    written = board_drafts.last_before_plan(proposal.draft.written, recorded.plan_id, BESIDES)
    board = replace(
        proposal.board, in_force=recorded, scheduled=None, changes=(), was=(), question=BoardQuestion()
    )  # fmt: skip
    board_drafts.put(
        "", moment=board.now.at, written=proposal.draft.written if written is None else written, made_at=now,
        took=proposal.draft.took or 0.0, data=queue_kept.packed(board),
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------

_ready: dict[tuple[str, str], Board | None] = {}
_lock = Lock()


def _key_of(sought: Sought) -> str:
    """The draft that stands serves also whoever names its very moment."""
    from lapwright.records import board_drafts

    if sought.question is None and not sought.is_now:
        standing = board_drafts.draft("")
        if standing is not None and standing.moment == sought.at:
            return ""
    return sought.key


def _seen(key: str, sought: Sought) -> Seen:
    from lapwright.records import board_drafts
    from lapwright.records import kept as written_rows

    draft = board_drafts.draft(key)
    if draft is None or draft.made_at is None:
        given_up = draft is not None and _is_given_up(draft)
        return Seen(board=None, draft=draft, refusal=None, since={}, is_current=False, is_given_up=given_up)
    written = written_rows.written_since(draft.written)
    since = None if written is None else Counter({name: n for name, n in written.items() if name not in BESIDES})
    is_current = since is not None and not since and draft.moment is not None and draft.moment >= sought.at
    board = _board(draft)
    if board is None and draft.refusal is None:
        is_current = False
    return Seen(
        board=board,
        draft=draft,
        refusal=None if draft.refusal is None else queue_kept.refusal_of(draft.refusal),
        since=since,
        is_current=is_current,
        is_given_up=_is_given_up(draft),
    )


def _is_given_up(draft: BoardDraft) -> bool:
    if draft.wanted is None or draft.tries < queue_planner.MOST_TRIES:
        return False
    return draft.begun_at is None or not queue_planner.is_at_work()


def _is_forgiven(seen: Seen, now: datetime) -> bool:
    """Whether what was given up is tried once more: memory or disk may be free again."""
    return seen.is_given_up and seen.draft is not None and now - seen.draft.asked_at > timedelta(seconds=TRIED_AGAIN)


def _rests(seen: Seen, now: datetime) -> bool:
    """Whether the planner may rest: it works half of the time at most, however busy the shop."""
    draft = seen.draft
    if draft is None or draft.made_at is None or draft.took is None or draft.wanted is not None:
        return False
    if not wiring.is_serving() or (seen.board is None and seen.refusal is None):
        return False
    return draft.made_at <= now < draft.made_at + timedelta(seconds=draft.took)


def _board(draft: BoardDraft) -> Board | None:
    """What came of a draft, unpacked once; None when nothing did, or another version of the program made it."""
    from lapwright.records import board_drafts

    name = (draft.key, f"{draft.made_at} {draft.written}")
    with _lock:
        if name in _ready:
            return _ready[name]
    board = queue_kept.unpacked(board_drafts.data_of(draft.key))
    with _lock:
        _ready[name] = board
        while len(_ready) > MOST_READY:
            _ready.pop(next(iter(_ready)))
    return board
