"""The dead man's handle: permissions are sent only while somebody keeps asking for them.

`allow()` is called each time the judgement says "run". The guard sends a numbered "may run" message every `beat`
seconds as long as the latest `allow()` is younger than `hold`. When the asking ceases, a stop is sent; when this whole
program hangs or dies, nothing is sent, and the far side stops by itself. A stop latches: it is sent at once and again,
and no later `allow()` undoes it. A connection that breaks latches, too, once the machine must have stopped by it. The
caller never waits: sending is the work of the guard's own task.

Not a safety function: the machine's own interlocks stay in charge.
"""

from __future__ import annotations

import asyncio
import contextlib
from dataclasses import dataclass
from types import TracebackType
from typing import Literal, Self

from lapwright.errors import GaugeError, NotConnected, OutOfValidRange
from lapwright.gauges.clock import SYSTEM_CLOCK, Clock
from lapwright.gauges.roles import StopOutput
from lapwright.gauges.stop.messages import STOP_SEQUENCE, run_message, stop_message

StopWord = Literal["closed", "waiting", "may_run", "stopped", "unreachable"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StopState:
    """How the stop output stands: the word, the sentence behind it, permissions sent, time of the last one [s]."""

    word: StopWord
    sentence: str
    sent: int = 0
    last_sent: float | None = None


class StopGuard:
    """Keeps a machine permitted while `allow()` is called, and stops it for good when told or when it goes quiet.

    Parameters
    ----------
    output : the way to the machine
    beat : time between two messages [s]
    hold : how long one `allow()` lasts [s]
    limit : silence after which the far side stops; sent along, and must be more than two beats [s]
    """

    def __init__(
        self,
        output: StopOutput,
        *,
        beat: float = 0.25,
        hold: float = 1.0,
        limit: float = 2.0,
        clock: Clock = SYSTEM_CLOCK,
    ) -> None:
        if limit < 2.0 * beat:
            raise OutOfValidRange("limit", limit, "at least two beats", "One lost message must not stop the machine.")
        self._output, self._beat, self._hold, self._limit, self._clock = output, beat, hold, limit, clock
        self._allowed: float | None = None
        self._reason: str | None = None
        self._leaving = False
        self._state = StopState(word="closed", sentence="Not open.")
        self._wake = asyncio.Event()
        self._owner: asyncio.Task[None] | None = None

    async def __aenter__(self) -> Self:
        self._set("waiting", "No permission asked for yet.")
        self._owner = asyncio.create_task(self._own(), name="stop guard")
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._leaving = True
        self.stop("the recorder ends" if error is None else f"the recorder failed ({type(error).__name__})")
        assert self._owner is not None
        await asyncio.wait([self._owner], timeout=self._limit)
        self._owner.cancel()
        await asyncio.wait([self._owner], timeout=self._limit)
        self._set("closed", self._state.sentence)

    def allow(self) -> None:
        """Permit the machine to run for another `hold` s. Without effect after a stop."""
        self._allowed = self._clock.monotonic()

    def stop(self, reason: str) -> None:
        """End all permissions, for good. The first reason counts."""
        if self._reason is None:
            self._reason = reason
        self._wake.set()

    @property
    def state(self) -> StopState:
        """How the stop output stands."""
        return self._state

    # ------------------------------------------------------------------------------------------------------------------

    def _set(self, word: StopWord, sentence: str, *, sent: bool = False) -> None:
        self._state = StopState(
            word=word,
            sentence=sentence,
            sent=self._state.sent + sent,
            last_sent=self._clock.monotonic() if sent else self._state.last_sent,
        )

    async def _own(self) -> None:
        """Reach the machine and send, again and again, until a stop is delivered and the guard is left."""
        while True:
            try:
                async with self._output as output:
                    if self._state.word == "unreachable":
                        self._set("waiting", "The machine answers again.")
                    await self._send_until_left(output)
            except GaugeError as error:
                self._set("unreachable", error.sentence)
            if self._leaving:
                return
            self._judge_break()
            await self._pause()

    async def _send_until_left(self, output: StopOutput) -> None:
        """Send while the connection holds; return when a stop is delivered and nothing more will come."""
        while True:
            self._judge_asking()
            self._judge_break()
            if self._reason is not None:
                await self._send(output, stop_message(self._reason), STOP_SEQUENCE)
                self._set("stopped", f"Stopped: {self._reason}.")
                if self._leaving:
                    return
            elif self._allowed is not None:
                sequence = self._state.sent + 1
                await self._send(output, run_message(sequence, self._limit), sequence)
                self._set("may_run", "The machine may run.", sent=True)
            await self._pause()

    async def _send(self, output: StopOutput, message: bytes, sequence: int) -> None:
        try:
            async with asyncio.timeout(self._limit):
                await output.send(message, sequence=sequence)
        except TimeoutError as error:
            raise NotConnected(f"The machine took no message for {self._limit:g} s.") from error

    def _judge_asking(self) -> None:
        """Latch when the asking has ceased."""
        if self._allowed is not None and self._clock.monotonic() - self._allowed > self._hold:
            self._reason = self._reason or f"nobody asked for a permission for {self._hold:g} s"

    def _judge_break(self) -> None:
        """Latch when no permission got through for so long that the machine must have stopped."""
        last = self._state.last_sent
        if last is not None and self._clock.monotonic() - last > self._limit:
            self._reason = self._reason or f"no permission got through for {self._limit:g} s"

    async def _pause(self) -> None:
        """Wait one beat, or until a stop is asked for."""
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(self._beat):
                await self._wake.wait()
        self._wake.clear()
