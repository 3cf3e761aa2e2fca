"""Addresses of sources as text: ``kind:place?option=value&option=value``.

Values are percent-encoded where they hold ``&``, ``=``, ``#``, ``%`` or characters outside ASCII that a shell would
change; a plus sign stays a plus sign. All faults of an address are named at once.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import unquote

from lapwright.errors import BadInput, Fault, LapwrightError

Options = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """An option of an address: its name, how its text is read, what holds without it, and its help.

    `read` raises `ValueError` or an error of ours for a text that cannot be meant. A `needed` option has no default.
    """

    name: str
    read: Callable[[str], Any]
    help: str
    default: str = ""
    needed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceAddress:
    """An address in its parts, and the text without secrets."""

    kind: str
    place: str
    options: tuple[tuple[str, str], ...]

    @property
    def without_secrets(self) -> str:
        """The address as it may be shown and logged: an option that names a password is left out."""
        shown = "&".join(f"{name}={value}" for name, value in self.options if "password" not in name)
        return f"{self.kind}:{self.place}" + (f"?{shown}" if shown else "")


def parse_address(text: str) -> SourceAddress:
    """The parts of an address. Raises `BadInput`.

    >>> parse_address("tcp:127.0.0.1:4001?unit=um&sign=-").options
    (('unit', 'um'), ('sign', '-'))
    """
    kind, colon, rest = text.strip().partition(":")
    if not colon or not kind:
        raise BadInput([Fault(sentence=f"{text!r} is no address; write it like 'serial:/dev/ttyUSB0?unit=um'.")])
    place, _, query = rest.partition("?")
    options = []
    for part in filter(None, query.split("&")):
        name, _, value = part.partition("=")
        options.append((name, unquote(value)))
    return SourceAddress(kind=kind, place=unquote(place), options=tuple(options))


def option_values(address: SourceAddress, known: Iterable[Option]) -> dict[str, Any]:
    """Every known option with its value, read or by default. Raises `BadInput` with all faults."""
    table = {option.name: option for option in known}
    given = dict(address.options)
    faults = [_unknown(name, table) for name in given if name not in table]
    names = [name for name, _ in address.options]
    faults += [_fault(name, "is given twice; give it once.") for name in given if names.count(name) > 1]
    values: dict[str, Any] = {}
    for name, option in table.items():
        if option.needed and not given.get(name):
            faults.append(_fault(name, f"is missing: {option.help}"))
            continue
        try:
            values[name] = option.read(given.get(name, option.default))
        except (ValueError, LapwrightError) as error:
            faults.append(_fault(name, f"is {given.get(name, option.default)!r}: {error}"))
    if faults:
        raise BadInput(faults, subject=f"The address {address.without_secrets!r}")
    return values


def split_host(place: str, *, default_port: int | None = None) -> tuple[str, int, str]:
    """Host, port and the rest behind the next slash. Raises `BadInput`.

    >>> split_host("broker:1884/shop/gauge", default_port=1883)
    ('broker', 1884, 'shop/gauge')
    >>> split_host("[::1]:4001")
    ('::1', 4001, '')
    """
    where, _, rest = place.removeprefix("//").partition("/")
    host, colon, port = where.rpartition(":")
    if not colon or (where.startswith("[") and where.endswith("]")):
        host, port = where, "" if default_port is None else str(default_port)
    if not host or not port.isdecimal() or not 0 < int(port) < 65536:
        example = f"{host or 'host'}:{default_port or 4001}"
        raise BadInput([Fault(sentence=f"{place!r} does not name a host and a port; write it like {example!r}.")])
    return host.strip("[]"), int(port), rest


def one_of(*words: str) -> Callable[[str], str]:
    """A reader that takes one of some words."""

    def read(text: str) -> str:
        if text not in words:
            raise ValueError(f"expected one of {', '.join(words)}.")
        return text

    return read


def number_between(low: float, high: float, unit: str) -> Callable[[str], float]:
    """A reader that takes a number in a closed range; the unit is for the sentence."""

    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            raise ValueError(f"expected a number from {low:g} to {high:g} {unit}".rstrip() + ".")
        return value

    return read


def whole_between(low: int, high: int) -> Callable[[str], int]:
    """A reader that takes a whole number in a closed range."""

    def read(text: str) -> int:
        if not text.isdecimal() or not low <= int(text) <= high:
            raise ValueError(f"expected a whole number from {low} to {high}.")
        return int(text)

    return read


# ----------------------------------------------------------------------------------------------------------------------


def _fault(name: str, sentence: str) -> Fault:
    return Fault(sentence=f"Option {name} {sentence}", field=name)


def _unknown(name: str, table: Mapping[str, Option]) -> Fault:
    near = difflib.get_close_matches(name, table, 1)
    hint = f" Did you mean {near[0]!r}?" if near else ""
    return _fault(name, f"is not known here; known: {', '.join(sorted(table))}.{hint}")
