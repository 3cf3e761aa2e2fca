"""Server time of every page over a laboratory of 2 000 orders, 20 000 wafers and 2.7 million readings.

Server time is asked in the process, as the test client of Django asks; after each answer the bench goes on writing
(`busy_bench`: readings, closed sets, checks, notes), so that what is kept is as old as it is in a day's work; how long
each kind of write took is told, too. Sixty answers a page, each for another order where it has one: the 57th in the
order of time is the 95th percentile, so each kind of write was before one of those that count; the slowest is told
beside it. The reference is the sheet for a new order, which asks the database nothing, in the same run; so a busy
machine moves both. The Board is asked as a server asks it: a planner works beside it, once after the bench's writes,
and once while every answer finds the plan old and the planner at work.
Which pages there are says `lapwright.testing.page_list`; what stands in the laboratory, `laboratory`.

`BENCH_CLOCK=processor` counts the processor's time of an answer instead, for a machine that others keep busy.
"""

import math
import os
import time
from datetime import UTC, datetime
from functools import cache

from busy_bench import writes
from laboratory import laboratory, size

from lapwright.model.board import BoardPlace
from lapwright.testing import page_list

ASKED = 60
CLOCK = time.process_time if os.environ.get("BENCH_CLOCK") == "processor" else time.perf_counter


def rows():
    """One row a page: 95th percentile of the answers after a write, and the slowest; then one for each kind of write."""
    with laboratory():
        pages = page_list.questions(page_list.shop(ASKED))
        pages = {name: listed for name, listed in pages.items() if listed}
        _plan()
        for listed in pages.values():
            _seconds(listed[0])  # imports and templates are loaded
        bench, took, of = writes(), {}, size()
        reference = _high(_asked(pages["order_new"], bench, took))
        answers = {name: _asked(listed, bench, took) for name, listed in pages.items()}
        answers["board, planned anew"] = _asked(pages["board"], _new_places(), {})
        return [
            *(_row(f"page: {name}", found, reference, of) for name, found in answers.items()),
            *(_row(f"write: {what}", found, reference, of) for what, found in took.items()),
        ]


def _row(name, found, reference, of):
    return {
        "name": name, "ours_s": _high(found), "reference_s": reference, "ratio": _high(found) / reference,
        "conditions": f"p95 of {len(found)}, slowest {1e3 * max(found):.0f} ms, {of}",
    }  # fmt: skip


def _asked(listed, bench, took):
    """Seconds of each answer; those of each kind of write between them are added to `took`."""
    found = []
    for asked in listed:
        found.append(_seconds(asked))
        start = CLOCK()
        took.setdefault(next(bench), []).append(CLOCK() - start)
    return found


def _high(found):
    """The 95th percentile."""
    return sorted(found)[math.ceil(0.95 * len(found)) - 1]


def _seconds(asked):
    client = _client()
    client.cookies.clear()
    start = CLOCK()
    answer = client.get(asked.address) if asked.sent is None else client.post(asked.address, asked.sent)
    took = CLOCK() - start
    assert answer.status_code == 200, (asked, answer.status_code)
    return took


@cache
def _client():
    """One for all: each new one would load the middleware, which a server does once."""
    from django.test import Client

    return Client(HTTP_HOST="localhost")


def _plan():
    """The Board worked out once, by the planner beside this process."""
    from lapwright.app import queue, queue_drafts
    from lapwright.app.queue_kept import Sought

    now = datetime.now(tz=UTC)
    queue_drafts.awaited(Sought(at=queue.moment(now), is_now=True), now)


def _new_places():
    """Write something that the Board's plan rests on, each time: it is old from then on."""
    from lapwright.app import queue_settings

    while True:
        now = datetime.now(tz=UTC)
        place = BoardPlace(place_id="B1", name=f"bonder as of {now:%H:%M:%S.%f}", kind="bond")
        queue_settings.put_place(place, by="local", reason="bench", at=now)
        yield "place"
