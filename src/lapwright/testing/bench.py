"""Run the benchmarks of a folder, each part in a process of its own, and keep what they give in one page.

A part that fails, or takes too long, is named and loses nothing of the others; what each gave is kept as soon as it
is there. Parts that were quick the last time come first, so that a run cut short has most of them.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from lapwright.testing import bench_page
from lapwright.testing.bench_part import parts

MOST_MINUTES = 60.0  # for all parts together
MOST_OF_A_PART = 20.0  # minutes
LOOKED_FOR = 0.3  # s
LAST_WORDS = 400  # letters of what a part that failed said last


def chosen(known: Sequence[str], names: Sequence[str]) -> list[str]:
    """The parts that are meant: all without a name; ``growth`` means all growths. Raises `SystemExit` for others."""
    unknown = [name for name in names if name not in known and name != "growth"]
    if unknown:
        raise SystemExit(
            f"No benchmark {', '.join(unknown)}. There are: {', '.join(known)}; growth means all of those."
        )
    return [
        one for one in known if not names or one in names or ("growth" in names and one.startswith("growth_"))
    ]  # fmt: skip


def run(folder: Path, part: str, *, most: float) -> dict[str, Any]:
    """What one part gave, with the conditions; or ``{"fault": ...}`` when it failed or took more than `most` [s]."""
    with tempfile.TemporaryDirectory() as place:
        file, log = Path(place, "found.json"), Path(place, "log")
        told = _conditions()
        begun = time.monotonic()
        command = [sys.executable, "-m", "lapwright.testing.bench_part", str(folder), part, str(file)]
        with log.open("wb") as stream:
            process = subprocess.Popen(command, stdout=stream, stderr=subprocess.STDOUT, start_new_session=True)  # noqa: S603  # our own
            try:
                code = process.wait(timeout=most)
            except subprocess.TimeoutExpired:
                return {"fault": f"stopped after {most / 60.0:.1f} min"}
            finally:
                _end_all_of(process)
        if code or not file.exists():
            last = log.read_text(encoding="utf-8", errors="replace").strip()[-LAST_WORDS:]
            return {"fault": f"ended with {code}: {last.splitlines()[-1] if last else 'it said nothing'}"}
        return {**told, "took_s": time.monotonic() - begun, **json.loads(file.read_text(encoding="utf-8"))}


def main(arguments: list[str]) -> int:
    """Print the tables; ``--report`` keeps them in a page and its neighbours. 1 when a part failed."""
    asked = _asked(arguments)
    folder = Path(asked.folder)
    known = parts(folder)
    before = bench_page.kept(Path(asked.report)) if asked.report else {}
    if asked.list:
        for part in known:
            took = before.get(part, {}).get("took_s")
            sys.stdout.write(f"{part}{'' if took is None else f'  {took:.0f} s the last time'}\n")
        return 0
    names = sorted(chosen(known, asked.names), key=lambda part: before.get(part, {}).get("took_s", 0.0))
    found: bench_page.Kept = {}
    until = time.monotonic() + 60.0 * asked.minutes
    for number, part in enumerate(names, start=1):
        _say(f"{number} of {len(names)}: {part} ...")
        found[part] = _within(folder, part, until)
        _say(f"    {found[part].get('fault') or format(found[part]['took_s'], '.0f') + ' s'}")
        if asked.report:
            bench_page.keep(Path(asked.report), _merged(before, found, known))
    sys.stdout.write(json.dumps(found) + "\n" if asked.json else _text(found))
    return 1 if bench_page.faults(found) else 0


# ----------------------------------------------------------------------------------------------------------------------


def _asked(arguments: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="./dev bench", description=__doc__)
    parser.add_argument("folder", help=argparse.SUPPRESS)
    parser.add_argument("names", nargs="*", metavar="NAME", help="parts to measure; all unless given")
    parser.add_argument("--report", metavar="PAGE", help="keep what is found in this page")
    parser.add_argument("--minutes", type=float, default=MOST_MINUTES, help="for all together (%(default)g)")
    parser.add_argument("--json", action="store_true", help="print what is found as JSON")
    parser.add_argument("--list", action="store_true", help="name the parts and measure nothing")
    return parser.parse_args(arguments)


def _within(folder: Path, part: str, until: float) -> dict[str, Any]:
    left = until - time.monotonic()
    if left <= 0.0:
        return {"fault": f"left out, the time was up; measure it by ./dev bench {part} --report"}
    return run(folder, part, most=min(left, 60.0 * MOST_OF_A_PART))


def _merged(before: bench_page.Kept, found: bench_page.Kept, known: Sequence[str]) -> bench_page.Kept:
    """Every part that there is: the new figures, or the kept ones with what went wrong this time."""
    merged = {}
    for part in known:
        if part in found and "fault" in found[part]:
            merged[part] = {
                **{key: value for key, value in before.get(part, {}).items() if key != "fault"},
                **found[part],
            }
        elif part in found or part in before:
            merged[part] = found.get(part) or before[part]
    return merged


def _end_all_of(process: subprocess.Popen[bytes]) -> None:
    """End what a part has started and left behind, and itself when it goes on."""
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except ProcessLookupError:
        return
    finally:
        process.wait()


def _conditions() -> dict[str, Any]:
    git = ("git", "rev-parse", "--short", "HEAD")
    commit = subprocess.run(git, capture_output=True, text=True, check=False).stdout.strip()  # noqa: S603  # our own
    return {
        "commit": commit or "none",
        "at": f"{datetime.now(tz=UTC):%Y-%m-%d %H:%M}",
        "machine": f"Python {platform.python_version()}, {platform.machine()}, {os.cpu_count()} cores",
        "busy_percent": _busy_percent(),
    }


def _busy_percent() -> float | None:
    """How much of the machine others use just now; None where the system does not tell."""
    try:
        idle, ticks = _times()
        time.sleep(LOOKED_FOR)
        idle_then, ticks_then = _times()
    except OSError:
        return None
    return 100.0 * (1.0 - (idle_then - idle) / max(1, ticks_then - ticks))


def _times() -> tuple[int, int]:
    """Ticks of all processors since the start: idle or waiting for a disk, and all together."""
    ticks = [int(one) for one in Path("/proc/stat").read_text(encoding="ascii").splitlines()[0].split()[1:9]]
    return ticks[3] + ticks[4], sum(ticks)


def _text(found: bench_page.Kept) -> str:
    text = f"{bench_page.table(found)}\n" if any(one.get("rows") for one in found.values()) else ""
    if any(one.get("curves") for one in found.values()):
        text += f"\n{bench_page.growth_table(found)}\n"
    return text + "".join(f"Not measured: {one}\n" for one in bench_page.faults(found))


def _say(text: str) -> None:
    sys.stderr.write(f"{text}\n")
    sys.stderr.flush()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
