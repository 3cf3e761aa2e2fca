"""Fields of a TOML table, taken one by one: units from the end of the key, every fault gathered."""

from __future__ import annotations

import difflib
import math
from datetime import date
from pathlib import Path
from typing import Any

from lapwright.errors import FileFormatError, LapwrightError, UnitError
from lapwright.formats.delimited import open_text
from lapwright.formats.faults import FaultList
from lapwright.units import UNITS, field_unit, from_unit


def read_toml(path: Path) -> dict[str, Any]:
    """A TOML file as nested dictionaries; `FileFormatError` when it is none."""
    import tomllib

    with open_text(path) as lines:
        text = "".join(lines)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise FileFormatError(f"{path.name} is not valid TOML: {fault}. See the example in the reference.") from fault


class Table:
    """One table of a TOML file. What is asked for is taken; what is left at `close` is a fault."""

    def __init__(self, content: object, *, name: str, faults: FaultList) -> None:
        self.name = name
        self.faults = faults
        self._asked: list[str] = []
        self._left: dict[str, Any] = dict(content) if isinstance(content, dict) else {}
        if not isinstance(content, dict):
            self._report(name, f"{name} is not a table; write [{name}] and its keys below it.", "order.not_a_table")

    def text(self, key: str, default: str | None = None) -> str:
        """A text; missing without a default is a fault."""
        value = self._take(key, default)
        if value is not None and (not isinstance(value, str) or (not value.strip() and default is None)):
            self._report(key, f"{self._path(key)} is {value!r}; expected a text in quotes.", "order.not_a_text")
            return ""
        return (value or "").strip()

    def choice(self, key: str, choices: tuple[str, ...], default: str | None = None) -> str | None:
        """One of several words."""
        value = self._take(key, default)
        if value is not None and value not in choices:
            near = difflib.get_close_matches(str(value), choices, 1)
            hint = f" Did you mean {near[0]!r}?" if near else ""
            expected = ", ".join(repr(choice) for choice in choices)
            self._report(key, f"{self._path(key)} is {value!r}; expected {expected}.{hint}", "order.not_a_choice")
            return None
        return None if value is None else str(value)

    def whole(self, key: str, *, least: int, default: int | None = None) -> int | None:
        """A whole number."""
        value = self._take(key, default)
        if value is not None and (not isinstance(value, int) or isinstance(value, bool) or value < least):
            expected = f"a whole number, {least} or more"
            self._report(key, f"{self._path(key)} is {value!r}; expected {expected}.", "order.not_a_count")
            return None
        return value

    def day(self, key: str) -> date | None:
        """A date, None when there is none."""
        value = self._take(key, None, needed=False)
        if value is None or type(value) is date:
            return value
        self._report(key, f"{self._path(key)} is {value!r}; expected a date like 2026-03-31.", "order.not_a_date")
        return None

    def quantity(self, key: str, dimension: str, *, example: str, needed: bool = True) -> float | None:
        """A number whose unit stands at the end of its key, in SI; `example` is a key that would do."""
        given = [title for title in self._left if title == key or self._is_unit_of(title, key, dimension)]
        self._asked.append(example)
        if not given:
            if needed:
                self._report(example, f"{self._path(example)} is missing.", "order.missing")
            return None
        values = [self._left.pop(title) for title in given]
        if len(given) > 1:
            sentence = f"{' and '.join(map(self._path, given))} give one quantity twice; keep one of them."
            self._report(given[1], sentence, "order.twice")
            return None
        return self._value(given[0], values[0], dimension, example)

    def number(self, key: str) -> float | None:
        """A plain number that has no unit (money), None when there is none."""
        value = self._take(key, None, needed=False)
        if value is None or _is_number(value):
            return None if value is None else float(value)
        self._report(key, f"{self._path(key)} is {value!r}; expected a number.", "order.not_a_number")
        return None

    def numbers(self, key: str) -> tuple[float, ...] | None:
        """A list of plain numbers, None when there is none."""
        value = self._take(key, None, needed=False)
        if value is None or (isinstance(value, list) and value and all(map(_is_number, value))):
            return None if value is None else tuple(map(float, value))
        self._report(key, f"{self._path(key)} is {value!r}; expected a list of numbers.", "order.not_a_number")
        return None

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts, empty when there is none."""
        return next(iter(self._text_lists(key, self._take(key, None, needed=False), nested=False)), ())

    def lists_of_texts(self, key: str) -> tuple[tuple[str, ...], ...]:
        """Several lists of texts, empty when there are none."""
        return self._text_lists(key, self._take(key, None, needed=False), nested=True)

    def table(self, key: str, *, needed: bool = True) -> Table:
        """A table within this one."""
        content = self._take(key, None if needed else {})
        return Table({} if content is None else content, name=self._path(key), faults=self.faults)

    def tables(self, key: str, *, needed: bool = True) -> list[Table]:
        """A list of tables within this one."""
        content = self._take(key, None, needed=needed)
        if content is None:
            return []
        if not isinstance(content, list):
            self._report(key, f"{key} is one table; write [[{key}]] with double brackets.", "order.not_a_table")
            return []
        return [
            Table(one, name=f"{self._path(key)} {number}", faults=self.faults)
            for number, one in enumerate(content, start=1)
        ]

    def pairs(self, key: str, *, example: str) -> tuple[tuple[float, float], ...]:
        """Corners: a list of [x, y], the unit at the end of the key, in m."""
        title = next((title for title in self._left if self._is_unit_of(title, key, "length")), None)
        self._asked.append(example)
        if title is None:
            self._report(example, f"{self._path(example)} is missing.", "order.missing")
            return ()
        value, unit = self._left.pop(title), field_unit(title, "length")
        if not isinstance(value, list) or not all(map(_is_pair, value)):
            self._report(title, f"{self._path(title)} is no list of corners [x, y].", "order.not_a_number")
            return ()
        return tuple((from_unit(x, unit), from_unit(y, unit)) for x, y in value)

    def close(self) -> None:
        """Report every key that nobody asked for."""
        for key in self._left:
            near = difflib.get_close_matches(key, self._asked, 1, cutoff=0.5)
            hint = f"did you mean {near[0]!r}?" if near else f"known here: {', '.join(self._asked)}."
            self._report(key, f"{self._path(key)} is not known; {hint}", "order.unknown_key")

    # ------------------------------------------------------------------------------------------------------------------

    def _take(self, key: str, default: Any, *, needed: bool = True) -> Any:
        self._asked.append(key)
        if key in self._left:
            return self._left.pop(key)
        if default is None and needed:
            self._report(key, f"{self._path(key)} is missing.", "order.missing")
        return default

    def _text_lists(self, key: str, value: object, *, nested: bool) -> tuple[tuple[str, ...], ...]:
        lists = value if nested else [value]
        if value is None:
            return ()
        if isinstance(lists, list) and all(_is_text_list(one) for one in lists):
            return tuple(tuple(one) for one in lists)
        expected = 'a list of lists, like [["a", "b"]]' if nested else 'a list of texts, like ["a", "b"]'
        self._report(key, f"{self._path(key)} is {value!r}; expected {expected}.", "order.not_a_text")
        return ()

    def _value(self, key: str, value: object, dimension: str, example: str) -> float | None:
        if not isinstance(value, int | float) or not _is_number(value):
            sentence = f"{self._path(key)} is {value!r}; expected a number, its unit at the end of the key: {example}."
            self._report(key, sentence, "order.not_a_number")
            return None
        try:
            return from_unit(float(value), field_unit(key, dimension))
        except UnitError:
            sentence = f"{self._path(key)} = {value} has no unit; write the unit at the end of the key, like {example}."
            self._report(key, sentence, "order.no_unit")
            return None

    def _is_unit_of(self, title: str, key: str, dimension: str) -> bool:
        fields = {unit.field for unit in UNITS if unit.dimension == dimension}
        return title.startswith(key + "_") and title.removeprefix(key + "_") in fields

    def _path(self, key: str) -> str:
        return f"{self.name}.{key}" if self.name else key

    def _report(self, key: str, sentence: str, code: str) -> None:
        self.faults.add(sentence, code=code, field=self._path(key) if key != self.name else key)

    def report(self, fault: LapwrightError) -> None:
        """Take in a fault that a value's own invariant found."""
        self.faults.add(f"{self.name}: {fault.sentence}" if self.name else fault.sentence, code=fault.code,
                        field=self.name or None)  # fmt: skip


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _is_pair(value: object) -> bool:
    return isinstance(value, list) and len(value) == 2 and all(map(_is_number, value))


def _is_text_list(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(one, str) for one in value)
