"""Chunks of work for tests of workers, and a cluster of real scheduler and worker processes on this machine."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

PATIENCE = 60.0  # s for scheduler and workers to come up


def noted_square(load: tuple[int, str]) -> int:
    """The square of a number; each time it is computed is noted by a file in a folder."""
    number, folder = load
    Path(folder, f"{number}-{os.getpid()}-{time.monotonic_ns()}").touch()
    return number * number


def dies_once(load: tuple[int, str]) -> int:
    """As `noted_square`, but the process that takes number 5 first is killed over it.

    It waits until the five before it were fetched and the file ``fetched-5`` says so, so that no more is lost with it
    on a busy machine than on a quick one.
    """
    number, folder = load
    square = noted_square(load)
    if number == 5:
        try:
            Path(folder, "killed").touch(exist_ok=False)
        except FileExistsError:
            return square
        _wait_for(Path(folder, "fetched-5"))
        os.kill(os.getpid(), signal.SIGKILL)
    return square


def always_dies(load: tuple[int, str]) -> int:
    """The process that takes number 2 is killed over it, each time."""
    if load[0] == 2:
        os.kill(os.getpid(), signal.SIGKILL)
    return load[0]


def fails_at_three(load: tuple[int, str]) -> int:
    """As `noted_square`, but number 3 is an error of the work itself."""
    if load[0] == 3:
        raise ArithmeticError("three")
    return noted_square(load)


@dataclass(slots=True)
class LocalCluster:
    """A scheduler and its workers, each a process started by the command that a person would use."""

    address: str = ""
    processes: list[subprocess.Popen[str]] = field(default_factory=list)


@contextmanager
def local_cluster(folder: Path, workers: int) -> Iterator[LocalCluster]:
    """A scheduler on a free port with so many workers of one thread, ended again."""
    cluster = LocalCluster()
    log = folder / "scheduler.log"

    def started(*command: str, to: Path) -> None:
        with to.open("w") as file:
            cluster.processes.append(
                subprocess.Popen(  # noqa: S603  our own commands
                    [sys.executable, "-m", *command],
                    stdout=file, stderr=subprocess.STDOUT, text=True, cwd=folder,
                    start_new_session=True,
                )
            )  # fmt: skip

    try:
        started("distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", to=log)
        cluster.address = _told(log, r"Scheduler at:\s+(tcp://\S+)")
        logs = [folder / f"worker-{number}.log" for number in range(workers)]
        for one in logs:
            started(
                "distributed.cli.dask_worker", cluster.address, "--nthreads", "1", "--no-dashboard",
                "--local-directory", str(folder), to=one,
            )  # fmt: skip
        for one in logs:
            _told(one, r"Registered to:\s+(tcp://\S+)")
        yield cluster
    finally:
        for process in cluster.processes:  # a worker's keeper has children that would outlive it
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()


# ----------------------------------------------------------------------------------------------------------------------


def _told(log: Path, pattern: str) -> str:
    """What a process tells of itself in its log."""
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        found = re.search(pattern, log.read_text())
        if found:
            return found[1]
        time.sleep(0.05)
    raise TimeoutError(f"{log.name} does not say {pattern!r} within {PATIENCE:.0f} s: {log.read_text()[-500:]}")


def _wait_for(file: Path) -> None:
    until = time.monotonic() + PATIENCE
    while not file.exists():
        if time.monotonic() > until:
            raise TimeoutError(f"{file.name} did not come within {PATIENCE:.0f} s")
        time.sleep(0.01)
