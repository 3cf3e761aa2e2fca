"""Starting the program: settings in, records ready."""

from __future__ import annotations

from lapwright.settings import Settings


def start(settings: Settings, *, serving: bool = False) -> None:
    """Make the records ready: database opened and brought up to date, the local person known.

    `serving` says that many threads will ask at once. May be called again with the same settings. Raises `SettingError`
    when the records were started with others, `SchemaTooNew` for a database of a newer version, `RecordError` when it
    cannot be used.
    """
    from lapwright import records

    records.start(settings, serving=serving)


def current_settings() -> Settings:
    """The settings that `start` was given. Raises `RecordError` before the start."""
    from lapwright import records

    return records.current_settings()
