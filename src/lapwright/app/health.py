"""Use case: looking whether the program is fit for work on this machine."""

from __future__ import annotations

import platform
import shutil
import stat
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path

from lapwright import __version__
from lapwright.app import backups
from lapwright.errors import LapwrightError, SchemaTooNew
from lapwright.model.program import ProgramCheck, RecordsState
from lapwright.settings import FILE_NAME, Settings

LEAST_ROOM = 500 * 1024 * 1024  # bytes free; common practice, no source
EARLIEST = 2026  # a clock before the year the program was written is wrong
CLOCKS_APART = 2.0  # s between this machine's clock and the database server's; common practice, no source


def examine(settings: Settings, *, now: datetime) -> tuple[ProgramCheck, ...]:
    """Version, clock, folder, disk, permissions, database, schema, recorder, gauges, backups, chain.

    Never raises for what it looks at; each line says what to do.
    """
    checks = [
        _good("version", f"Lapwright {__version__}, Python {platform.python_version()}."),
        _clock(now),
        _folder(settings.data),
        _disk("disk", settings.data, LEAST_ROOM),
        _permissions(settings),
        _checked("database", lambda: _database(settings)),
    ]
    if checks[-1].is_good:
        from lapwright.records import state_queries  # loads the tables, which the start makes ready

        state = state_queries.records_state()
        checks += [
            _good("schema", f"The tables are those of this version: {state.schema}."),
            _checked("clocks", lambda: _clocks(state, now)),
            _checked("recorder", lambda: _recorder(settings, state)),
            _checked("gauges", lambda: _gauges(now)),
            _checked("chain", _chain),
        ]
    checks.append(_checked("backups", lambda: _backups(settings, now)))
    return tuple(checks)


def is_on_one_disk(first: Path, second: Path) -> bool:
    """Whether two folders would be lost together."""
    return first.stat().st_dev == second.stat().st_dev


# ----------------------------------------------------------------------------------------------------------------------


def _good(name: str, sentence: str) -> ProgramCheck:
    return ProgramCheck(name=name, verdict="good", sentence=sentence)


def _checked(name: str, look: Callable[[], ProgramCheck]) -> ProgramCheck:
    try:
        return look()
    except SchemaTooNew as error:
        advice = "Update the program on this machine."
        return ProgramCheck(name="schema", verdict="wrong", sentence=error.sentence, advice=advice)
    except LapwrightError as error:
        advice = "See to that first; then look again."
        return ProgramCheck(name=name, verdict="wrong", sentence=error.sentence, advice=advice)


def _clock(now: datetime) -> ProgramCheck:
    if now.year < EARLIEST:
        sentence = f"The clock says {now:%Y-%m-%d}, which is before this program was written."
        return ProgramCheck(
            name="clock", verdict="wrong", sentence=sentence, advice="Set it; every record carries the time."
        )
    return _good("clock", f"{now:%Y-%m-%d %H:%M:%S} UTC.")


def _nearest(folder: Path) -> Path:
    return next((one for one in (folder, *folder.parents) if one.exists()), Path("/"))


def _folder(folder: Path) -> ProgramCheck:
    nearest = _nearest(folder)
    probe = nearest / ".lapwright-probe"
    try:
        probe.write_bytes(b"")
        probe.unlink()
    except OSError as error:
        sentence = f"The folder {nearest} cannot be written: {error.strerror}."
        return ProgramCheck(
            name="data folder", verdict="wrong", sentence=sentence, advice="Mend its permissions or use --data."
        )
    return _good("data folder", f"{folder} can be written.")


def _disk(name: str, folder: Path, least: int) -> ProgramCheck:
    free = shutil.disk_usage(_nearest(folder)).free
    sentence = f"{free / 1e9:.1f} GB free; {least / 1e9:.1f} GB are wanted."
    if free < least:
        return ProgramCheck(
            name=name, verdict="wrong", sentence=sentence, advice="Make room before the next run is recorded."
        )
    return _good(name, f"{free / 1e9:.1f} GB free.")


def _permissions(settings: Settings) -> ProgramCheck:
    """Others may read neither the key that signs sessions nor, in the settings, the password of the database."""
    from lapwright.records.starting import KEY_FILE

    secret = [settings.data / KEY_FILE]
    if settings.origins.get("database") == "file" and "@" in settings.database:
        secret.append(settings.data / FILE_NAME)
    for path in secret:
        mode = stat.S_IMODE(path.stat().st_mode) if path.exists() else 0o600
        if mode & 0o077:
            sentence = f"Others may read {path} (mode {mode:o}), which holds a secret."
            return ProgramCheck(name="permissions", verdict="wrong", sentence=sentence, advice=f"Run: chmod 600 {path}")
    return _good("permissions", "What is secret in the data folder can be read by its owner alone.")


