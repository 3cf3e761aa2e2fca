"""What waits because readings that something rests on were declared unusable: read it again, judge it again.

A set is declared unusable in a minute, often days later; what rests on it must not go on as if nothing had been said,
least of all a certificate that is out.
"""

from __future__ import annotations

from lapwright.model.job import WaferState
from lapwright.model.readings import Moment
from lapwright.model.story import Task

#: States of a wafer that rest on a set of one moment, without a verdict yet.
_RESTS_ON: dict[WaferState, Moment] = {
    "measured_in": "incoming", "stack_read": "stack", "read_on_carrier": "on_carrier", "read_free": "final",
}  # fmt: skip
_WITH_VERDICT: tuple[WaferState, ...] = ("judged", "certified")


def unusable_tasks(*, order_id: str | None = None) -> dict[str, Task]:
    """Wafer -> the task that takes the place of its own, for those that rest on a set that must not be used."""
    from lapwright.records import story_queries

    heads = story_queries.void_sets((*_RESTS_ON, *_WITH_VERDICT))
    if not heads:
        return {}
    names = {one.wafer_id for one in heads}
    closed = story_queries.closed_moments(names)
    doubtful = _doubtful({one.wafer_id for one in heads if one.state in _WITH_VERDICT})
    found: dict[str, Task] = {}
    for one in heads:
        rests = one.set_id in doubtful.get(one.wafer_id, ()) if one.state in _WITH_VERDICT else (
            _RESTS_ON[one.state] == one.moment and one.moment not in closed.get(one.wafer_id, ())
        )  # fmt: skip
        if not rests or order_id not in (None, one.order_id):
            continue
        what = {
            "certified": "its certificate rests on readings that must not be used; tell the customer",
            "judged": "its verdict rests on readings that must not be used",
        }.get(one.state, "its readings must not be used")
        found[one.wafer_id] = Task(
            verb="read it again",
            order_id=one.order_id,
            wafer_id=one.wafer_id,
            station_id=None,
            number=None,
            since=one.since,
            why=f"{what}: {one.reason}",
            page="readings",
            warning=True,
        )
    return found


# ----------------------------------------------------------------------------------------------------------------------


def _doubtful(wafer_ids: set[str]) -> dict[str, set[int]]:
    """Wafer -> the sets that its standing verdicts rest on."""
    from lapwright.app.verdicts import latest_verdicts
    from lapwright.records import queries

    return {
        wafer_id: {one.set_id for one in latest_verdicts(every) if one.set_id is not None}
        for wafer_id, every in queries.verdicts_of(wafer_ids).items()
    }
