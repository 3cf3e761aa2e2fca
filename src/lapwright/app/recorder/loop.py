"""The recorder's main loop: stations as their feeds say, requests as they come, ten ticks a second."""

from __future__ import annotations

import asyncio
import contextlib
import fcntl
import logging
import signal
from collections.abc import Callable, Collection, Iterator
from contextlib import AsyncExitStack, contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from lapwright.app import run_ends
from lapwright.app.recorder.broadcast import Broadcast
from lapwright.app.recorder.following import removal_shown
from lapwright.app.recorder.relay import Relay
from lapwright.app.recorder.station import Station, Tools
from lapwright.app.recorder.store import Store
from lapwright.errors import Conflict, LapwrightError, SettingError
from lapwright.gauges import open_source, open_stop
from lapwright.gauges.clock import SYSTEM_CLOCK, Clock
from lapwright.model.live import Asked, CheckReading, RateChange, RecordedFeed, StartOrder
from lapwright.model.readings import Signature
from lapwright.settings import Settings

OpenRequest = tuple[int, str, str, Asked, Signature]

TICK = 0.1  # s
ASKED_EVERY = 2  # ticks between looks for requests
FEEDS_EVERY = 10  # ticks between looks for feeds
OLDEST_START = timedelta(seconds=15)  # an older request to start is not obeyed: nobody may expect it any more
LOCK_FILE = "recorder.lock"
_log = logging.getLogger(__name__)


class Recorder:
    """Everything the recorder does, on a running event loop.

    Parameters
    ----------
    settings : of the records, which must be started
    clock, source, output : tests put their own in
    stations : those that it may record; none named means all that no other recorder has claimed
    """

    def __init__(
        self,
        settings: Settings,
        *,
        clock: Clock = SYSTEM_CLOCK,
        source: Callable[..., Any] = open_source,
        output: Callable[[str], Any] = open_stop,
        limit: int | None = None,
        stations: Collection[str] = (),
    ) -> None:
        from lapwright.records import notices, stream_queries, writer

        self._settings, self._clock = settings, clock
        more = {} if limit is None else {"limit": limit}
        self.store = Store(writer.add_portions, clock=clock, leave=stream_queries.close_connection, **more)
        self._relay = Relay() if notices.are_passed_on() else None
        self.broadcast = Broadcast(settings.data, also=None if self._relay is None else self._relay.tell)
        self._tools = Tools(store=self.store, broadcast=self.broadcast, clock=clock, source=source, output=output)
        self.stations: dict[str, Station] = {}
        self._wanted = frozenset(stations)
        self._versions: dict[str, int] = {}
        self._obeying: dict[int, asyncio.Task[None]] = {}

    async def run(self, until: asyncio.Event) -> None:
        """Record until told to end; runs that go on are then stopped."""
        with _alone(self._settings.data):
            async with AsyncExitStack() as stack:
                await stack.enter_async_context(self.store)
                if self._relay is not None:
                    stack.enter_context(self._relay)
                await stack.enter_async_context(self.broadcast)
                await self.store.call(lambda: mark_interrupted(self._clock.utc(), self._wanted))
                asking = asyncio.create_task(self._ask_again_and_again(), name="requests")
                try:
                    while not until.is_set():
                        for station in self.stations.values():
                            self._tick(station)
                        await asyncio.sleep(TICK)
                finally:
                    asking.cancel()
                    await asyncio.wait([asking])
                    await asyncio.gather(*(station.close() for station in self.stations.values()))

    # ------------------------------------------------------------------------------------------------------------------

    def _tick(self, station: Station) -> None:
        """A fault of ours at one station stops its run and no other."""
        try:
            station.tick(self._clock.utc())
        except Exception as error:  # noqa: BLE001  whatever it is, the machine must stop and the others go on
            _log.exception("station %s", station.station_id)
            station.fail(error)

    async def _ask_again_and_again(self) -> None:
        from lapwright.records import stream_queries

        count = 0
        while True:
            with contextlib.suppress(LapwrightError):
                if count % FEEDS_EVERY == 0:
                    feeds = await self.store.call(stream_queries.feeds)
                    mine = await self._claimed({one.feed.station_id for one in feeds})
                    await self._renew(tuple(one for one in feeds if one.feed.station_id in mine))
                if count % ASKED_EVERY == 0:
                    requests = await self.store.call(stream_queries.open_requests)
                    mine = await self._claimed({request[1] for request in requests})
                    for request in requests:
                        if request[1] in mine:
                            self._begin_to_obey(request)
            count += 1
            await asyncio.sleep(TICK)

    async def _claimed(self, names: set[str]) -> frozenset[str]:
        """Those of the stations that are this recorder's."""
        return await self.store.call(lambda: claimed(names, self._wanted))

    async def _renew(self, feeds: tuple[RecordedFeed, ...]) -> None:
        """Take up new and changed feeds; a station that is busy waits."""
        for recorded in feeds:
            name = recorded.feed.station_id
            old = self.stations.get(name)
            if old is not None and (self._versions.get(name) == recorded.version or old.is_busy):
                continue
            if old is not None:
                await old.close()
            self.stations[name] = Station(name, recorded.feed, self._tools)
            self._versions[name] = recorded.version
            self.stations[name].open()

    def _begin_to_obey(self, request: OpenRequest) -> None:
        """See to a request beside the others: a start takes a while, and a stop must not wait for it."""
        if request[0] not in self._obeying:
            task = asyncio.create_task(self._obey(*request), name=f"request {request[0]}")
            self._obeying[request[0]] = task
            task.add_done_callback(lambda _: self._obeying.pop(request[0], None))

    async def _obey(self, request_id: int, station_id: str, kind: str, asked: Asked, signature: Signature) -> None:
        station = self.stations.setdefault(station_id, Station(station_id, None, self._tools))
        run_id: int | None = None
        code = ""
        try:
            run_id, sentence = await self._do(station, kind, asked, signature)
        except LapwrightError as error:
            code, sentence = error.code, error.sentence
        except Exception as error:  # noqa: BLE001  a fault of ours must be answered, too
            code, sentence = (
                "lapwright.error",
                f"The recorder failed on a fault of its own: {error!r}. Please report it.",
            )
        _log.info("asked to %s", kind, extra={"station": station_id, "run": run_id, "code": code})
        await self.store.call(
            lambda: _answer(
                request_id, Signature(by=signature.by, reason="the recorder's answer", at=self._clock.utc()),
                code=code, sentence=sentence, run_id=run_id,
            )
        )  # fmt: skip

    async def _do(self, station: Station, kind: str, asked: Asked, signature: Signature) -> tuple[int | None, str]:
        """Do what is asked; the number of the run it started, and what there is to say."""
        if kind == "stop":
            station.stop(signature)
            return None, ""
        if isinstance(asked, StartOrder):
            _check_age(signature.at, self._clock.utc())
            return await station.start(asked, signature), ""
        if isinstance(asked, CheckReading):
            return None, station.check(asked)
        if isinstance(asked, RateChange):
            station.change_rate(asked)
            return None, ""
        raise Conflict(f"This version cannot read the request ({kind}). Update the program.")


