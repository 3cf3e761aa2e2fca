"""A stop output that stops nothing: the messages are kept, the latest thousand, to look at."""

from __future__ import annotations

from collections import deque
from types import TracebackType
from typing import Self

from lapwright.gauges.address import Option, Options
from lapwright.gauges.roles import StopOutput

OPTIONS: tuple[Option, ...] = ()
KEPT = 1000


def connect(_place: str, _options: Options) -> StopOutput:
    """A dry run."""
    return DryRun()


class DryRun:
    """Keeps what it is told in `messages`."""

    def __init__(self) -> None:
        self.messages: deque[bytes] = deque(maxlen=KEPT)

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        pass

    async def send(self, message: bytes, *, sequence: int) -> None:  # noqa: ARG002  the role says so
        """Keep one message."""
        self.messages.append(message)
