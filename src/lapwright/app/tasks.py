"""Use case: what waits for a hand now, derived from the records."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from lapwright.app import cautions, gauges
from lapwright.app.next_stages import NextStage, next_stage
from lapwright.errors import LapwrightError
from lapwright.model.job import RecordedBond, RecordedSet, RecordedWafer, WaferState
from lapwright.model.story import DialNumber, Page, Task
from lapwright.units import printed


def waiting_tasks(*, now: datetime) -> tuple[Task, ...]:
    """One task per wafer or gauge that waits for a person: warnings first, then the longest waiting.

    A wafer whose order has no route yet waits for the order; certified, rejected and set aside wafers wait for nobody,
    nor does a run that the recorder follows.
    """
    from lapwright.records import queries, stream_queries

    half_read = {one.wafer_id: one for one in queries.open_sets() if one.wafer_id is not None}
    running = {one.wafer_id for one in queries.running_runs()}
    tasks = [
        task
        for wafer in queries.wafers()
        if wafer.wafer.wafer_id not in running
        and (task := _task_of(wafer, half_read.get(wafer.wafer.wafer_id))) is not None
    ]
    followed = {stream.run_id for stream in stream_queries.open_streams()}
    tasks += [
        _run_task(run.wafer_id, run.station_id, run.started, run.preset)
        for run in queries.running_runs()
        if run.run_id not in followed
    ]
    tasks += _gauge_tasks(now)
    return tuple(sorted(tasks, key=lambda task: (not task.warning, task.since)))


# ----------------------------------------------------------------------------------------------------------------------


def _task_of(wafer: RecordedWafer, half_read: RecordedSet | None) -> Task | None:
    if half_read is not None:
        return _task(
            wafer,
            "finish reading the sites",
            "readings",
            why="a set was begun and not closed",
            since=half_read.opened.at,
        )
    make = _MAKERS.get(wafer.state)
    return None if make is None else make(wafer)


def _task(
    wafer: RecordedWafer,
    verb: str,
    page: Page,
    *,
    why: str,
    shown: tuple[str, ...] = (),
    number: DialNumber | None = None,
    since: datetime | None = None,
    warning: bool = False,
) -> Task:
    return Task(
        verb=verb,
        order_id=wafer.order_id,
        wafer_id=wafer.wafer.wafer_id,
        station_id=None,
        number=number,
        since=wafer.since if since is None else since,
        why=why,
        page=page,
        warning=warning,
        cautions=shown,
    )


def _cautions(wafer: RecordedWafer, step: str) -> tuple[str, ...]:
    return cautions.cautions_for(wafer.wafer.material, step=step)


def _received(wafer: RecordedWafer) -> Task:
    return _task(wafer, "read it in", "readings", why="it has not been read yet", shown=_cautions(wafer, "measure"))


def _measured_in(wafer: RecordedWafer) -> Task:
    return _task(wafer, "bond it to a carrier", "bond", why="it is read in and free", shown=_cautions(wafer, "bond"))


def _bonded(wafer: RecordedWafer) -> Task:
    return _task(
        wafer, "read the stack", "readings", why="the bond is not known yet", shown=_cautions(wafer, "measure")
    )


def _stack_read(wafer: RecordedWafer) -> Task:
    bond = _bond_of(wafer)
    if bond is None or bond.verdict is None:
        return _task(wafer, "judge the bond", "bond", why="the stack is read")
    rebond = bond.verdict.advice == "rebond"
    verb = "decide: bond again or go on" if rebond else "decide: keep the bond"
    return _task(wafer, verb, "bond", why=bond.verdict.reason, warning=rebond)


def _rebond(wafer: RecordedWafer) -> Task:
    bond = _bond_of(wafer)
    why = "it was decided to bond again" if bond is None or bond.decided is None else bond.decided.reason
    return _task(wafer, "take it off and bond it again", "bond", why=why, shown=_cautions(wafer, "debond"))


def _in_work(wafer: RecordedWafer) -> Task:
    from lapwright.records import queries

    if queries.chosen_route(wafer.order_id) is None:
        return _task(wafer, "choose a route for the order", "route", why="the order has no route yet")
    if wafer.state == "ready" and not queries.stages(wafer.wafer.wafer_id):
        return _task(
            wafer, "lay out its stages", "route", why="the route is not fitted to this wafer yet", warning=True
        )
    try:
        ahead = next_stage(wafer.wafer.wafer_id)
    except LapwrightError as error:
        return _task(wafer, "look at its readings", "readings", why=error.sentence, warning=True)
    if ahead is None:
        return _task(
            wafer, "read it on the carrier", "readings", why="all stages are done", shown=_cautions(wafer, "measure")
        )
    return _stage_task(wafer, ahead)


def _stage_task(wafer: RecordedWafer, ahead: NextStage) -> Task:
    planned = ahead.planned
    verb = {
        "lap": f"lap: {planned.name}",
        "polish": f"polish: {planned.name}",
        "clean": f"clean: {planned.name}",
        "measure": "rinse and read the stack",
    }[planned.kind]
    number = None
    if ahead.preset is not None:
        number = DialNumber(label="dial in", value=ahead.preset, dimension="length", symbol="µm")
    elif planned.kind == "polish" and planned.rate:
        number = DialNumber(label="polish for", value=ahead.removal / planned.rate, dimension="time", symbol="min")
    past = planned.removal > 0.0 and ahead.removal <= 0.0
    why = f"now {printed(ahead.thickness_now, 'µm', 'length')}"
    if planned.removal > 0.0:
        why += f", after this stage {printed(ahead.thickness_after, 'µm', 'length')}"
    if past:
        why += "; it is past this stage already: leave it out"
    return _task(
        wafer, verb, "readings" if planned.kind == "measure" else "traveller", why=why,
        number=number, since=_stage_since(wafer, ahead), warning=past, shown=ahead.cautions,
    )  # fmt: skip


def _stage_since(wafer: RecordedWafer, ahead: NextStage) -> datetime:
    """When the stage before ended, so that waiting counts from there."""
    from lapwright.records import queries

    ended = [one.ended for one in queries.stages(wafer.wafer.wafer_id) if one.ended and one.number < ahead.stage.number]
    return max([wafer.since, *ended])


def _worked(wafer: RecordedWafer) -> Task:
    why = "all stages are done; after debonding there is no way back to the plate"
    return _task(wafer, "read it on the carrier", "readings", why=why, shown=_cautions(wafer, "measure"))


def _read_on_carrier(wafer: RecordedWafer) -> Task:
    return _task(
        wafer,
        "take it off the carrier",
        "bond",
        why="it is through and read on the carrier",
        shown=_cautions(wafer, "debond"),
    )


def _debonded(wafer: RecordedWafer) -> Task:
    return _task(
        wafer, "clean it and read it free", "readings", why="it is off the carrier", shown=_cautions(wafer, "clean")
    )


def _read_free(wafer: RecordedWafer) -> Task:
    return _task(wafer, "judge it", "traveller", why="the final set is closed")


def _judged(wafer: RecordedWafer) -> Task:
    from lapwright.app.verdicts import latest_verdicts
    from lapwright.records import queries

    verdicts = latest_verdicts(queries.verdicts(wafer.wafer.wafer_id))
    doubtful = [one.verdict for one in verdicts if one.verdict.outcome == "cannot_be_decided"]
    failed = [one.verdict for one in verdicts if one.verdict.outcome == "does_not_conform"]
    if failed:
        name = failed[0].limit.quantity.replace("_", " ")
        return _task(wafer, "decide what to do with it", "traveller", why=f"{name}: {failed[0].reason}", warning=True)
    if doubtful:
        name = doubtful[0].limit.quantity.replace("_", " ")
        return _task(wafer, "read it again", "readings", why=f"{name}: {doubtful[0].reason}", warning=True)
    return _task(wafer, "issue the certificate", "certificate", why="it conforms to every limit")


def _bond_of(wafer: RecordedWafer) -> RecordedBond | None:
    from lapwright.records import queries

    return None if wafer.bond_id is None else queries.bond(wafer.bond_id)


def _run_task(wafer_id: str, station_id: str, started: datetime, preset: float | None) -> Task:
    from lapwright.records import queries

    number = None if preset is None else DialNumber(label="stops at", value=preset, dimension="length", symbol="µm")
    return Task(
        verb="running: record the end when it stops",
        order_id=queries.wafer(wafer_id).order_id,
        wafer_id=wafer_id,
        station_id=station_id,
        number=number,
        since=started,
        why=f"it runs on {station_id}",
        page="traveller",
    )


def _gauge_tasks(now: datetime) -> list[Task]:
    found = []
    for recorded in gauges.list_gauges(on=now.date()):
        for sentence in gauges.warnings_of(recorded, on=now.date()):
            calibration = recorded.calibration
            since = recorded.signature.at if calibration is None else datetime.combine(
                calibration.due, datetime.min.time(), tzinfo=now.tzinfo
            )  # fmt: skip
            found.append(
                Task(
                    verb=f"gauge {recorded.gauge.gauge_id}: have it calibrated",
                    order_id=None,
                    wafer_id=None,
                    station_id=None,
                    number=None,
                    since=since,
                    why=sentence,
                    page="gauges",
                    warning=recorded.calibration_state in ("overdue", "failed"),
                )
            )
    return found


_MAKERS: dict[WaferState, Callable[[RecordedWafer], Task]] = {
    "received": _received,
    "measured_in": _measured_in,
    "bonded": _bonded,
    "stack_read": _stack_read,
    "rebond": _rebond,
    "ready": _in_work,
    "in_work": _in_work,
    "worked": _worked,
    "read_on_carrier": _read_on_carrier,
    "debonded": _debonded,
    "read_free": _read_free,
    "judged": _judged,
}
