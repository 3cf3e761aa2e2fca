"""Read the library's own tables and one user file, check every row, and report all faults at once.

The shipped tables are CSV with a `#` heading; `sources.csv` gives the full reference behind each source key. A user
file is TOML with the same tables and headings. A user row with the key of a shipped row takes its place and says so.
"""

from __future__ import annotations

import csv
import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, get_args

from lapwright.errors import Fault, FileFormatError, LibraryError
from lapwright.library import rows
from lapwright.library.catalogue import Library
from lapwright.library.schema import PROPERTIES, TABLE_BY_STEM, TABLES, Column, Table

DATA = resources.files("lapwright.library") / "data"
PROCESSES = ("lap", "polish")
RATIO_WORDS = {
    "way": ("lap_loose", "lap_bound", "grind"),
    "instrument": ("stylus", "optical", "not_stated"),
    "parameter": ("rz", "rt"),
}

CHOICES = {
    "strengths": {"finish": get_args(rows.Finish)},
    "face_forces": {"finish": get_args(rows.Finish)},
    "handling_limits": {"way": get_args(rows.HandlingWay)},
    "damage_ratios": RATIO_WORDS,
}

RawRow = Mapping[str, Any]


def load(user_file: Path | None = None) -> Library:
    """The library: the shipped rows, with the rows of a user file added or put in their place.

    Raises `LibraryError` with every fault (file, row, field) when rows do not hold together, `FileFormatError` when
    the user file is no TOML at all.

    >>> load().material("Si").properties["density"].value
    2330.0
    """
    return _shipped_library() if user_file is None else _loaded(user_file)


# ----------------------------------------------------------------------------------------------------------------------


@cache
def _shipped_library() -> Library:
    """The shipped rows alone: frozen, so read once."""
    return _loaded(None)


def _loaded(user_file: Path | None) -> Library:
    faults: list[Fault] = []
    sources = {row["key"]: row["reference"] for _, row in _shipped_rows("sources")}
    tables: dict[str, dict[tuple[Any, ...], Any]] = {}
    for table in TABLES:
        tables[table.stem] = {}
        for number, raw in _shipped_rows(table.stem):
            _add(tables, table, raw, place=(f"{table.stem}.csv", number), sources=sources, faults=faults, user=False)
    for stem, number, raw in _user_rows(user_file, faults):
        place = (str(user_file), number)
        _add(tables, TABLE_BY_STEM[stem], raw, place=place, sources=sources, faults=faults, user=True)
    faults.extend(_loose_ends(tables))
    if faults:
        raise LibraryError(f"The library has {len(faults)} faults; the first: {faults[0].sentence}", faults=faults)
    return _library(tables, sources)


def _shipped_rows(stem: str) -> Iterator[tuple[int, RawRow]]:
    lines = (DATA / f"{stem}.csv").read_text(encoding="utf-8").splitlines()
    first = next(number for number, line in enumerate(lines) if not line.startswith("#"))
    reader = csv.DictReader(lines[first:])
    for row in reader:
        yield first + reader.line_num, row


