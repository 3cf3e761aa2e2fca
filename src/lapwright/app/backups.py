"""Use cases: backups of everything, made while the work goes on, and restored.

A backup is a folder: the records as one SQLite file, the files kept with them, the anchors of the chain, the settings,
the session key, and a list of all of it with the SHA-256 of each. It is believed only after it has been restored once,
into a folder of its own, and verified there.

The anchors are read first and the documents last: so the records hold every link that is anchored, and every document
that they name is there.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from lapwright import __version__
from lapwright.errors import Conflict, NotFound, RecordError
from lapwright.settings import FILE_NAME, PREFIX, Settings

LIST = "backup.json"
RECORDS = "lapwright.sqlite3"
SETTINGS = (
    "settings.toml"  # under another name, so that a backup opened by mistake never asks the laboratory's database
)
ANCHORS = "chain-anchors"
CHUNK = 1 << 20  # bytes
PART = ".part"
_NAME = re.compile(r"lapwright-\d{8}T\d{6}Z")
_LEFT_OUT = re.compile(
    r".*\.(part|new|lock|sqlite3(-wal|-shm|-journal)?)|\.upgrade-lock|recorder\.json|\.lapwright-probe"
)
_DATABASE_LINE = re.compile(r"^(\s*database\s*=.*)$", re.MULTILINE)


@dataclass(frozen=True, slots=True, kw_only=True)
class BackedFile:
    """A file of a backup: its path in it, its size and its SHA-256."""

    path: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """A backup: where it lies, when and by which version it was made, how far its chain reaches, and its files.

    `verified` is when it was last restored for a try and found whole; None before that.
    """

    folder: Path
    at: datetime
    version: str
    last_number: int
    last_digest: str
    files: tuple[BackedFile, ...]
    verified: datetime | None = None

    @property
    def size(self) -> int:
        """Bytes of all files."""
        return sum(one.size for one in self.files)


def backup_folder(settings: Settings) -> Path:
    """Where backups lie unless told otherwise."""
    return Path(settings.backups).expanduser() if settings.backups else settings.data / "backups"


def make_backup(settings: Settings, folder: Path, *, at: datetime) -> Backup:
    """Write a backup of everything into a new folder within `folder`; the work goes on meanwhile.

    Before it the database looks anew at how its tables are filled: backups are what a laboratory makes every night.
    Raises `RecordError` when it cannot be written; nothing that looks like a backup is then left.
    """
    from lapwright.records import snapshots, statistics

    target = folder / f"lapwright-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    part = target.with_name(f"{target.name}{PART}")
    if target.exists():
        raise Conflict(f"There is a backup of this second already: {target}. Wait a moment.")
    statistics.renew_statistics()
    try:
        part.mkdir(parents=True, mode=0o700)
        files = [_copied(settings.data / ANCHORS, part, ANCHORS)] if (settings.data / ANCHORS).exists() else []
        snapshots.snapshot_into(part / RECORDS)
        files.append(_described(part / RECORDS, RECORDS))
        files += [_copied(source, part, name) for source, name in _kept_files(settings.data, folder)]
        last_number, last_digest = snapshots.last_link_in(part / RECORDS)
        made = Backup(
            folder=target, at=at, version=__version__, last_number=last_number, last_digest=last_digest,
            files=tuple(files),
        )  # fmt: skip
        _write_list(part, made)
        part.replace(target)
    except OSError as error:
        shutil.rmtree(part, ignore_errors=True)
        raise RecordError(f"The backup cannot be written to {folder}: {error.strerror}. Check its room.") from error
    except BaseException:
        shutil.rmtree(part, ignore_errors=True)
        raise
    return made


def read_backup(folder: Path) -> Backup:
    """The backup in a folder. Raises `NotFound` when there is none."""
    try:
        plain: dict[str, Any] = json.loads((folder / LIST).read_text(encoding="utf-8"))
        return Backup(
            folder=folder,
            at=datetime.fromisoformat(plain["at"]),
            version=plain["version"],
            last_number=plain["last_number"],
            last_digest=plain["last_digest"],
            files=tuple(_listed(one) for one in plain["files"]),
            verified=datetime.fromisoformat(plain["verified"]) if plain["verified"] else None,
        )
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise NotFound(f"{folder} is no backup: there is no list {LIST} in it that could be read.") from error


def list_backups(folder: Path) -> tuple[Backup, ...]:
    """The backups in a folder, the newest first."""
    found = sorted((one for one in folder.glob("lapwright-*") if _NAME.fullmatch(one.name)), reverse=True)
    return tuple(read_backup(one) for one in found if (one / LIST).exists())


def drop_old(folder: Path, *, keep: int) -> tuple[Backup, ...]:
    """Remove all backups but the newest `keep`; those that were removed."""
    old = list_backups(folder)[keep:]
    for one in old:
        shutil.rmtree(one.folder)
    return old


def mark_verified(backup: Backup, *, at: datetime) -> None:
    """Note in the backup's list that it was restored and found whole."""
    plain = json.loads((backup.folder / LIST).read_text(encoding="utf-8"))
    _put(backup.folder / LIST, json.dumps({**plain, "verified": at.isoformat()}, indent=1))


