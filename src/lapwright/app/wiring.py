"""Starting the program: settings in, records ready."""

from __future__ import annotations

from lapwright.settings import Settings

#: Lies in a data folder in which everything is invented.
INVENTED = "invented-data.txt"

_serving = False


def start(settings: Settings, *, serving: bool = False) -> None:
    """Make the records ready: database opened and brought up to date, the local person known.

    `serving` says that many threads will ask at once. May be called again with the same settings. Raises `SettingError`
    when the records were started with others, `SchemaTooNew` for a database of a newer version, `RecordError` when it
    cannot be used.
    """
    global _serving  # noqa: PLW0603  a process serves or it does not
    from lapwright import records

    records.start(settings, serving=serving)
    _serving = _serving or serving


def is_serving() -> bool:
    """Whether this process serves pages, so that nothing long may be done for the one who asks."""
    return _serving


def is_invented() -> bool:
    """Whether the data folder says of itself that all in it is invented, as the demonstration does."""
    return (current_settings().data / INVENTED).is_file()


def current_settings() -> Settings:
    """The settings that `start` was given. Raises `RecordError` before the start."""
    from lapwright import records

    return records.current_settings()
