"""The settings of the program: one frozen value, each field with its unit, its help and where its value came from.

A value on the command line goes before one in the environment (``LAPWRIGHT_PORT``), that before one in the file
``lapwright.toml`` in the data folder, that before the default. An unknown name is refused with the nearest known one.
"""

from __future__ import annotations

import difflib
import os
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal
from zoneinfo import ZoneInfo

from lapwright.errors import Fault, SettingError

Origin = Literal["default", "file", "environment", "command line"]

FILE_NAME = "lapwright.toml"
PREFIX = "LAPWRIGHT_"
LANGUAGES = ("en", "de")
ACCOUNTS = ("elsewhere", "always")
LOGS = ("sentences", "lines")
DATABASE_SCHEMES = ("sqlite", "postgresql", "postgres")


def _about(help_text: str, unit: str = "") -> dict[str, str]:
    return {"help": help_text, "unit": unit}


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """All settings. `origins` says for each where its value came from."""

    data: Path = field(default=Path(), metadata=_about("Folder of the database, the documents and the settings file."))
    database: str = field(
        default="", metadata=_about("Address of the database; empty: a SQLite file in the data folder.")
    )
    host: str = field(
        default="127.0.0.1", metadata=_about("Address the pages are served on; only this machine by default.")
    )
    port: int = field(default=8642, metadata=_about("Port the pages are served on."))
    accounts: str = field(
        default="elsewhere",
        metadata=_about(
            "When accounts are demanded: elsewhere (as soon as other machines can reach the pages) or always."
        ),
    )
    names: str = field(
        default="", metadata=_about("Names by which other machines reach the pages, with commas between them.")
    )
    certificate: str = field(default="", metadata=_about("File of the certificate for serving over TLS."))
    certificate_key: str = field(default="", metadata=_about("File of the private key of that certificate."))
    language: str = field(default="en", metadata=_about("Language of pages and certificates: en or de."))
    time_zone: str = field(default="UTC", metadata=_about("Zone in which times are shown; they are recorded in UTC."))
    person: str = field(default="local", metadata=_about("Short name that writes carry when none is given."))
    laboratory: str = field(default="", metadata=_about("Name of the laboratory on certificates."))
    site_caution: str = field(
        default="Site rules, safety data sheets and licensed practice come first.",
        metadata=_about("Sentence shown with every caution."),
    )
    zero_spread_um: float = field(
        default=1.0, metadata=_about("Largest spread of the readings of a jig zero that is accepted.", "µm")
    )
    zero_drift_um: float = field(
        default=0.5, metadata=_about("Largest move of the gauge's zero over a set that is corrected.", "µm")
    )
    question_sigma: float = field(
        default=12.0, metadata=_about("Distance from the other readings from which one is questioned.", "σ")
    )
    calibration_notice_days: int = field(
        default=30, metadata=_about("How long before it is due a calibration is announced.", "d")
    )
    log: str = field(
        default="sentences",
        metadata=_about("What is logged to standard error: sentences (warnings) or lines (everything, as JSON)."),
    )
    backups: str = field(
        default="", metadata=_about("Folder of the backups; empty: the folder backups in the data folder.")
    )
    backup_notice_days: int = field(
        default=2, metadata=_about("Age of the last backup from which it is called too old.", "d")
    )
    keep_streams_days: int = field(
        default=0,
        metadata=_about("How long raw readings of runs are kept after their end, at least; 0 is for ever.", "d"),
    )
    origins: Mapping[str, Origin] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def database_url(self) -> str:
        """The address of the database, the SQLite file in the data folder when none is set."""
        return self.database or f"sqlite:///{self.data / 'lapwright.sqlite3'}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingInfo:
    """One setting as shown to a person: name, unit, help, default, the variable that sets it."""

    name: str
    unit: str
    help: str
    default: object
    variable: str


def describe_settings() -> tuple[SettingInfo, ...]:
    """Every setting with unit, help, default and environment variable, in the order of the class."""
    return tuple(
        SettingInfo(
            name=item.name,
            unit=item.metadata["unit"],
            help=item.metadata["help"],
            default="the user's data folder" if item.name == "data" else item.default,
            variable=PREFIX + item.name.upper(),
        )
        for item in fields(Settings)
        if item.name != "origins"
    )