def restore_files(backup: Backup, data: Path) -> None:
    """Make a data folder of a backup, each file compared with its SHA-256 on the way.

    The setting of the database is left out, so that the restored records are opened and not those the laboratory works
    with. Raises `Conflict` for a folder that holds something, `RecordError` for a file that is missing or altered;
    nothing is then left.
    """
    if data.exists() and any(data.iterdir()):
        raise Conflict(f"The folder {data} is not empty. Restore into a new one; nothing is ever overwritten.")
    part = data.with_name(f"{data.name}{PART}")
    shutil.rmtree(part, ignore_errors=True)
    try:
        part.mkdir(parents=True, mode=0o700)
        _unpack(backup, part)
        _put_settings(part)
        if data.exists():
            data.rmdir()
        part.replace(data)
    except OSError as error:
        shutil.rmtree(part, ignore_errors=True)
        place = error.filename or data
        raise RecordError(
            f"The backup cannot be restored: {place}: {error.strerror}. Check it and the room."
        ) from error
    except BaseException:
        shutil.rmtree(part, ignore_errors=True)
        raise


def try_backup(backup: Backup, *, at: datetime) -> dict[str, Any]:
    """Restore a backup into a folder beside it, verify that with a process of its own, and remove it again.

    What `lapwright verify` says of the restored records. Raises `RecordError` when they cannot be opened, or do not
    end where the backup says.
    """
    place = backup.folder.with_name(f".{backup.folder.name}-try")
    shutil.rmtree(place, ignore_errors=True)
    try:
        restore_files(backup, place)
        command = [sys.executable, "-m", "lapwright", "verify", "--data", str(place), "--json"]
        surroundings = {name: value for name, value in os.environ.items() if not name.startswith(PREFIX)}
        done = subprocess.run(command, env=surroundings, capture_output=True, text=True, check=False)  # noqa: S603  ours
        answer = json.loads(done.stdout or "{}")
    finally:
        shutil.rmtree(place, ignore_errors=True)
    if not answer.get("ok"):
        said = answer.get("error") or done.stderr.strip()[-200:]
        raise RecordError(f"The backup {backup.folder} was restored and cannot be opened: {said}")
    found: dict[str, Any] = answer["result"]
    if (found["last_number"], found["last_digest"]) != (backup.last_number, backup.last_digest):
        raise RecordError(
            f"The backup {backup.folder} was restored and ends at link {found['last_number']}, not at"
            f" {backup.last_number}. Make another one."
        )
    mark_verified(backup, at=at)
    return found


# ----------------------------------------------------------------------------------------------------------------------


def _kept_files(data: Path, backups: Path) -> Iterator[tuple[Path, str]]:
    """What lies in the data folder besides the database, and under which name it goes into a backup."""
    for place, folders, names in os.walk(data):
        here = Path(place)
        folders[:] = sorted(one for one in folders if (here / one) not in (backups, data / "backups"))
        for name in sorted(names):
            source = here / name
            inside = source.relative_to(data).as_posix()
            if source.is_symlink() or not source.is_file() or _LEFT_OUT.fullmatch(name) or inside == ANCHORS:
                continue
            yield source, SETTINGS if inside == FILE_NAME else inside


def _copied(source: Path, folder: Path, name: str) -> BackedFile:
    """A file copied into a folder by portions, and on the disk."""
    found, size, target = hashlib.sha256(), 0, folder / name
    target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    handle = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with source.open("rb") as reading, os.fdopen(handle, "wb") as writing:
        while portion := reading.read(CHUNK):
            writing.write(portion)
            found.update(portion)
            size += len(portion)
        writing.flush()
        os.fsync(writing.fileno())
    return BackedFile(path=name, size=size, sha256=found.hexdigest())


def _described(path: Path, name: str) -> BackedFile:
    found = hashlib.sha256()
    with path.open("rb") as reading:
        while portion := reading.read(CHUNK):
            found.update(portion)
    path.chmod(0o600)
    return BackedFile(path=name, size=path.stat().st_size, sha256=found.hexdigest())


def _unpack(backup: Backup, part: Path) -> None:
    for one in backup.files:
        if _copied(backup.folder / one.path, part, one.path) != one:
            raise RecordError(
                f"The file {one.path} of the backup {backup.folder} is not the one that was written: its SHA-256"
                " differs. Take another backup."
            )


def _listed(plain: dict[str, Any]) -> BackedFile:
    """A line of the list; a path that leaves the folder is none."""
    found = BackedFile(**plain)
    if Path(found.path).is_absolute() or ".." in Path(found.path).parts:
        raise ValueError(found.path)
    return found


def _write_list(part: Path, made: Backup) -> None:
    plain = {name: value for name, value in asdict(made).items() if name != "folder"}
    _put(part / LIST, json.dumps({**plain, "at": made.at.isoformat()}, indent=1))


def _put(path: Path, text: str) -> None:
    spare = path.with_name(f"{path.name}.new")
    with spare.open("w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    spare.replace(path)


def _put_settings(part: Path) -> None:
    if (part / SETTINGS).exists():
        text = (part / SETTINGS).read_text(encoding="utf-8")
        (part / SETTINGS).unlink()
        _put(part / FILE_NAME, _DATABASE_LINE.sub(r"# left out when restored: \1", text))