def record_until_ended(
    settings: Settings, *, stations: Collection[str] = (), ready: Callable[[], None] = lambda: None
) -> None:
    """Be the recorder of a data folder until SIGINT or SIGTERM. Raises `SettingError` when there is one already."""

    async def main() -> None:
        until = asyncio.Event()
        for number in (signal.SIGINT, signal.SIGTERM):
            asyncio.get_running_loop().add_signal_handler(number, until.set)
        ready()
        await Recorder(settings, stations=stations).run(until)

    asyncio.run(main())


def claimed(names: Collection[str], wanted: frozenset[str]) -> frozenset[str]:
    """Those of the stations that are among the wanted, if any are named, and that no other recorder has claimed."""
    from lapwright.records import stream_queries

    return stream_queries.claim_stations(one for one in names if not wanted or one in wanted)


def mark_interrupted(at: datetime, wanted: frozenset[str] = frozenset()) -> int:
    """End the streams that an earlier recorder left open at stations that are ours now; how many there were."""
    from lapwright.records import stream_queries, writer
    from lapwright.records.writer.streams import NewEnd

    sentence = "The recorder ended without a word; the readings up to then are kept. Look at the machine and the wafer."
    left = stream_queries.open_streams()
    ours = claimed({stream.station_id for stream in left}, wanted)
    left = tuple(stream for stream in left if stream.station_id in ours)
    for stream in left:
        times, lengths = stream_queries.stream_readings(stream.stream_id)
        direction = "growing" if stream.feed is None else stream.feed.direction
        shown = removal_shown(lengths[-10:], zero=stream.zero, direction=direction)
        removal = max(0.0, float(shown.mean())) if shown.size else None
        person = stream_queries.asker_of(stream.stream_id)
        signature = Signature(by=person, reason="found open when the recorder started", at=at)
        after = float(times[-1]) if times.size else None
        with writer.transaction():
            end = NewEnd(outcome="interrupted", after=after, code="run.interrupted", sentence=sentence, removed=removal)
            writer.end_stream(stream.stream_id, end, signature)
            run_ends.end_followed_run(
                stream.run_id,
                removal=removal,
                sentence=f"run.interrupted: {sentence}",
                is_done=False,
                by=person,
                reason=signature.reason,
                at=at,
            )
    return len(left)


# ----------------------------------------------------------------------------------------------------------------------


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Hold what a second recorder of this folder cannot hold."""
    with (folder / LOCK_FILE).open("w") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            raise SettingError(f"A recorder is running for {folder} already. One is enough.") from error
        yield


def _check_age(asked: datetime, now: datetime) -> None:
    if now - asked > OLDEST_START:
        raise Conflict(
            f"The start was asked {(now - asked).total_seconds():.0f} s ago, when no recorder listened. Ask again, at"
            " the machine."
        )


def _answer(request_id: int, signature: Signature, *, code: str, sentence: str, run_id: int | None) -> None:
    from lapwright.records import writer

    writer.answer_request(request_id, signature, accepted=not code, code=code, sentence=sentence, run_id=run_id)
