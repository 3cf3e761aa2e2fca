"""Plain tables and numbers for people."""

from __future__ import annotations

import math
from collections.abc import Sequence

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text


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


# ----------------------------------------------------------------------------------------------------------------------


def _console() -> Console:
    console = Console(highlight=False)
    if not console.is_terminal:
        console.width = 160
    return console
