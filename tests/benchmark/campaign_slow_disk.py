"""Campaign of a disk that becomes slow under the recorder: a real file system whose syncs take their time.

Usage: campaign_slow_disk.py [SECONDS ...]: what each sync takes once the run is going; without them 0, 0.5 and 3.
Needs /dev/fuse and the library mfusepy, which no other part of the project does. Writes docs/reference/campaign-slow-disk.md.
"""

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
DELAYS = (0.0, 0.5, 3.0)
QUICK, SLOW, LONGEST = 4.0, 14.0, 240.0  # s before, s of slowness, s to wait for the end


def main(arguments):
    """Play each delay in a process of its own and write the report."""
    if arguments[:1] == ["--play"]:
        print(json.dumps(play(Path(arguments[1]), Path(arguments[2]), float(arguments[3]))))
        return 0
    found = [(delay, played(delay)) for delay in [float(one) for one in arguments] or DELAYS]
    text = "\n".join([*_head(), *(_line(delay, one) for delay, one in found), "", *_words()]) + "\n"
    (ROOT / "docs" / "reference" / "campaign-slow-disk.md").write_text(text, encoding="utf-8")
    print(text)
    return int(any(one["taken"] != one["stored"] or one["lost"] or one["chain"] for _, one in found))


def played(delay):
    """What happened on a disk of that slowness."""
    with tempfile.TemporaryDirectory() as folder:
        behind, place, told = (Path(folder) / name for name in ("behind", "place", "delay"))
        behind.mkdir()
        place.mkdir()
        told.write_text("0")
        disk = subprocess.Popen([sys.executable, Path(__file__).with_name("slow_disk.py"), behind, place, told])
        try:
            until = time.monotonic() + 20.0
            while not place.is_mount() and time.monotonic() < until:
                time.sleep(0.05)
            assert place.is_mount(), "the file system did not come up"
            command = [sys.executable, "-W", "ignore", __file__, "--play", place, told, str(delay)]
            done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=900)
            assert done.returncode == 0, done.stderr[-3000:]
            return json.loads(done.stdout.splitlines()[-1])
        finally:
            told.write_text("0")
            subprocess.run(["fusermount3", "-u", place], check=False)
            disk.wait(timeout=30.0)


def play(place, told, delay):
    """A run on a recorded gauge; in the midst of it the disk becomes slow, later quick again."""
    from lapwright.app import live
    from lapwright.app.verification import verify_records
    from lapwright.testing.live import feed_of, ready_lot, with_recorder, write_stream
    from lapwright.testing.records import close_records, start_records

    data = place / "data"
    data.mkdir()
    settings = start_records(data)
    lot = ready_lot(settings)
    stream_file = place.parent / "stream.csv"
    write_stream(stream_file, duration=120.0)
    live.set_feed(feed_of(f"replay:{stream_file}?speed=1"), **lot.why())
    seen = with_recorder(settings, lambda recorder: _run(recorder, told, delay))
    close_records()
    from lapwright.records import stream_queries  # once the records are started

    times, _ = stream_queries.stream_readings(seen.pop("stream"))
    return seen | {"stored": len(times), "chain": [one.sentence for one in verify_records().faults]}


async def _run(recorder, told, delay):
    import asyncio

    from lapwright.app import live
    from lapwright.testing.live import ORDER, answered, ask, ended, now_why

    taken, add = [], recorder.store.add
    recorder.store.add = lambda *reading: (taken.append(reading), add(*reading))
    answer = await answered(await ask(live.request_start, ORDER, **now_why()), within=60.0)
    assert answer.accepted, answer.sentence
    await asyncio.sleep(QUICK)
    told.write_text(str(delay))
    begun, stopped, sentence = time.monotonic(), None, ""
    while time.monotonic() - begun < SLOW:
        await asyncio.sleep(0.05)
        run = recorder.stations["L1"].run
        if stopped is None and run is not None and run.stopped is not None:
            stopped, sentence = time.monotonic() - begun, f"{run.code}: {run.sentence}"
    told.write_text("0")
    if stopped is None:
        await ask(live.request_stop, "L1", **now_why())
    stream = await ended(answer.run_id, within=LONGEST)
    return {
        "stream": stream.stream_id, "stopped_s": stopped, "sentence": sentence, "outcome": stream.outcome,
        "taken": len(taken), "lost": recorder.store.lost,
    }  # fmt: skip


def _head():
    ask = ["git", "rev-parse", "--short", "HEAD"]
    commit = subprocess.run(ask, cwd=ROOT, capture_output=True, text=True, check=False).stdout.strip()
    return [
        "# Campaign: a slow disk",
        "",
        f"Made by `./dev campaign slow_disk` at commit {commit}: a run under the recorder, its records (SQLite) on a file",
        f"system whose every sync takes its time from {QUICK:g} s after the start on, for {SLOW:g} s; then it is quick again.",
        "",
        "| each sync takes, s | run stopped after, s | by | readings taken | stored | lost | faults of the chain |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]


def _line(delay, one):
    stopped = "not stopped" if one["stopped_s"] is None else f"{one['stopped_s']:.1f}"
    by = one["sentence"] or f"`{one['outcome']}`, asked for"
    return f"| {delay:g} | {stopped} | {by} | {one['taken']} | {one['stored']} | {one['lost']} | {len(one['chain'])} |"


def _words():
    return [
        "The file system is `tests/benchmark/slow_disk.py`, mounted by FUSE: every read, write and sync of SQLite goes",
        "through it, one at a time. While a sync lasts, readings wait in memory; the stop sees them at once.",
    ]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
