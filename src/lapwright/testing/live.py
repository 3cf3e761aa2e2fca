"""A station under the recorder, for tests: a wafer ready to be lapped, a recorded gauge, and a recorder to run it."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from lapwright.model.live import Feed, LiveAnswer, StartOrder
from lapwright.model.plan import Plan
from lapwright.model.readings import Signature
from lapwright.settings import Settings
from lapwright.sim.runs import NO_FAULT, GaugeTruth, PlantedFault, RunTruth, simulated_run
from lapwright.testing.lot import CARRIER_THICKNESS, Lot, flat
from lapwright.testing.records import bring_back, can_keep, keep_records

WAFER = "AP-1-01"
STATION = "L1"
GAUGE = GaugeTruth()
RATE = 2e-6 / 60.0  # m/s
_READY = "ready"
ORDER = StartOrder(wafer_id=WAFER, station_id=STATION, jig_id="J1", target=10e-6)


def ready_lot(settings: Settings) -> Lot:
    """An order with its wafer bonded and judged, the abrasive on L1, the zero taken at 0.1 µm.

    It takes seconds to write; a copy is kept and laid down again the next time.
    """
    lot = Lot()
    if bring_back(settings, _READY):
        lot.now = datetime.now(UTC)
        return lot
    lot.furnish()
    lot.receive()
    _make_ready(lot)
    if can_keep(settings):
        keep_records(settings, _READY)
    return lot


def _make_ready(lot: Lot) -> None:
    from lapwright.app import routes, runs, shelf
    from lapwright.model.shelf import Station

    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    routes.choose_route("AP-1", _known_rate(routes.propose_routes("AP-1")[0]), **lot.why())
    lot.bond(WAFER, flat(500e-6))
    ahead = runs.next_stage(WAFER)
    assert ahead is not None
    planned = ahead.planned
    shelf.set_up_station(
        Station(station_id=STATION, name=STATION, kind="lap", plate=planned.plate, abrasive=planned.abrasive),
        **lot.why(),
    )
    take_zero(lot)


def _known_rate(plan: Plan) -> Plan:
    """The plan with its first lap at the rate of the streams below, whatever planning thinks of it."""
    first = next(number for number, stage in enumerate(plan.stages) if stage.kind == "lap")
    stage = replace(plan.stages[first], rate=RATE, rate_low=RATE / 2.0, rate_high=RATE * 2.0)
    return replace(plan, stages=(*plan.stages[:first], stage, *plan.stages[first + 1 :]))


def take_zero(lot: Lot) -> None:
    """The zero of the jig's gauge, at 0.1 µm."""
    from lapwright.app import runs
    from lapwright.model.request import ZeroRequest

    request = ZeroRequest(wafer_id=WAFER, station_id=STATION, jig_id="J1", texts=("0.0", "0.1", "0.2"))
    assert runs.take_zero(request, **lot.why()).accepted


def open_streams(lot: Lot, count: int) -> tuple[int, ...]:
    """Streams of runs on stations of their own, past the checks of a start: for the recorder's storage alone."""
    from lapwright.app import shelf
    from lapwright.model.shelf import Station
    from lapwright.records import queries, writer
    from lapwright.records.writer.streams import NewStream
    from lapwright.records.writer.work import NewRun

    stage = queries.stages(WAFER)[0]
    numbers = []
    for number in range(1, count + 1):
        shelf.set_up_station(Station(station_id=f"S{number}", name=f"S{number}", kind="lap"), **lot.why())
        new_run = NewRun(
            stage_id=stage.stage_id, station_id=f"S{number}", jig_id=None, zero_id=None, load=None, pressure=None,
            plate_speed=None, preset=None, preset_datum=None,
        )  # fmt: skip
        run = writer.add_run(new_run, _signature(lot))
        writer.end_run(run.run_id, None, "only its stream is wanted", _signature(lot))
        new = NewStream(run_id=run.run_id, feed=None, target=None, time=None, zero=0.0, rate=None)
        numbers.append(writer.begin_stream(new, _signature(lot)))
    return tuple(numbers)


def write_stream(path: Path, *, seed: int = 1, gauge: GaugeTruth = GAUGE, **options: Any) -> Any:
    """A recorded stream of a run at 2 µm/min on a gauge whose zero stands at 0.1 µm; gives the run as it truly was."""
    fault: PlantedFault = options.pop("fault", NO_FAULT)
    truth = RunTruth(rate=options.pop("rate", RATE), duration=options.pop("duration", 600.0), **options)
    run = simulated_run(truth, gauge, rng=np.random.default_rng(seed), fault=fault)
    rows = "".join(f"{time:.6f},{length * 1e6:.1f}\n" for time, length in zip(run.time, run.length, strict=True))
    path.write_text("time_s,length_um\n" + rows, encoding="ascii")
    return run


def feed_of(source: str, **options: Any) -> Feed:
    """The feed of L1."""
    return replace(Feed(station_id=STATION, source=source, gauge_id="G1"), **options)


def now_why(reason: str = "test") -> dict[str, Any]:
    """Who, why, and now: the recorder does not obey old requests."""
    return {"by": "local", "reason": reason, "at": datetime.now(UTC)}


def with_recorder(settings: Any, play: Callable[[Any], Awaitable[Any]], **options: Any) -> Any:
    """Run a recorder in this process for as long as `play(recorder)` takes; its answer."""
    from lapwright.app.recorder.loop import Recorder

    async def main() -> Any:
        recorder, until = Recorder(settings, **options), asyncio.Event()
        running = asyncio.create_task(recorder.run(until))
        playing: asyncio.Task[Any] = asyncio.ensure_future(play(recorder))
        await asyncio.wait({running, playing}, return_when=asyncio.FIRST_COMPLETED)
        until.set()
        if running.done():
            playing.cancel()
            with suppress(asyncio.CancelledError):
                await playing
        await running
        return playing.result()

    return asyncio.run(main())


async def answered(request: LiveAnswer, *, within: float = 10.0) -> LiveAnswer:
    """The recorder's answer, waited for."""
    from lapwright.app import live

    async with asyncio.timeout(within):
        while True:
            answer: LiveAnswer = await asyncio.to_thread(_in_thread, live.answer_of, request.request_id)
            if answer.accepted is not None:
                return answer
            await asyncio.sleep(0.05)


async def ended(run_id: int, *, within: float = 20.0) -> Any:
    """The stream of a run, once it has ended."""
    from lapwright.app import live

    async with asyncio.timeout(within):
        while True:
            stream = await asyncio.to_thread(_in_thread, live.stream_of_run, run_id)
            if stream is not None and stream.outcome is not None:
                return stream
            await asyncio.sleep(0.05)


async def ask(work: Callable[..., Any], *arguments: Any, **options: Any) -> Any:
    """Something on the records, in a thread of its own, as pages do it."""
    return await asyncio.to_thread(_in_thread, work, *arguments, **options)


# ----------------------------------------------------------------------------------------------------------------------


def _signature(lot: Lot) -> Signature:
    return Signature(**lot.why())


def _in_thread(work: Callable[..., Any], *arguments: Any, **options: Any) -> Any:
    from lapwright.testing.records import close_records

    try:
        return work(*arguments, **options)
    finally:
        close_records()
