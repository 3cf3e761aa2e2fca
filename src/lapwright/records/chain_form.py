"""The canonical form of a stored row, and its digest: the same from the program's values and from any database's.

A row is the JSON text ``["table", key, [values]]`` with the values in the order of the table's columns; its digest is
the SHA-256 of that text. Times are UTC to the microsecond, numbers inside a JSON column are floats, no zero has a sign,
the keys of its objects are sorted, and bytes stand as their own SHA-256. So two databases that store the same values
give the same digest, although each writes them in its own way.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cache
from typing import Any

from django.apps import apps
from django.db.models import Field, Model

_ENCODE = json.JSONEncoder(separators=(",", ":"), sort_keys=True).encode


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """The columns of a table that the chain covers, in the order in which they are hashed."""

    table: str
    columns: tuple[str, ...]


def covered_models() -> dict[str, type[Model]]:
    """The tables that the chain covers, by name."""
    return {name_of(model): model for model in apps.get_app_config("records").get_models() if form_of(model).columns}


def name_of(model: type[Model]) -> str:
    """The name of a table in the chain."""
    return model.__name__.lower()


def form_of(model: type[Model]) -> Form:
    """The form of a table as this version of the program has it; without columns when the chain leaves it out."""
    chosen = getattr(model, "chained", ())
    columns = [str(item.column) for item in _fields(model) if chosen is None or item.column in chosen]
    return Form(table=name_of(model), columns=tuple(sorted(columns)))


def digest_of(row: Model) -> str:
    """The digest of a row as the program holds it, just written."""
    table, names, kinds = _reading(type(row))
    return digest(table, row.pk, kinds, [getattr(row, name) for name in names], stored=False)


def kinds_of(model: type[Model], columns: Iterable[str]) -> tuple[str, ...]:
    """The kind of each column, which says how its values are written down."""
    fields = {item.column: item for item in _fields(model)}
    return tuple(_kind(fields[column]) for column in columns)


def digest(table: str, key: int, kinds: Sequence[str], values: Sequence[Any], *, stored: bool) -> str:
    """The digest of a row from its values; `stored` when they are as a database gives them.

    A value that cannot be what its column holds is written down as it is, so that the digest differs.
    """
    plain = [
        None if value is None else _plain(kind, value, stored=stored) for kind, value in zip(kinds, values, strict=True)
    ]
    return hashlib.sha256(_ENCODE([table, key, plain]).encode()).hexdigest()


# ----------------------------------------------------------------------------------------------------------------------


def _fields(model: type[Model]) -> list[Field[Any, Any]]:
    return [item for item in model._meta.concrete_fields if not item.primary_key]  # noqa: SLF001  Django's name for it


@cache
def _reading(model: type[Model]) -> tuple[str, tuple[str, ...], tuple[str, ...]]:
    """Name of a table, the attributes of its rows that are hashed, and the kinds of their columns."""
    form = form_of(model)
    names = {item.column: item.attname for item in _fields(model)}
    return form.table, tuple(names[column] for column in form.columns), kinds_of(model, form.columns)


def _kind(field: Field[Any, Any]) -> str:
    target = field
    while target.remote_field is not None:
        target = target.target_field  # type: ignore[attr-defined]
    kind = target.get_internal_type()
    if kind in _WRITTEN:
        return kind
    return "IntegerField" if kind.endswith(("IntegerField", "AutoField")) else "CharField"


def _plain(kind: str, value: Any, *, stored: bool) -> Any:
    try:
        if kind == "JSONField":
            return _numbers(json.loads(value) if stored and isinstance(value, str) else value)
        return _WRITTEN[kind](value)
    except (TypeError, ValueError, OverflowError):
        return ["not as the column wants it", repr(value)]


def _time(value: Any) -> str:
    found = datetime.fromisoformat(value) if isinstance(value, str) else value
    known = found.replace(tzinfo=UTC) if found.tzinfo is None else found.astimezone(UTC)
    return str(known.isoformat(timespec="microseconds"))


def _day(value: Any) -> str:
    return (date.fromisoformat(value) if isinstance(value, str) else value).isoformat()


def _whole(value: Any) -> int:
    if isinstance(value, str | bytes) or value != int(value):
        raise TypeError
    return int(value)


def _numbers(value: Any) -> Any:
    """JSON with every number as a float: what a database makes of 1.0 or 1e22 is then the same again."""
    if value is None or isinstance(value, bool | str):
        return value
    if isinstance(value, int | float):
        return float(value) + 0.0
    if isinstance(value, dict):
        return {str(key): _numbers(item) for key, item in value.items()}
    return [_numbers(item) for item in value]


def _truth(value: Any) -> bool:
    if value not in (0, 1):
        raise ValueError
    return bool(value)


def _number(value: Any) -> float | None:
    """A float without the sign of zero, which SQLite does not keep; it keeps no NaN either."""
    if isinstance(value, str | bytes):
        raise TypeError
    found = float(value)
    return None if math.isnan(found) else found + 0.0


_WRITTEN: dict[str, Callable[[Any], Any]] = {
    "DateTimeField": _time,
    "DateField": _day,
    "IntegerField": _whole,
    "FloatField": _number,
    "BooleanField": _truth,
    "BinaryField": lambda value: hashlib.sha256(bytes(value)).hexdigest(),
    "JSONField": _numbers,
    "CharField": str,
}
