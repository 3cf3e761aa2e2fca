"""Many commands on one data folder, each a process of its own, forked off one that has the program started.

So a command costs what it does, and not the start of Python and of the program, too. As a program
(``python -m lapwright.testing.commands DATA``) it is the process that forks: a question a line comes in, an answer a
line goes out.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, NoReturn

from lapwright.testing.empty import lay_empty_database


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """How a command ended: its exit status, and what it wrote."""

    status: int
    stdout: str
    stderr: str


@contextmanager
def commands(data: Path, *, work: Path) -> Iterator[Callable[[Sequence[str]], Ended]]:
    """A function that runs the words after ``lapwright`` on a data folder, in the folder `work`."""
    lay_empty_database(data)
    process = subprocess.Popen(  # noqa: S603  our own module
        [sys.executable, "-m", "lapwright.testing.commands", str(data)],
        cwd=work,
        env={**os.environ, "LAPWRIGHT_DATA": str(data), "PYTHONUTF8": "1"},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        encoding="utf-8",
    )
    asking, answering = process.stdin, process.stdout
    assert asking is not None
    assert answering is not None

    def ask(words: Sequence[str]) -> Ended:
        asking.write(json.dumps(list(words)) + "\n")
        asking.flush()
        return Ended(**json.loads(answering.readline()))

    with process:  # which closes its input, and so ends it
        yield ask


# ----------------------------------------------------------------------------------------------------------------------


def _main(data: Path) -> None:
    import importlib

    from django.db import connections

    from lapwright.app import wiring
    from lapwright.cli.main import COMMANDS
    from lapwright.settings import read_settings

    wiring.start(read_settings({"data": data}))
    connections.close_all()
    for module in COMMANDS.values():
        importlib.import_module(module)
    for line in sys.stdin:
        sys.stdout.write(json.dumps(_ended(json.loads(line))) + "\n")
        sys.stdout.flush()


def _ended(words: list[str]) -> dict[str, int | str]:
    with tempfile.TemporaryFile() as output, tempfile.TemporaryFile() as complaints:
        pid = os.fork()
        if pid == 0:
            _be_command(words, output, complaints)
        _, status = os.waitpid(pid, 0)
        return {
            "status": os.waitstatus_to_exitcode(status),
            "stdout": _written(output),
            "stderr": _written(complaints),
        }


def _be_command(words: list[str], output: IO[bytes], complaints: IO[bytes]) -> NoReturn:
    """The forked process, to its end."""
    from lapwright.cli.main import exit_status

    status = 1
    try:
        for there, here in ((output, 1), (complaints, 2)):
            os.dup2(there.fileno(), here)
        status = exit_status(words)
        sys.stdout.flush()
        sys.stderr.flush()
    finally:
        os._exit(status)


def _written(file: IO[bytes]) -> str:
    file.seek(0)
    return file.read().decode()


if __name__ == "__main__":
    _main(Path(sys.argv[1]))
