"""The whole campaign of kills on both databases: kept line by line as it goes, so that it goes on; and its report."""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from lapwright.testing.kills.campaign import SHARES
from lapwright.testing.kills.checks import KINDS

DATABASES = ("SQLite", "PostgreSQL")
HEAD = """\
# Campaign: kills

Made by `./dev campaign kills` at commit {commit} with seed {seed}: {count} times a process was killed by signal 9
(SIGKILL) in the midst of its work, at a random moment or at a random statement to the database, on a copy of one
prepared database, and what it left was looked at.

| work | what the process did | what counts as acknowledged |
| --- | --- | --- |
| import | `lapwright import` of one file after the other | the command's line of JSON |
| readings | the server of the pages, readings typed over HTTP | the page's answer to the reading |
| recording | the recorder with a run on a recorded gauge, 20 times as fast | what the recorder shows as stored |
| upgrade | a database from before the audit chain brought up to date | rows that were there before |
| first-start | an empty folder made ready | nothing |

After each kill the program is started again over what is left.
**Lost** is something acknowledged that is not there;
**half-written** is a file, a run or a reading of which a part is there;
**not whole** is what the database finds wrong with itself; **chain** is what `lapwright verify` finds;
**does not go on** is a next step refused, or a run that the next recorder does not mark as interrupted.

"""
TAIL = """
The kills took {seconds:.0f} s of the killed processes' time.
A kill takes the process, not the machine: what the operating system had taken from it is kept.
That every commit is on the disk when it is acknowledged rests on `synchronous=FULL` of SQLite and on PostgreSQL's own
`synchronous_commit`, which this campaign does not try.
"""


def run(root: Path, arguments: Sequence[str]) -> int:
    """Play what is missing, write the report; 1 when anything is wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sqlite", type=int, default=500)
    parser.add_argument("--postgresql", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args(arguments)
    commit = _commit(root)
    kept = root / "build" / f"campaign-kills-{commit}-{given.seed}.jsonl"
    kept.parent.mkdir(exist_ok=True)
    for database, count in zip(DATABASES, (given.sqlite, given.postgresql), strict=True):
        _play(kept, database, count, given.seed)
    kills = _read(kept)
    text = report(kills, commit=commit, seed=given.seed)
    (root / "docs" / "reference" / "campaign-kills.md").write_text(text, encoding="utf-8")
    sys.stdout.write(text)
    return int(any(one["faults"] for one in kills))


def report(kills: Sequence[dict[str, Any]], *, commit: str, seed: int) -> str:
    """The report of the kills played."""
    lines = [f"| database | work | kills | by moment | by statement | acknowledged | {' | '.join(KINDS)} |"]
    lines.append("| --- " * (6 + len(KINDS)) + "|")
    for database in DATABASES:
        for work in (*SHARES, "all"):
            of = [one for one in kills if one["database"] == database and work in (one["work"], "all")]
            lines.append(f"| {database} | {work} | {' | '.join(map(str, _counts(of)))} |")
    wrong = [f"- {one['database']}, kill {one['number']}: {fault}" for one in kills for fault in one["faults"]]
    head = HEAD.format(commit=commit, seed=seed, count=sum(one["is_killed"] for one in kills))
    tail = TAIL.format(seconds=sum(one["seconds"] for one in kills))
    return "\n".join([head + "\n".join(lines), *(["", *wrong] if wrong else [])]) + "\n" + tail


# ----------------------------------------------------------------------------------------------------------------------


def _counts(kills: Sequence[dict[str, Any]]) -> list[int]:
    hit = [one for one in kills if one["is_killed"]]
    by = [sum(one["by"] == kind for one in hit) for kind in ("moment", "statement")]
    faults = [fault for one in kills for fault in one["faults"]]
    wrong = [sum(fault.startswith(f"{kind}: ") for fault in faults) for kind in KINDS]
    return [len(hit), *by, sum(one["acknowledged"] for one in kills), *wrong]


def _play(kept: Path, database: str, count: int, seed: int) -> None:
    """The kills that are not kept yet, each kept as soon as it is checked."""
    done = sum(one["database"] == database for one in _read(kept))
    if done >= count:
        return
    command = [sys.executable, "-m", "lapwright.testing.kills.campaign", "--kills", str(count), "--seed", str(seed)]
    command += ["--from", str(done), *(["--postgresql"] if database == "PostgreSQL" else [])]
    environment = {**os.environ, "PYTHONWARNINGS": "ignore"}
    with (
        kept.open("a", encoding="utf-8") as file,
        subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as process,  # noqa: S603  ours
    ):
        assert process.stdout is not None
        for number, line in enumerate(process.stdout, start=done + 1):
            file.write(line)
            file.flush()
            if number % 25 == 0:
                sys.stderr.write(f"{database}: {number} of {count}\n")
    if process.returncode not in (0, 1):
        raise RuntimeError(f"The kills on {database} ended with status {process.returncode}; run it again to go on.")


def _read(kept: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in kept.read_text(encoding="utf-8").splitlines()] if kept.exists() else []


def _commit(root: Path) -> str:
    asked = ["git", "rev-parse", "--short", "HEAD"]
    done = subprocess.run(asked, cwd=root, capture_output=True, text=True, check=True)  # noqa: S603  our own words
    return done.stdout.strip()
