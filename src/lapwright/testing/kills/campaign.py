"""A campaign of kills: each drawn from the seed and its number, played, checked, and told as one line.

As a program (``python -m lapwright.testing.kills.campaign --kills N``) it prints a line of JSON for each kill.
It forks, so it is a process of its own with one thread.
"""

from __future__ import annotations

import argparse
import gc
import json
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import nullcontext
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from lapwright.testing.kills import checks
from lapwright.testing.kills.databases import Bench, set_up
from lapwright.testing.kills.forking import Fate, Told, answered, forked
from lapwright.testing.kills.works import WORKS, Work, fresh, listen
from lapwright.testing.postgresql import postgresql

FRESH = "fresh"  # the database of this version with nothing in it
#: Shares of the works among the kills.
SHARES = {"import": 0.3, "readings": 0.3, "recording": 0.2, "upgrade": 0.12, "first-start": 0.08}


@dataclass(frozen=True, slots=True, kw_only=True)
class Kill:
    """One kill: what was done, when it came, what had been acknowledged, and what is wrong afterwards."""

    number: int
    database: str
    work: str
    by: str
    seconds: float
    statements: int
    acknowledged: int
    is_killed: bool
    faults: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """How long a work takes when nobody kills it."""

    seconds: float
    statements: int


def works_of(count: int, among: Sequence[str] = tuple(SHARES)) -> list[str]:
    """The work of each kill of a campaign, evenly mixed, the shares kept as well as whole numbers can."""
    total = sum(SHARES[name] for name in among)
    done = dict.fromkeys(among, 0)
    listed = []
    for number in range(1, count + 1):
        name = max(done, key=lambda one: SHARES[one] * number / total - done[one])
        done[name] += 1
        listed.append(name)
    return listed


def kills(folder: Path, server: str | None, *, seed: int, numbers: list[tuple[int, str]]) -> Iterator[Kill]:
    """Kills of the numbers and works given, each after what it left was checked. Once in a process."""
    bench = set_up(folder, server)
    courses: dict[str, Course] = {}
    _import_all()
    _prepare(bench, FRESH, fresh, start=None)
    gc.freeze()  # what is there stays where it is, so that a fork need not copy it
    for number, name in numbers:
        work = WORKS[name]
        if name not in courses:
            courses[name] = _course(bench, work)
        yield _kill(bench, work, courses[name], np.random.default_rng([seed, number]), number)


# ----------------------------------------------------------------------------------------------------------------------


def _import_all() -> None:
    """What the works need is imported before the first fork."""
    import django.test  # noqa: F401  the handlers of requests and all they need
    import uvicorn.lifespan.off
    import uvicorn.loops.auto
    import uvicorn.protocols.http.auto
    import uvicorn.protocols.websockets.auto  # noqa: F401

    from lapwright.app.recorder import loop  # noqa: F401
    from lapwright.cli import imports  # noqa: F401
    from lapwright.web import asgi, urls  # noqa: F401


def _course(bench: Bench, work: Work) -> Course:
    """Prepare the database of a work, and see how long the work takes."""
    if work.prepare is not None:
        _prepare(bench, work.name, work.prepare, start=None if work.is_old else FRESH)
    told = _played(bench, work, Fate(seconds=work.longest))
    bench.settle()
    return Course(seconds=told.seconds, statements=told.statements)


def _prepare(bench: Bench, name: str, prepare: Callable[[Bench], None], *, start: str | None) -> None:
    bench.lay_down(start)
    answered(lambda: prepare(bench), _log(bench))
    bench.settle()
    bench.keep(name)


def _kill(bench: Bench, work: Work, course: Course, rng: np.random.Generator, number: int) -> Kill:
    by = "moment" if rng.random() < 0.5 else "statement"
    told = _played(bench, work, _fate(by, work, course, rng))
    if not told.is_killed:  # done before the moment came
        by = "statement"
        told = _played(bench, work, _fate(by, work, course, rng))
    bench.settle()
    try:
        faults = answered(lambda: checks.faults_after(bench, work.name, told.lines), _log(bench))
    except RuntimeError as error:
        faults = [f"does not go on: {error}"]
    bench.settle()
    return Kill(
        number=number,
        database="SQLite" if bench.server is None else "PostgreSQL",
        work=work.name,
        by=by,
        seconds=told.seconds,
        statements=told.statements,
        acknowledged=len(told.lines),
        is_killed=told.is_killed,
        faults=faults,
    )


def _fate(by: str, work: Work, course: Course, rng: np.random.Generator) -> Fate:
    """A moment or a statement of the work, each as likely as any other; recording is killed at its longest anyhow."""
    if by == "moment":
        return Fate(seconds=rng.uniform(0.0, course.seconds))
    statement, is_after = int(rng.integers(1, course.statements + 1)), bool(rng.random() < 0.5)
    return Fate(seconds=None if work.longest is None else 2.0 * work.longest, statement=statement, is_after=is_after)


def _played(bench: Bench, work: Work, fate: Fate) -> Told:
    bench.lay_down(None if work.prepare is None else work.name)
    if work.ask is not None:
        listen()
    return forked(lambda: work.do(bench), _log(bench), fate, until=work.ask)


def _log(bench: Bench) -> Path:
    return bench.folder / "said.log"


def main(arguments: list[str]) -> int:
    """Play what is asked for; 1 when something is wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=20)
    parser.add_argument("--from", type=int, default=0, dest="first", help="kills of the same campaign done already")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--postgresql", action="store_true")
    parser.add_argument("--works", nargs="+", choices=SHARES, default=list(SHARES))
    given = parser.parse_args(arguments)
    numbers = list(enumerate(works_of(given.kills, given.works)))[given.first :]
    wrong = 0
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        with postgresql() if given.postgresql else nullcontext() as server:
            for kill in kills(folder, server, seed=given.seed, numbers=numbers):
                sys.stdout.write(json.dumps(asdict(kill)) + "\n")
                sys.stdout.flush()
                wrong += len(kill.faults)
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