def read_settings(given: Mapping[str, object] | None = None, environ: Mapping[str, str] | None = None) -> Settings:
    """Settings from command line, environment, file and defaults, in that order of weight.

    `given` holds what the command line says; entries that are None count as not given. Raises `SettingError` with
    every unknown name and every value that does not fit.
    """
    line = {name: value for name, value in (given or {}).items() if value is not None}
    surroundings = _from_environment(os.environ if environ is None else environ)
    folder = Path(str(line.get("data") or surroundings.get("data") or _user_folder())).expanduser().absolute()
    origin_of_folder: Origin = (
        "command line" if "data" in line else "environment" if "data" in surroundings else "default"
    )
    layers: tuple[tuple[Origin, Mapping[str, object]], ...] = (
        ("file", _from_file(folder / FILE_NAME)), ("environment", surroundings), ("command line", line)
    )  # fmt: skip
    kinds = {item.name: type(item.default) for item in fields(Settings) if item.name not in ("data", "origins")}
    values: dict[str, Any] = {}
    origins: dict[str, Origin] = dict.fromkeys(kinds, "default")
    faults: list[Fault] = []
    for origin, layer in layers:
        for name, value in layer.items():
            if name == "data" and origin != "file":
                continue
            if name not in kinds:
                faults.append(_unknown(name, kinds, origin))
                continue
            try:
                values[name], origins[name] = _fitting(name, value, kinds[name]), origin
            except ValueError as error:
                faults.append(Fault(sentence=f"Setting {name} ({origin}): {error}", field=name))
    if faults:
        raise SettingError(" ".join(fault.sentence for fault in faults), faults=faults)
    shown: dict[str, Origin] = {"data": origin_of_folder, **origins}
    return Settings(data=folder, origins=MappingProxyType(shown), **values)


# ----------------------------------------------------------------------------------------------------------------------


def _user_folder() -> str:
    from platformdirs import user_data_dir

    return user_data_dir("lapwright", appauthor=False)


def _from_environment(environ: Mapping[str, str]) -> dict[str, object]:
    return {
        name.removeprefix(PREFIX).lower(): value
        for name, value in environ.items()
        if name.startswith(PREFIX) and value != ""
    }


def _from_file(path: Path) -> dict[str, object]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (FileNotFoundError, NotADirectoryError):
        return {}
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SettingError(f"The settings file {path} cannot be read: {error}. Mend or remove it.") from error


def _unknown(name: str, known: Iterable[str], origin: Origin) -> Fault:
    near = difflib.get_close_matches(name, list(known), 1, 0.0)
    place = f"{PREFIX}{name.upper()}" if origin == "environment" else name
    return Fault(sentence=f"There is no setting {place!r} ({origin}); the nearest is {near[0]!r}.", field=name)


def _fitting(name: str, value: object, kind: type) -> object:
    """A value as the setting's kind. Raises `ValueError` with what was found and what was expected."""
    fitted = _as_kind(value, kind)
    found = f"found {value!r}, expected "
    if name == "port" and not 0 <= fitted <= 65535:
        raise ValueError(found + "a port from 0 to 65535.")
    if name == "language" and fitted not in LANGUAGES:
        raise ValueError(found + f"one of {', '.join(LANGUAGES)}.")
    if name == "accounts" and fitted not in ACCOUNTS:
        raise ValueError(found + f"one of {', '.join(ACCOUNTS)}.")
    if name == "log" and fitted not in LOGS:
        raise ValueError(found + f"one of {', '.join(LOGS)}.")
    if name == "time_zone":
        _check_zone(fitted, found)
    if name == "database" and fitted.split("://")[0] not in DATABASE_SCHEMES:
        raise ValueError(found + "an address like postgresql://user@host/name or sqlite:///file.")
    if name == "person" and not fitted.strip():
        raise ValueError(found + "a short name.")
    if kind is float and not 0.0 < fitted < float("inf"):
        raise ValueError(found + "a number above zero.")
    return fitted


def _as_kind(value: object, kind: type) -> Any:
    expected = {int: "a whole number", float: "a number", str: "text"}[kind]
    wrong = (kind is str and not isinstance(value, str)) or (kind is int and isinstance(value, float))
    if isinstance(value, bool) or wrong:
        raise ValueError(f"found {value!r}, expected {expected}.")
    try:
        return kind(value)
    except (TypeError, ValueError) as error:
        raise ValueError(f"found {value!r}, expected {expected}.") from error


def _check_zone(zone: str, found: str) -> None:
    try:
        ZoneInfo(zone)
    except (KeyError, ValueError, OSError) as error:
        raise ValueError(found + "a zone name like Europe/Berlin or UTC.") from error