def _database(settings: Settings) -> ProgramCheck:
    from lapwright.app import wiring

    wiring.start(settings)
    from lapwright.records import queries

    good, sentence = queries.database_check()
    if good:
        return _good("database", sentence)
    return ProgramCheck(name="database", verdict="wrong", sentence=sentence, advice="Restore the last backup.")


def _clocks(state: RecordsState, now: datetime) -> ProgramCheck:
    """The times of records must go forward, on whichever machine they are written."""
    from lapwright.records import state_queries

    server = state_queries.server_time()
    if server is not None and abs((server - now).total_seconds()) > CLOCKS_APART:
        apart = (now - server).total_seconds()
        return ProgramCheck(
            name="clocks", verdict="wrong",
            sentence=f"This machine's clock is {apart:+.1f} s from the database server's ({CLOCKS_APART:g} s allowed).",
            advice="Have both follow one time server.",
        )  # fmt: skip
    if state.last_write is not None and state.last_write - now > timedelta(seconds=CLOCKS_APART):
        return ProgramCheck(
            name="clocks", verdict="wrong",
            sentence=f"The last record was written at {state.last_write:%Y-%m-%d %H:%M:%S} UTC, still to come.",
            advice="Set the clock; whichever machine wrote that was ahead, or this one is behind.",
        )  # fmt: skip
    return _good("clocks", "The clock is behind no record, and agrees with the database server's.")


def _recorder(settings: Settings, state: RecordsState) -> ProgramCheck:
    from lapwright.app import live
    from lapwright.app.recorder.broadcast import ADDRESS_FILE

    feeds = live.list_feeds()
    if state.requests_waiting:
        sentence = f"{state.requests_waiting} requests to the recorder have no answer."
        advice = "Start `lapwright record`, or `lapwright serve`, which starts one."
        return ProgramCheck(name="recorder", verdict="look", sentence=sentence, advice=advice)
    if not feeds:
        return _good("recorder", "No station has a gauge to be followed.")
    running = (settings.data / ADDRESS_FILE).exists()
    where = (
        "one runs on this machine" if running else "none runs on this machine; pages or another machine may have one"
    )
    return _good("recorder", f"{len(feeds)} stations have a gauge; {where}.")


def _gauges(now: datetime) -> ProgramCheck:
    found = list(_gauge_sentences(now))
    if found:
        advice = "Have them calibrated, or take them out of use; their readings say so meanwhile."
        return ProgramCheck(name="gauges", verdict="look", sentence=" ".join(found), advice=advice)
    return _good("gauges", "No gauge is overdue.")


def _gauge_sentences(now: datetime) -> Iterator[str]:
    from lapwright.app import gauges

    for recorded in gauges.list_gauges(on=now.date()):
        if recorded.calibration_state not in ("in_date", "due_soon"):
            yield from gauges.warnings_of(recorded, on=now.date())


def _chain() -> ProgramCheck:
    """Only its end: all of it takes `lapwright verify`."""
    from lapwright.records import state_queries

    anchor = state_queries.anchored_end()
    if anchor is None:
        sentence = "There is no anchor of this chain in the data folder, so nobody can tell whether its end is missing."
        return ProgramCheck(
            name="chain", verdict="look", sentence=sentence, advice="Fetch chain-anchors from the last backup."
        )
    if state_queries.link_digest_of(anchor[0]) != anchor[1]:
        sentence = f"The chain does not have the link {anchor[0]} that was anchored last."
        return ProgramCheck(name="chain", verdict="wrong", sentence=sentence, advice="Run: lapwright verify")
    return _good("chain", f"It has the link {anchor[0]} that was anchored last; `lapwright verify` looks at all of it.")


def _backups(settings: Settings, now: datetime) -> ProgramCheck:
    folder = backups.backup_folder(settings)
    advice = f"Run: lapwright backup --to {folder}"
    found = backups.list_backups(folder)
    if not found:
        sentence = f"There is no backup in {folder}."
        return ProgramCheck(name="backups", verdict="look", sentence=sentence, advice=advice)
    last = found[0]
    days = (now - last.at).total_seconds() / 86400.0
    sentence = f"The last one is {days:.1f} days old ({last.folder.name})"
    if days > settings.backup_notice_days:
        sentence += f"; {settings.backup_notice_days} are allowed."
        return ProgramCheck(name="backups", verdict="look", sentence=sentence, advice=advice)
    if last.verified is None:
        return ProgramCheck(
            name="backups", verdict="look", sentence=f"{sentence} and was never restored for a try.", advice=advice
        )
    if is_on_one_disk(folder, settings.data):
        advice = "Set `backups` to a folder on another one."
        return ProgramCheck(
            name="backups",
            verdict="look",
            sentence=f"{sentence}, on the disk of the records themselves.",
            advice=advice,
        )
    return _good("backups", f"{sentence} and was restored for a try.")