def _user_rows(user_file: Path | None, faults: list[Fault]) -> Iterator[tuple[str, int, RawRow]]:
    if user_file is None:
        return
    try:
        tables = tomllib.loads(user_file.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise FileFormatError(f"{user_file} is not a TOML file: {error}. Mend it at that place.") from error
    for stem, listed in tables.items():
        if stem not in TABLE_BY_STEM or not isinstance(listed, list):
            known = ", ".join(TABLE_BY_STEM)
            faults.append(Fault(sentence=f"{user_file}: no table [[{stem}]]; the library has {known}.", field=stem))
            continue
        for number, raw in enumerate(listed, 1):
            if isinstance(raw, dict):
                yield stem, number, raw
            else:
                faults.append(
                    _fault((str(user_file), number), stem, f"{raw!r} is no row; write [[{stem}]] and headings")
                )


def _add(
    tables: dict[str, dict[tuple[Any, ...], Any]],
    table: Table,
    raw: RawRow,
    *,
    place: tuple[str, int],
    sources: Mapping[str, str],
    faults: list[Fault],
    user: bool,
) -> None:
    found: list[Fault] = []
    origin = _origin(raw, place, sources=sources, found=found, user=user)
    values = {column.name: _value(raw, column, place, found) for column in table.columns}
    known = {column.heading for column in table.columns} | {"source", "trust"}
    found.extend(_fault(place, heading, f"no such heading; {table.stem} has {', '.join(sorted(known))}")
                 for heading in raw if heading not in known)  # fmt: skip
    if table.stem == "material_properties":
        values = _property(values, place, found)
    if table.stem != "plates" and values.get("process") not in (None, *PROCESSES):
        found.append(_fault(place, "process", f"{values['process']!r}; expected one of {', '.join(PROCESSES)}"))
    if found or origin is None:
        faults.extend(found)
        return
    key = tuple(values[name] for name in table.key)
    before = tables[table.stem].get(key)
    if before is not None and not user:
        faults.append(_fault(place, table.key[0], f"{key} stands twice"))
        return
    if before is not None:
        origin = replace(origin, replaces=f"{before.origin.file}, row {before.origin.row}: {before.origin.source}")
    tables[table.stem][key] = table.row_class(**values, origin=origin)


def _origin(
    raw: RawRow, place: tuple[str, int], *, sources: Mapping[str, str], found: list[Fault], user: bool
) -> rows.Origin | None:
    source, trust = str(raw.get("source") or "").strip(), str(raw.get("trust") or "").strip()
    allowed = rows.TRUST_WORDS if user else rows.TRUST_WORDS[:-1]
    if trust not in allowed:
        found.append(_fault(place, "trust", f"{trust!r}; expected one of {', '.join(allowed)}"))
    if not source:
        found.append(_fault(place, "source", "empty; say where the row comes from"))
    elif not user and source not in sources:
        found.append(_fault(place, "source", f"{source!r} is not in sources.csv"))
    if found:
        return None
    word = next(known for known in rows.TRUST_WORDS if known == trust)
    return rows.Origin(source=sources.get(source, source), trust=word, file=place[0], row=place[1])


def _value(raw: RawRow, column: Column, place: tuple[str, int], found: list[Fault]) -> Any:
    given = raw.get(column.heading)
    empty = given is None or (isinstance(given, str) and not given.strip())
    if column.kind == "list":
        listed = given if isinstance(given, list) else str(given or "").split(";")
        return tuple(str(item).strip() for item in listed if str(item).strip())
    if empty and column.required:
        found.append(_fault(place, column.heading, "empty; this column must be filled"))
    if empty:
        return "" if column.kind == "text" else None
    if column.kind == "text":
        return str(given).strip()
    if column.kind == "flag":
        return _flag(given, column, place, found)
    return _number(given, column, place, found)


def _flag(given: Any, column: Column, place: tuple[str, int], found: list[Fault]) -> bool | None:
    words = {"yes": True, "no": False, "true": True, "false": False}
    flag = words.get(str(given).strip().casefold())
    if flag is None:
        found.append(_fault(place, column.heading, f"{given!r}; expected yes or no"))
    return flag


def _number(given: Any, column: Column, place: tuple[str, int], found: list[Fault]) -> float | None:
    try:
        value = math.nan if isinstance(given, bool) else float(given)
    except (TypeError, ValueError):
        found.append(_fault(place, column.heading, f"{given!r} is not a number"))
        return None
    if not math.isfinite(value) or (column.least is not None and value < column.least):
        least = "" if column.least is None else f" of at least {column.least:g}"
        found.append(_fault(place, column.heading, f"{value:g}; expected a finite number{least}"))
        return None
    return value * column.factor / column.per + column.offset


def _property(values: dict[str, Any], place: tuple[str, int], found: list[Fault]) -> dict[str, Any]:
    name = values["name"]
    if name not in PROPERTIES:
        found.append(_fault(place, "property", f"{name!r}; expected one of {', '.join(PROPERTIES)}"))
        return values
    field, factor, per = PROPERTIES[name]
    scaled = {k: None if values[k] is None else values[k] * factor / per for k in ("value", "low", "high")}
    return values | scaled | {"name": field}


def _loose_ends(tables: Mapping[str, Mapping[tuple[Any, ...], Any]]) -> Iterator[Fault]:
    """Faults between rows: names that no other table holds, ranges upside down."""
    materials = {key[0] for key in tables["materials"]}
    kinds = {row.kind for row in tables["abrasives"].values()}
    plates = {key[0] for key in tables["plates"]}
    adhesives = {key[0] for key in tables["adhesives"]}
    for stem, table in tables.items():
        for row in table.values():
            place = (row.origin.file, row.origin.row)
            for name in _listed(getattr(row, "material", ())) + tuple(getattr(row, "materials", ())):
                if name not in materials:
                    yield _fault(place, "material", f"{name!r} is not in the table materials")
            kind = getattr(row, "abrasive_kind", None)
            if kind is not None and kind not in kinds:
                yield _fault(place, "abrasive_kind", f"{kind!r} is the kind of no abrasive")
            for name in row.plates if stem == "removal_coefficients" else ():
                if name not in plates:
                    yield _fault(place, "plates", f"{name!r} is not in the table plates")
            if stem == "adhesive_viscosities" and row.adhesive not in adhesives:
                yield _fault(place, "adhesive", f"{row.adhesive!r} is not in the table adhesives")
            yield from _other_words(stem, row, place)
            yield from _upside_down(row, place)


def _other_words(stem: str, row: Any, place: tuple[str, int]) -> Iterator[Fault]:
    for field, words in CHOICES.get(stem, {}).items():
        if getattr(row, field) not in words:
            yield _fault(place, field, f"{getattr(row, field)!r}; expected one of {', '.join(words)}")


def _upside_down(row: Any, place: tuple[str, int]) -> Iterator[Fault]:
    names = [n for n in type(row).__dataclass_fields__ if n.endswith("low") and hasattr(row, n[:-3] + "high")]
    for name in names:
        low, high = getattr(row, name), getattr(row, name[:-3] + "high")
        if low is not None and high is not None and low > high:
            yield _fault(place, name, f"the low end {low:g} lies above the high end {high:g}")


def _listed(value: Any) -> tuple[str, ...]:
    return (value,) if isinstance(value, str) else ()


def _fault(place: tuple[str, int], field: str, what: str) -> Fault:
    file, row = place
    return Fault(sentence=f"{file}, row {row}, {field}: {what}.", row=row, field=field, code="library.faults")


def _library(tables: Mapping[str, Mapping[tuple[Any, ...], Any]], sources: Mapping[str, str]) -> Library:
    properties: dict[str, dict[str, rows.Property]] = {}
    for row in tables["material_properties"].values():
        properties.setdefault(row.material, {})[row.name] = row
    listed = {stem: tuple(table.values()) for stem, table in tables.items() if stem != "material_properties"}
    listed["materials"] = tuple(
        replace(material, properties=properties.get(material.material_id, {})) for material in listed["materials"]
    )
    return Library(sources=dict(sources), **listed)
