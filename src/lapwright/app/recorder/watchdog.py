"""Keeping a recorder at work: started as a process of its own, started again when it ends."""

from __future__ import annotations

import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Self

EVERY = 2.0  # s between looks
LONGEST = 60.0  # s before a recorder that keeps ending is started again


class Watchdog:
    """Watches over one recorder; `wanted` says whether there is anything to record.

    The recorder is no child that dies with its parent: when the pages end while a run goes on, it runs on.
    """

    def __init__(self, folder: Path, *, wanted: Callable[[], bool]) -> None:
        self._command = [sys.executable, "-m", "lapwright", "record", "--data", str(folder)]
        self._wanted = wanted
        self._leave = threading.Event()
        self._process: subprocess.Popen[bytes] | None = None
        self._thread = threading.Thread(target=self._watch, name="recorder watchdog", daemon=True)
        self.starts = 0

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._leave.set()
        self._thread.join(timeout=EVERY)

    @property
    def pid(self) -> int | None:
        """Number of the recorder's process, None while none was started here."""
        return None if self._process is None else self._process.pid

    def end(self) -> None:
        """End the recorder as well; a run that goes on is stopped."""
        self._leave.set()
        if self._process is not None and self._process.poll() is None:
            self._process.terminate()
            self._process.wait(timeout=30.0)

    # ------------------------------------------------------------------------------------------------------------------

    def _watch(self) -> None:
        from lapwright.records import stream_queries

        try:
            self._keep()
        finally:
            stream_queries.close_connection()

    def _keep(self) -> None:
        wait = EVERY
        while not self._leave.is_set():
            if self._process is None or self._process.poll() is not None:
                if self._wanted():
                    wait = EVERY if self.starts == 0 else min(2.0 * wait, LONGEST)
                    self._process = subprocess.Popen(  # noqa: S603  our own command
                        self._command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, start_new_session=True
                    )
                    self.starts += 1
            else:
                wait = EVERY
            self._leave.wait(wait)
