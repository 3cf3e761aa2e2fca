"""Use case: looking whether the program is fit for work on this machine."""

from __future__ import annotations

import platform
import shutil
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from lapwright import __version__
from lapwright.errors import LapwrightError
from lapwright.settings import Settings

LEAST_ROOM = 500 * 1024 * 1024  # bytes free; common practice, no source
EARLIEST = 2026  # a clock before the year the program was written is wrong


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One thing looked at: its name, whether it is in order, and a sentence with what to do if not."""

    name: str
    good: bool
    sentence: str


def examine(settings: Settings, *, now: datetime) -> tuple[Check, ...]:
    """Version, data folder and its permissions, disk, database, gauges due. Never raises for what it looks at."""
    checks = [
        Check(name="version", good=True, sentence=f"Lapwright {__version__}, Python {platform.python_version()}."),
        _clock(now),
        _folder(settings.data),
        _room(settings.data),
    ]
    started = _checked("database", lambda: _database(settings))
    checks.append(started)
    if started.good:
        checks += [_key(settings.data), _checked("gauges", lambda: _gauges(now))]
    return tuple(checks)


# ----------------------------------------------------------------------------------------------------------------------


def _checked(name: str, look: Callable[[], tuple[bool, str]]) -> Check:
    try:
        good, sentence = look()
    except LapwrightError as error:
        return Check(name=name, good=False, sentence=error.sentence)
    return Check(name=name, good=good, sentence=sentence)


def _clock(now: datetime) -> Check:
    if now.year < EARLIEST:
        sentence = f"The clock says {now:%Y-%m-%d}. Set it; every record carries the time."
        return Check(name="clock", good=False, sentence=sentence)
    return Check(name="clock", good=True, sentence=f"{now:%Y-%m-%d %H:%M:%S} UTC.")


def _folder(folder: Path) -> Check:
    nearest = next((one for one in (folder, *folder.parents) if one.exists()), folder)
    probe = nearest / ".lapwright-probe"
    try:
        probe.write_bytes(b"")
        probe.unlink()
    except OSError as error:
        sentence = f"The folder {nearest} cannot be written: {error.strerror}. Mend its permissions or use --data."
        return Check(name="data folder", good=False, sentence=sentence)
    return Check(name="data folder", good=True, sentence=f"{folder} can be written.")


def _room(folder: Path) -> Check:
    nearest = next((one for one in (folder, *folder.parents) if one.exists()), Path("/"))
    free = shutil.disk_usage(nearest).free
    sentence = f"{free / 1e9:.1f} GB free."
    if free < LEAST_ROOM:
        return Check(name="disk", good=False, sentence=f"{sentence} Make room: records need {LEAST_ROOM / 1e9:.1f} GB.")
    return Check(name="disk", good=True, sentence=sentence)


def _key(folder: Path) -> Check:
    from lapwright.records.starting import KEY_FILE

    path = folder / KEY_FILE
    mode = stat.S_IMODE(path.stat().st_mode) if path.exists() else 0o600
    if mode & 0o077:
        sentence = f"Others may read the key file {path} (mode {mode:o}). Run: chmod 600 {path}"
        return Check(name="permissions", good=False, sentence=sentence)
    return Check(name="permissions", good=True, sentence="The key file can be read by its owner alone.")


def _database(settings: Settings) -> tuple[bool, str]:
    from lapwright.app import wiring

    wiring.start(settings)
    from lapwright.records import queries  # loads the tables, which the start makes ready

    return queries.database_check()


def _gauges(now: datetime) -> tuple[bool, str]:
    found = list(_gauge_sentences(now))
    return not found, " ".join(found) or "No gauge is overdue."


def _gauge_sentences(now: datetime) -> Iterator[str]:
    from lapwright.app import gauges

    for recorded in gauges.list_gauges(on=now.date()):
        if recorded.calibration_state not in ("in_date", "due_soon"):
            yield from gauges.warnings_of(recorded, on=now.date())
