"""The planner: works out the schedules and routes that pages have asked for, one process at a time for a database.

A server that needs one starts it (``python -m lapwright.app.queue_planner DATA``) as a process of its own, with less
claim to the processor than the pages; it ends when nothing has been left to do for a while, or when the server ends.
One that is killed leaves nothing half-written: after `LOST` seconds of silence another takes its place and begins the
same draft anew.
"""

from __future__ import annotations

import contextlib
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from functools import partial

from lapwright.app import queue, queue_kept, wiring
from lapwright.app.queue_kept import Sought
from lapwright.errors import LapwrightError
from lapwright.model.board_draft import BoardDraft

BEAT, LOST = 2.0, 15.0  # s between two signs of life, and of silence after which another takes over
MOST_TRIES = 3  # a draft begun so often without an end is left until it is asked for anew
LINGER, LOOKS_EVERY = 600.0, 0.25  # s that a planner without work waits for more, and between its looks
SEARCHES_EVERY = 0.1  # s between two looks for routes that are wanted
_NICE = 5

_started: dict[str, subprocess.Popen[bytes]] = {}
_lock = threading.Lock()
_searched_at = 0.0  # when the last search for routes ended, by the monotonic clock


def wake() -> None:
    """See to it that a planner is at work; where no pages are served, work everything out on the spot."""
    if not wiring.is_serving():
        work_through()
        return
    from lapwright.records import board_drafts

    with _lock:
        mine = _started.get("planner")
        if mine is not None:
            if mine.poll() is None:
                return
            board_drafts.release(_name(mine.pid))  # whoever was killed could not say so
            del _started["planner"]
        if is_at_work() or not _is_wanted():
            return
        folder = str(wiring.current_settings().data)
        _started["planner"] = subprocess.Popen(  # noqa: S603  our own module
            [sys.executable, "-m", __name__, folder],
            stdin=subprocess.PIPE,  # closed when this process ends, whichever way
            stdout=subprocess.DEVNULL,
            start_new_session=True,
        )


def is_at_work() -> bool:
    """Whether a planner said so lately."""
    from lapwright.records import board_drafts

    seen = board_drafts.planner()
    return seen is not None and datetime.now(UTC) - seen.beat_at < timedelta(seconds=LOST)


def work_through(*, linger: float | None = None) -> int:
    """Work out all that is wanted, unless another planner is at work; returns how many drafts were made.

    With `linger` [s] it says every few seconds that it lives, and waits so long for more to do: the next what-if is
    then answered without the start of a process.
    """
    from lapwright.records import board_drafts

    holder, made = _name(os.getpid()), 0
    while _is_wanted():
        now = datetime.now(UTC)
        if not board_drafts.claim(holder, at=now, lost_before=now - timedelta(seconds=LOST)):
            return made
        try:
            with contextlib.nullcontext() if linger is None else _beside(holder):
                while (wanted := _next(linger or 0.0)) is not None:
                    _worked_out(wanted, holder)
                    made += 1
            if linger is None:
                _search_routes(holder)
        finally:
            board_drafts.release(holder)
    return made


# ----------------------------------------------------------------------------------------------------------------------


def _next(linger: float) -> BoardDraft | None:
    """The draft that is wanted next, waited for; a search for routes begins the wait anew."""
    from lapwright.records import board_drafts

    start = time.monotonic()
    while (wanted := board_drafts.next_wanted(most_tries=MOST_TRIES)) is None:
        if time.monotonic() >= max(start, _searched_at) + linger:
            return None
        time.sleep(LOOKS_EVERY)
    return wanted


def _is_wanted() -> bool:
    from lapwright.app import route_work
    from lapwright.records import board_drafts

    return board_drafts.next_wanted(most_tries=MOST_TRIES) is not None or route_work.is_wanted(datetime.now(UTC))


def _search_routes(holder: str) -> bool:
    """Make every search for routes that is wanted; False when nothing was."""
    global _searched_at

    from lapwright.app import route_work
    from lapwright.records import board_drafts

    is_any = False
    while route_work.work_one(lambda: board_drafts.beat(holder, datetime.now(UTC))):
        is_any, _searched_at = True, time.monotonic()
    return is_any


def _worked_out(wanted: BoardDraft, holder: str) -> None:
    from lapwright.records import board_drafts, kept

    assert wanted.wanted is not None
    board_drafts.begin(wanted.key, wanted.tries + 1, datetime.now(UTC))
    start, written = time.monotonic(), kept.last_write()
    question = queue_kept.question_of(wanted.question)
    board, refusal, at = None, None, wanted.wanted
    try:
        board = queue.board(at) if question is None else queue.propose(question, at)
    except LapwrightError as error:
        refusal = queue_kept.refusal_plain(error)
    data, now = None if board is None else queue_kept.packed(board), datetime.now(UTC)
    if not board_drafts.beat(holder, now):
        return  # another has taken over, and makes it
    keys = [wanted.key]
    if not wanted.key and board is not None and board.in_force is None:
        keys.append(Sought(at=at).key)  # a proposal that is looked at can be accepted when the next one is there, too
    for key in keys:
        board_drafts.put(
            key, moment=at, written=written, made_at=now, took=time.monotonic() - start, data=data, refusal=refusal
        )


def _name(pid: int) -> str:
    return f"{socket.gethostname()}:{pid}"


@contextlib.contextmanager
def _beside(holder: str) -> Iterator[None]:
    """In threads: say every few seconds that the planner lives, and search routes, which nobody waits for long."""
    from lapwright.records import board_drafts

    done = threading.Event()

    def beat() -> None:
        board_drafts.beat(holder, datetime.now(UTC))

    def again(do: Callable[[], object], every: float) -> None:
        while not done.wait(every):
            with contextlib.suppress(LapwrightError):  # the database is busy; the next one is heard
                do()
        board_drafts.close_connection()

    searching = partial(_search_routes, holder)
    threads = [
        threading.Thread(target=again, args=(do, every), name=name, daemon=True)
        for name, do, every in (("planner-beats", beat, BEAT), ("planner-routes", searching, SEARCHES_EVERY))
    ]
    for thread in threads:
        thread.start()
    try:
        yield
    finally:
        done.set()
        for thread in threads:
            thread.join(timeout=BEAT)


def _end_with_the_server() -> None:
    """Wait for the end of whoever started this, then end at once."""
    while os.read(0, 1):
        pass
    with contextlib.suppress(Exception):  # it may not even have begun, nor the records been made ready
        from lapwright.records import board_drafts

        board_drafts.release(_name(os.getpid()))
    os._exit(1)


def _main() -> None:
    from lapwright.settings import read_settings

    os.nice(_NICE)
    settings = read_settings({"data": sys.argv[1]})
    threading.Thread(target=_end_with_the_server, name="server-watched", daemon=True).start()
    wiring.start(settings)
    work_through(linger=LINGER)


if __name__ == "__main__":
    _main()
