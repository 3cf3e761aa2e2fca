"""Plain tables and numbers for people."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

_TIME = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?(Z|\+00:00)")


def print_table(
    headings: Sequence[str], rows: Sequence[Sequence[str]], *, title: str | None = None, numbers: Sequence[int] = ()
) -> None:
    """Print a table; `numbers` are the columns set flush right."""
    table = Table(box=box.SIMPLE_HEAD, title=title, title_justify="left", title_style="bold", pad_edge=False)
    for index, heading in enumerate(headings):
        table.add_column(heading, justify="right" if index in numbers else "left")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    _console().print(table)


def print_line(text: str = "") -> None:
    """Print a line of plain text."""
    _console().print(Text(text))


def shown(value: float | None, digits: int = 2, *, sign: bool = False) -> str:
    """A number with a true minus; a dash where there is none."""
    if value is None or not math.isfinite(value):
        return "–"
    text = f"{value:{'+' if sign else ''}.{digits}f}"
    if text.strip("+-0.") == "":
        text = text.lstrip("-")
    return text.replace("-", "\u2212")


def print_fields(result: Mapping[str, Any], *, inset: str = "") -> None:
    """Print a result one field a line: names in words, units behind their numbers, what is within it set in."""
    for name, value in result.items():
        words, unit = _in_words(name)
        if isinstance(value, Mapping):
            if set(value) == {"by", "at", "reason"}:
                print_line(f"{inset}{words}: {value['by']}, {_at(value['at'])}{_because(value['reason'])}")
                continue
            print_line(f"{inset}{words}:")
            print_fields(value, inset=inset + "  ")
        elif isinstance(value, list) and any(isinstance(one, Mapping) for one in value):
            print_line(f"{inset}{words}:")
            for number, one in enumerate(value, 1):
                print_line(f"{inset}  {number}.")
                print_fields(one, inset=inset + "    ")
        else:
            print_line(f"{inset}{words}: {_value(value, unit)}")


# ----------------------------------------------------------------------------------------------------------------------


#: Ending of a field's name -> its unit, as the reference of the commands writes them.
_UNITS = {
    "_um_per_min": "µm/min", "_um": "µm", "_nm": "nm", "_mm": "mm", "_deg": "°", "_kpa": "kPa", "_rpm": "rpm",
    "_min": "min", "_s": "s", "_n": "N", "_kg": "kg", "_g": "g", "_c": "°C",
}  # fmt: skip


def _in_words(name: str) -> tuple[str, str]:
    for ending, unit in _UNITS.items():
        if name.endswith(ending) and len(name) > len(ending):
            return name.removesuffix(ending).replace("_", " "), unit
    return name.replace("_", " "), ""


def _value(value: Any, unit: str) -> str:
    if value is None or value in ("", []):
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(_value(one, unit) for one in value)
    if isinstance(value, float):
        text = f"{value:.6g}".replace("-", "\u2212")
        return f"{text} {unit}" if unit else text
    if isinstance(value, int):
        return f"{value} {unit}" if unit else str(value)
    return _at(value) if _TIME.fullmatch(str(value)) else str(value)


def _at(text: str) -> str:
    return f"{text[:10]} {text[11:16]} UTC" if text.endswith(("Z", "+00:00")) else text


def _because(reason: str) -> str:
    return f" ({reason})" if reason else ""


def _console() -> Console:
    console = Console(highlight=False)
    if not console.is_terminal:
        console.width = 160
    return console
