"""Something done in a forked process that is killed by signal 9: at a moment, or at a statement to the database.

The process that forks has everything imported and no database open, so that a kill costs milliseconds.
"""

from __future__ import annotations

import json
import mmap
import os
import signal
import struct
import sys
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

PATIENCE = 120.0  # s, then a process counts as hanging


@dataclass(frozen=True, slots=True, kw_only=True)
class Fate:
    """When a process is killed: after `seconds` of its work, or before or after its statement number `statement`."""

    seconds: float | None = None
    statement: int | None = None
    is_after: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a process said before its end, line by line, how it ended, and how far it came."""

    lines: tuple[str, ...]
    is_killed: bool
    seconds: float
    statements: int


def forked(
    work: Callable[[], Any], log: Path, fate: Fate | None = None, *, until: Callable[[], Any] | None = None
) -> Told:
    """Do `work` in a process of its own, whose standard output is what it tells.

    With `until` that is done here meanwhile, and its lines are what was told; afterwards the process is killed.
    Raises `RuntimeError` when the work failed by itself.
    """
    fate = fate or Fate()
    counter = mmap.mmap(-1, 8)
    reading, writing = os.pipe()
    begun = time.perf_counter()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        _be_victim(work, writing, log, counter, fate)
    os.close(writing)
    with _killed_after(pid, fate.seconds), os.fdopen(reading, encoding="utf-8") as pipe:
        if until is None:
            lines = pipe.read().splitlines()
        else:
            try:
                lines = list(until())
            finally:
                os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
    killed = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    if not killed and status != 0:
        raise RuntimeError(f"The work failed by itself: {log.read_text(encoding='utf-8')[-2000:]}")
    return Told(
        lines=tuple(lines),
        is_killed=killed,
        seconds=time.perf_counter() - begun,
        statements=struct.unpack("q", counter[:8])[0],
    )


def answered(work: Callable[[], Any], log: Path) -> Any:
    """What `work` gives, done in a process of its own; plain values alone."""
    told = forked(lambda: print(json.dumps(work())), log)  # noqa: T201  its standard output is what it tells
    return json.loads(told.lines[-1])


# ----------------------------------------------------------------------------------------------------------------------


def _be_victim(work: Callable[[], Any], writing: int, log: Path, counter: mmap.mmap, fate: Fate) -> None:
    """The forked process, to its end."""
    status = 1
    try:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        sys.stdout = os.fdopen(writing, "w", buffering=1, encoding="utf-8")
        handle = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(handle, 2)
        _count_statements(counter, fate)
        work()
        sys.stdout.flush()
        status = 0
    except BaseException:  # noqa: BLE001  whatever it is, this process must not go on as its parent
        os.write(2, traceback.format_exc().encode())
    finally:
        os._exit(status)


def _count_statements(counter: mmap.mmap, fate: Fate) -> None:
    """Count what is put to the database on any connection, and end before or after the statement of the fate."""
    from django.db.backends.signals import connection_created

    def put(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:  # noqa: FBT001  Django's order
        number = struct.unpack("q", counter[:8])[0] + 1
        counter[:8] = struct.pack("q", number)
        is_last = number == fate.statement
        if is_last and not fate.is_after:
            os.kill(os.getpid(), signal.SIGKILL)
        found = execute(sql, params, many, context)
        if is_last:
            os.kill(os.getpid(), signal.SIGKILL)
        return found

    def watch(*, connection: Any, **_: Any) -> None:
        if put not in connection.execute_wrappers:
            connection.execute_wrappers.append(put)

    connection_created.connect(watch, weak=False)


@contextmanager
def _killed_after(pid: int, seconds: float | None) -> Iterator[None]:
    """Inside, the process is killed after so many seconds; one that hangs, in the end, too."""

    def kill(*_: object) -> None:
        os.kill(pid, signal.SIGKILL)

    before = signal.signal(signal.SIGALRM, kill)
    signal.setitimer(signal.ITIMER_REAL, PATIENCE if seconds is None else max(seconds, 1e-6))
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)
