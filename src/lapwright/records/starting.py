"""Starting the records once: Django set up from our settings, the database brought up to date.

Django's settings are the one global there is. A second start with other settings is refused, because Django cannot be
set up twice in one process.
"""

from __future__ import annotations

import os
import secrets
import tempfile
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from lapwright.errors import RecordError, SettingError
from lapwright.settings import Settings

KEY_FILE = "session-key"

_started: Settings | None = None


def start(settings: Settings, *, serving: bool = False) -> None:
    """Set Django up from `settings`, create or upgrade the database, and make the local person known.

    A process that is `serving` keeps connections to PostgreSQL open and shares them among its threads. Again with the
    same settings it does nothing. Raises `SettingError` with others, `SchemaTooNew` for a database of a newer version,
    `RecordError` when folder or database cannot be used.
    """
    global _started  # noqa: PLW0603  Django is set up once in a process, so this is known once, too
    if _started is not None:
        _need_same(_started, settings)
        return
    _make_folder(settings.data)
    _started = settings
    try:
        os.environ["DJANGO_SETTINGS_MODULE"] = "lapwright.records.django_settings"
        import django

        django.setup()
        from lapwright.records import upgrading

        upgrading.bring_up_to_date(settings)
        if serving:
            from lapwright.records import sharing, statistics

            statistics.renew_statistics()
            sharing.share_connections()
    except BaseException:
        _started = None
        raise


def current_settings() -> Settings:
    """The settings the records were started with. Raises `RecordError` before the start."""
    if _started is None:
        raise RecordError("The records have not been started. Call start(settings) first.")
    return _started


def settings_or_default() -> Settings:
    """The settings of the start; before it (a type checker reading Django's settings) the defaults in no folder."""
    return _started or Settings(data=Path())


def secret_key(folder: Path) -> str:
    """The key that signs sessions: made once, kept in the data folder, readable by its owner alone."""
    path = folder / KEY_FILE
    if not path.exists():
        try:
            _put_key(path)
        except OSError as error:
            raise RecordError(f"The key file {path} cannot be written: {error.strerror}. Check the folder.") from error
    return path.read_text(encoding="ascii").strip()


# ----------------------------------------------------------------------------------------------------------------------


def _need_same(first: Settings, second: Settings) -> None:
    if replace(first, origins=MappingProxyType({})) != replace(second, origins=MappingProxyType({})):
        raise SettingError(
            f"The records of {first.data} are open in this process, with other settings than those asked for now"
            f" ({second.data}). Use a second process."
        )


def _put_key(path: Path) -> None:
    """A new key, whole from the first moment it can be seen; one that another process put there meanwhile stays."""
    handle, spare = tempfile.mkstemp(dir=path.parent, prefix=f"{path.name}.")  # for its owner alone
    try:
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(secrets.token_urlsafe(50))
            file.flush()
            os.fsync(file.fileno())
        try:
            os.link(spare, path)
        except FileExistsError:
            return
        except OSError:  # a file system without links
            Path(spare).replace(path)
    finally:
        Path(spare).unlink(missing_ok=True)


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as error:
        raise RecordError(
            f"The data folder {folder} cannot be made: {error.strerror}. Name another with --data."
        ) from error
