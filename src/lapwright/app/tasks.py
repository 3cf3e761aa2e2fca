"""Use case: what waits for a hand now, derived from the records."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from datetime import datetime
from functools import partial

from lapwright.app import care_tasks, cautions
from lapwright.app.kept_results import TALK, kept_in_batches, kept_until, kept_until_write
from lapwright.app.unusable import unusable_tasks
from lapwright.app.wafer_tasks import WAITING, settled, tasks_of_wafers
from lapwright.model.job import RecordedRun
from lapwright.model.story import DialNumber, Task

_CARRIERS_REST_ON = frozenset({"carrier", "bond", "readingset"})
_RUNS_REST_ON = frozenset({"run"})
_STREAMS_REST_ON = frozenset({"stream", "streamend"})
_UNUSABLE_REST_ON = frozenset({"wafer", "readingset", "verdict", "order"})
#: What the task of a wafer rests on that belongs to no order: a write here makes those of all orders anew.
_OF_ALL = ("carrier", "gauge", "calibration", "station", "jig")


def waiting_tasks(*, now: datetime, order_id: str | None = None, wafer_id: str | None = None) -> tuple[Task, ...]:
    """One task per wafer, gauge or plate that waits for a person: warnings first, then the longest waiting.

    Of everything, of one order, or of one of its wafers. A wafer whose order has no route yet waits for the order;
    certified, rejected and set aside wafers wait for nobody, nor does a run that the recorder follows.
    """
    from lapwright.records import stream_queries

    if order_id is None:
        tasks = _of_orders()
    else:
        tasks = kept_until_write(("tasks", order_id, wafer_id), lambda: _made([order_id], wafer_id), besides=TALK)
    followed = kept_until(
        _STREAMS_REST_ON, ("followed",), lambda: {one.run_id for one in stream_queries.open_streams()}
    )
    found = [
        *(settled(one, now) for one in tasks),
        *(_open_carriers(order_id) if wafer_id is None else ()),
        *(_run_task(run) for run in _running() if run.run_id not in followed),
    ]
    if order_id is not None:
        return _sorted(task for task in found if task.order_id == order_id and wafer_id in (None, task.wafer_id))
    return _sorted([*found, *care_tasks.gauge_tasks(now), *care_tasks.plate_tasks(now)])


# ----------------------------------------------------------------------------------------------------------------------


def _running() -> tuple[RecordedRun, ...]:
    from lapwright.records import queries

    return kept_until(_RUNS_REST_ON, ("running",), queries.running_runs)


def _unusable() -> Mapping[str, Task]:
    return kept_until(_UNUSABLE_REST_ON, ("unusable",), unusable_tasks)


def _made(order_ids: Collection[str], wafer_id: str | None = None) -> list[Task]:
    """The tasks of the wafers of some orders, or of one of them; what rests on unusable readings has another one."""
    from lapwright.records import queries

    running = {one.wafer_id for one in _running()}
    again = {
        name: task
        for name, task in _unusable().items()
        if task.order_id in order_ids and name not in running and wafer_id in (None, name)
    }
    wafers = [
        one
        for one in queries.wafers_in_states(WAITING, order_ids=order_ids)
        if one.wafer.wafer_id not in running | again.keys() and wafer_id in (None, one.wafer.wafer_id)
    ]
    return [*again.values(), *tasks_of_wafers(wafers)]


def _of_orders() -> list[Task]:
    """The tasks of the wafers of all orders; made anew for those orders that something was written of since."""
    from lapwright.records import order_queries

    orders = order_queries.orders_with_wafers(WAITING) | {one.order_id or "" for one in _unusable().values()}

    def of_sets(keys: frozenset[int]) -> Collection[str]:
        is_carrier = order_queries.are_of_carriers(keys)  # which any wafer may be bonded to
        return orders if is_carrier else order_queries.orders_of_rows("readingset", keys)

    def by_order(some: Collection[str]) -> dict[str, list[Task]]:
        found: dict[str, list[Task]] = {order_id: [] for order_id in some}
        for task in _made(some):
            found[task.order_id or ""].append(task)
        return found

    rests_on: dict[str, Callable[[frozenset[int]], Collection[str]]] = {
        **{table: partial(order_queries.orders_of_rows, table) for table in order_queries.OF_AN_ORDER},
        **dict.fromkeys(_OF_ALL, lambda _keys: orders),
        "readingset": of_sets,
    }
    kept = kept_in_batches(("tasks of orders", _free_carriers()), sorted(orders), rests_on, by_order)
    return [task for found in kept.values() for task in found]


def _free_carriers() -> tuple[bool, str | None]:
    """Whether a carrier is free, and the first of the free ones where none of them was read.

    That is all that the tasks of wafers that are to be bonded tell of carriers; so another bond changes them seldom.
    """
    from lapwright.records import queries

    carriers = kept_until(_CARRIERS_REST_ON, ("carriers",), queries.carriers)
    free = [one for one in carriers if one.wafer_id is None]
    is_read = any(one.set_id is not None for one in free)
    return bool(free), None if is_read or not free else free[0].carrier.carrier_id


def _open_carriers(order_id: str | None) -> list[Task]:
    """Carriers of which a set was begun and not closed."""
    from lapwright.records import story_queries

    return [
        Task(
            verb="finish reading the sites",
            order_id=of_order,
            wafer_id=None,
            station_id=None,
            number=None,
            since=since,
            why=f"a set of carrier {name} was begun and not closed",
            page="carrier",
            piece=name,
        )
        for name, of_order, since in story_queries.open_carrier_sets()
        if order_id in (None, of_order)
    ]


def _sorted(tasks: Iterable[Task]) -> tuple[Task, ...]:
    return tuple(sorted(tasks, key=lambda task: (not task.warning, task.since)))


def _run_task(run: RecordedRun) -> Task:
    from lapwright.records import queries

    preset = run.preset
    number = None if preset is None else DialNumber(label="stops at", value=preset, dimension="length", symbol="µm")
    wafer, stage = queries.wafer(run.wafer_id), queries.stage(run.stage_id).stage
    return Task(
        verb="running: record the end when it stops",
        order_id=wafer.order_id,
        wafer_id=run.wafer_id,
        station_id=run.station_id,
        number=number,
        since=run.started,
        why=f"it runs on {run.station_id}",
        page="traveller",
        cautions=cautions.in_run(wafer.wafer.material, stage.kind, run.abrasive),
    )
