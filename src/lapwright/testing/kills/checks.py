"""What must hold after a kill: the database opens and is whole, the chain holds, and each work's own facts.

Every check gives what is wrong as sentences, the kind of fault first; it runs in a process of its own, as a person
would come back to the bench: the program is started once more, and the work goes on.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from typing import Any

from lapwright.testing.kills.databases import Bench
from lapwright.testing.kills.works import (
    FILES,
    OLD_ROWS,
    POSTS,
    SITES,
    WAFERS,
    file_of,
    opened,
    stream_of,
    value_text,
)
from lapwright.testing.lot import ORDER

KINDS = ("lost", "half-written", "not whole", "chain", "does not go on")


def faults_after(bench: Bench, work: str, told: Sequence[str]) -> list[str]:
    """Everything that is wrong after a kill."""
    opened(bench)
    return [*_common(), *CHECKS[work](bench, told), *_common()]


# ----------------------------------------------------------------------------------------------------------------------


def _common() -> Iterator[str]:
    """The database as it finds itself, and the chain."""
    from django.db import connection

    from lapwright.app.verification import verify_records
    from lapwright.records import queries

    good, sentence = queries.database_check()
    if not good:
        yield f"not whole: {sentence}"
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA integrity_check")
            if (found := cursor.fetchone()[0]) != "ok":
                yield f"not whole: {found}"
    for fault in verify_records().faults:
        if fault.kind != "no_anchor":  # killed between the first commit and its anchor
            yield f"chain: {fault.kind}: {fault.sentence}"


def _after_import(bench: Bench, told: Sequence[str]) -> Iterator[str]:
    """Files told as imported are there whole, one more may be; then the rest is imported."""
    import hashlib

    from lapwright.cli.main import exit_status

    done = [json.loads(line)["result"]["file"] for line in told]
    found = []
    for number in range(FILES):
        path = file_of(bench, number)
        sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
        sets = _count("readingset WHERE source_sha256 = %s", sha256)
        kept = _count(
            "reading r JOIN records_readingset s ON r.set_id = s.id"
            " WHERE s.source_sha256 = %s AND r.kind = 'site' AND r.text = '500.0' AND r.unit = 'µm'",
            sha256,
        )
        found.append(kept)
        if path.name in done and kept < WAFERS * (SITES + number):
            yield f"lost: {path.name} was told as imported and has {kept} readings"
        if kept not in (0, WAFERS * (SITES + number)) or sets not in (0, WAFERS):
            yield f"half-written: {path.name} has {sets} sets with {kept} readings"
    if sum(map(bool, found)) > len(done) + 1:
        yield f"half-written: {len(done)} files were told as imported and {sum(map(bool, found))} are there"
    everything = _count("reading")
    if everything != sum(found):
        yield f"half-written: {everything} readings on record, {sum(found)} of the files"
    for number, kept in enumerate(found):
        words = ["import", str(file_of(bench, number)), "--gauge", "G1", "--data", str(bench.data)]
        if not kept and exit_status(words):
            yield f"does not go on: file {number} is refused"
        if not kept:
            break


def _after_readings(bench: Bench, told: Sequence[str]) -> Iterator[str]:
    """Readings told are there in their order, one more may be; then the next is taken."""
    from lapwright.app import readings

    del bench
    taken = readings.show_set(1).readings
    if len(taken) < len(told):
        yield f"lost: {len(told)} readings were acknowledged and {len(taken)} are there"
    if len(taken) > min(len(told) + 1, POSTS):
        yield f"half-written: {len(told)} readings were acknowledged and {len(taken)} are there"
    for number, one in enumerate(taken):
        text = value_text(number)
        if (one.reading.text, one.reading.thickness) != (text, float(text) / 1e6):
            yield f"half-written: reading {number} is {one.reading.text!r}, typed was {text!r}"
    why = {"by": "local", "reason": "after the kill", "at": datetime.now(tz=UTC)}
    if taken:
        answer = readings.record_reading(1, value_text(len(taken)), **why)  # type: ignore[arg-type]
        kept = answer.stored is not None
    else:
        kept = readings.record_zero(1, value_text(0), when="before", **why).stored is not None  # type: ignore[arg-type]
    if not kept or len(readings.show_set(1).readings) != len(taken) + 1:
        yield "does not go on: the next reading was not taken"


def _after_recording(bench: Bench, told: Sequence[str]) -> Iterator[str]:
    """Readings shown as stored are there as they were, run and stream are there together; the run is marked."""
    import numpy as np

    from lapwright.app.recorder.loop import mark_interrupted
    from lapwright.records import stream_queries

    if told and _count("liverequest") != 1:
        yield "lost: the request to start was acknowledged and is not there"
    runs, streams = _count("run"), _count("stream")
    if runs != streams:
        yield f"half-written: {runs} runs and {streams} streams"
    shown = [line.split() for line in told if line.startswith("stored ")]
    if mark_interrupted(datetime.now(tz=UTC)) != streams:
        yield "does not go on: the stream was not found open"
    if streams == 0:
        if shown:
            yield "lost: a run was shown and is not there"
        return
    (number, run_id), (outcome, ended) = (
        _row("id, run_id FROM records_stream"),
        _row("e.outcome, r.ended_at FROM records_streamend e, records_run r"),
    )
    times, lengths = stream_queries.stream_readings(number)
    if shown and (run_id != int(shown[-1][1]) or times.size < int(shown[-1][2])):
        yield f"lost: run {shown[-1][1]} was shown with {shown[-1][2]} readings, {times.size} are there"
    sent = np.loadtxt(stream_of(bench), delimiter=",", skiprows=1)[:, 1] / 1e6
    taken = (sent[place : place + times.size] for place in range(3))  # the reading that waits for the start is none
    if not any(np.allclose(one, lengths, atol=1e-12) for one in taken) or np.any(np.diff(times) <= 0.0):
        yield "half-written: the readings of the stream are not those of the gauge"
    if (outcome, ended is None) != ("interrupted", False):
        yield f"does not go on: the stream ended {outcome!r}"


def _after_upgrade(bench: Bench, told: Sequence[str]) -> Iterator[str]:
    """All rows from before are there and told of by the chain, and the schema is today's."""
    from lapwright.app import orders

    del told
    story = orders.show_order("AP-1")
    kept = sorted(note.text for note in story.notes)
    if kept != sorted(f"note {number}" for number in range(OLD_ROWS)):
        yield f"lost: {len(kept)} of {OLD_ROWS} notes are there"
    if story.order.order != ORDER:
        yield "lost: the order is another"
    yield from _after_first_start(bench, ())


def _after_first_start(bench: Bench, told: Sequence[str]) -> Iterator[str]:
    """The schema is today's, the key is whole, the local person is there, and something can be written."""
    from lapwright.app import shelf
    from lapwright.records import starting, upgrading
    from lapwright.testing.lot import JIG

    del told
    if upgrading.pending_migrations():
        yield f"does not go on: {upgrading.pending_migrations()} are missing"
    if len(starting.secret_key(bench.data)) < 50:
        yield "half-written: the key of the sessions"
    if _count("person WHERE username = 'local'") != 1:
        yield "lost: the local person"
    shelf.register_jig(JIG, by="local", reason="after the kill", at=datetime.now(tz=UTC))


def _count(of: str, *values: str) -> int:
    """How many rows a table has, as the database itself says."""
    return int(_row(f"count(*) FROM records_{of}", *values)[0])


def _row(wanted: str, *values: str) -> Any:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {wanted}", values)
        return cursor.fetchone()


CHECKS: dict[str, Callable[[Bench, Sequence[str]], Iterator[str]]] = {
    "import": _after_import,
    "readings": _after_readings,
    "recording": _after_recording,
    "upgrade": _after_upgrade,
    "first-start": _after_first_start,
}
