"""The rounds of the practice shop, in a database file of their own: no table of the records knows of them.

The file is SQLite whatever the records are kept in, lies in its own folder, and can be deleted at any time.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import asdict
from datetime import datetime
from pathlib import Path

from lapwright.errors import NotFound, RecordError
from lapwright.model.practice import FaultName, PracticeRound, PracticeScore, PracticeView

FOLDER, FILE = "practice", "practice.sqlite3"
_TABLE = """
CREATE TABLE IF NOT EXISTS rounds (
    id INTEGER PRIMARY KEY AUTOINCREMENT, person TEXT NOT NULL, number INTEGER NOT NULL, view TEXT NOT NULL,
    seed INTEGER NOT NULL, began TEXT NOT NULL, stopped_s REAL, by_itself INTEGER NOT NULL DEFAULT 0, said TEXT,
    score TEXT, UNIQUE (person, view, number)
)
"""
_COLUMNS = "id, person, number, view, seed, began, stopped_s, by_itself, said, score"


def add_round(folder: Path, person: str, view: PracticeView, seed: int, began: datetime) -> PracticeRound:
    """A new round, numbered after the last of this person that was shown the same way."""
    with _opened(folder) as database:
        held = database.execute(
            "SELECT COALESCE(MAX(number), 0) FROM rounds WHERE person = ? AND view = ?", (person, view)
        )
        number = int(held.fetchone()[0]) + 1
        cursor = database.execute(
            "INSERT INTO rounds (person, number, view, seed, began) VALUES (?, ?, ?, ?, ?)",
            (person, number, view, seed, began.isoformat()),
        )
        return _one(database, int(cursor.lastrowid or 0))


def round_of(folder: Path, round_id: int) -> PracticeRound:
    """One round. Raises `NotFound`."""
    with _opened(folder) as database:
        return _one(database, round_id)


def rounds(folder: Path, *, person: str | None = None) -> tuple[PracticeRound, ...]:
    """The rounds of one person or of all, the latest first."""
    asked = f"SELECT {_COLUMNS} FROM rounds"  # noqa: S608  names of our own columns
    with _opened(folder) as database:
        if person is None:
            found = database.execute(f"{asked} ORDER BY id DESC")
        else:
            found = database.execute(f"{asked} WHERE person = ? ORDER BY id DESC", (person,))
        return tuple(_round(row) for row in found.fetchall())


def stop_round(folder: Path, round_id: int, after: float, *, by_itself: bool = False) -> PracticeRound:
    """Note when a round was stopped; the first stop counts, a later one changes nothing."""
    with _opened(folder) as database:
        database.execute(
            "UPDATE rounds SET stopped_s = ?, by_itself = ? WHERE id = ? AND stopped_s IS NULL",
            (after, int(by_itself), round_id),
        )
        return _one(database, round_id)


def score_round(folder: Path, round_id: int, said: FaultName, score: PracticeScore) -> PracticeRound:
    """Note what the person said and the score; the first answer counts."""
    with _opened(folder) as database:
        database.execute(
            "UPDATE rounds SET said = ?, score = ? WHERE id = ? AND said IS NULL AND stopped_s IS NOT NULL",
            (said, json.dumps(asdict(score)), round_id),
        )
        return _one(database, round_id)


# ----------------------------------------------------------------------------------------------------------------------


@contextmanager
def _opened(folder: Path) -> Iterator[sqlite3.Connection]:
    """The database of the practice, in one transaction. Raises `RecordError` when it cannot be used."""
    path = folder / FOLDER / FILE
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with closing(sqlite3.connect(path, timeout=10.0, isolation_level=None)) as database:
            database.execute(_TABLE)
            database.execute("BEGIN IMMEDIATE")
            try:
                yield database
            except BaseException:
                database.execute("ROLLBACK")
                raise
            database.execute("COMMIT")
    except (sqlite3.Error, OSError) as error:
        raise RecordError(
            f"The rounds of the practice cannot be kept in {FOLDER}/{FILE}: {error}. Check room and permissions, or"
            " delete that file of the data folder; no record is in it."
        ) from error


def _one(database: sqlite3.Connection, round_id: int) -> PracticeRound:
    row = database.execute(f"SELECT {_COLUMNS} FROM rounds WHERE id = ?", (round_id,)).fetchone()  # noqa: S608  as above
    if row is None:
        raise NotFound(f"No practice round {round_id} is kept. Open the list of rounds.")
    return _round(row)


def _round(row: tuple[object, ...]) -> PracticeRound:
    key, person, number, view, seed, began, stopped, by_itself, said, score = row
    return PracticeRound(
        round_id=int(str(key)),
        person=str(person),
        number=int(str(number)),
        view=str(view),  # type: ignore[arg-type]
        seed=int(str(seed)),
        began=datetime.fromisoformat(str(began)),
        stopped_after=None if stopped is None else float(str(stopped)),
        by_itself=bool(by_itself),
        said=None if said is None else str(said),  # type: ignore[arg-type]
        score=None if score is None else PracticeScore(**json.loads(str(score))),
    )
