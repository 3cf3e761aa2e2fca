"""Separated text files: decoding, the separator, and lines in blocks.

One line is one row, so row numbers are line numbers (the header of a plain file is row 1). The separator is the one
that the header uses, tried in the order tab, semicolon, comma; it is never guessed again further down.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from lapwright.errors import FileFormatError

SEPARATORS = ("\t", ";", ",")
LINES_PER_BLOCK = 8_192
BYTE_ORDER_MARK = "\ufeff"


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Lines read in one go, and the row number of the first."""

    start: int
    lines: list[str]


@contextmanager
def open_text(path: Path) -> Iterator[Iterable[str]]:
    """Lines of a UTF-8 file, with or without byte order mark.

    Raises `FileFormatError` when there is no such file, it cannot be opened, or it is not UTF-8.
    """
    try:
        with path.open(encoding="utf-8-sig") as lines:
            yield lines
    except UnicodeDecodeError as fault:
        found = "UTF-16 text" if fault.object[:2] in (b"\xff\xfe", b"\xfe\xff") else "bytes that are not UTF-8"
        raise FileFormatError(f"{path.name} holds {found}; save it as UTF-8 and read it again.") from fault
    except FileNotFoundError as fault:
        raise FileFormatError(f"There is no file {str(path)!r}; check the name and the folder.") from fault
    except OSError as fault:
        raise FileFormatError(f"{str(path)!r} cannot be read: {fault.strerror}. Give a readable file.") from fault


def header_and_blocks(lines: Iterable[str], name: str) -> tuple[list[str], str, Iterator[Block]]:
    """The cells of the header, the separator, and the lines below in blocks.

    Raises `FileFormatError` for a file without a header.
    """
    source = iter(lines)
    for row, line in enumerate(source, start=1):
        text = line.removeprefix(BYTE_ORDER_MARK)
        if text.strip():
            separator = next((mark for mark in SEPARATORS if mark in text), ",")
            return cells_of(text, separator, row=row, name=name), separator, _blocks(source, row + 1)
    raise FileFormatError(f"{name} is empty; expected a header line and one row per reading.")


def cells_of(line: str, separator: str, *, row: int, name: str) -> list[str]:
    """The cells of one line, without blanks around them; `FileFormatError` when its quotes do not pair."""
    try:
        cells = next(csv.reader([line], delimiter=separator, strict=True), [])
    except csv.Error as fault:
        raise FileFormatError(
            f"{name}, row {row}: {fault}. Check the quotes in this row; a cell ends on the line where it begins."
        ) from fault
    return [cell.strip() for cell in cells]


# ----------------------------------------------------------------------------------------------------------------------


def _blocks(source: Iterator[str], start: int) -> Iterator[Block]:
    while lines := list(islice(source, LINES_PER_BLOCK)):
        yield Block(start=start, lines=lines)
        start += len(lines)
