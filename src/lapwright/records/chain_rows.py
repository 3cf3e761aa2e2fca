"""What the chain says of each row, and what the rows are now.

What it says is gathered in a table of its own on the disk, in a file that is gone when it is closed: a database of many
gigabytes has tens of millions of rows, and looking through it must not take as much memory.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from typing import Any

from django.db import connection

from lapwright.errors import RecordError
from lapwright.records.chain_form import Form, covered_models, digest, kinds_of

PORTION = 2000  # rows fetched at once
LINKS = 10  # links fetched at once; one of an import or an upgrade tells of ten thousand rows
DROPPABLE = ("streamblock",)  # tables whose rows may be let go
GATHERED = 5000  # rows held before they are put into the table
CACHE = 8  # MB of the table held in memory

Told = tuple[int, str, Form]
_TABLES = """
CREATE TABLE told (named INTEGER, key INTEGER, digest BLOB, form INTEGER, PRIMARY KEY (named, key)) WITHOUT ROWID;
CREATE TABLE link (number INTEGER PRIMARY KEY, digest BLOB);
"""


class Covered:
    """By table: the form it has now, and for each row its last digest with the form that was hashed.

    `unreadable` holds lines that none of the chain's are. Close it when done.
    """

    def __init__(self) -> None:
        self.forms: dict[str, Form] = {}
        self.unreadable: list[str] = []
        self._numbers: dict[str, int] = {}
        self._forms: list[Form] = []
        self._gathered: list[tuple[int, int, bytes, int]] = []
        self._table = sqlite3.connect("", isolation_level=None)  # no name: a file of its own, gone when closed
        self._table.executescript(f"PRAGMA journal_mode = OFF; PRAGMA cache_size = -{CACHE * 1024}; {_TABLES} BEGIN;")

    def close(self) -> None:
        """Let go of the table."""
        self._table.close()

    def read(self, content: str) -> None:
        """Take up what one link says; a line that is none of the chain's is kept aside."""
        for line in content.splitlines():
            match line.split(" "):
                case ["row", table, key, digest] if table in self.forms and key.isdigit() and _is_digest(digest):
                    self._gathered.append(
                        (self._numbers[table], int(key), bytes.fromhex(digest), self._number_of(self.forms[table]))
                    )
                case ["drop", table, key, digest] if table in DROPPABLE and key.isdigit():
                    self._drop(table, int(key), digest, line)
                case ["form", table, *columns]:
                    self.forms[table] = Form(table=table, columns=tuple(columns))
                    self._numbers.setdefault(table, len(self._numbers))
                case _:
                    self.unreadable.append(line)
        if len(self._gathered) > GATHERED:
            self._put()

    def note_link(self, number: int, digest: str) -> None:
        """A link of the chain, to be asked for by `link_digest`."""
        self._table.execute("INSERT OR REPLACE INTO link VALUES (?, ?)", (number, digest.encode()))

    def link_digest(self, number: int) -> str | None:
        """The digest of a link that was noted."""
        found = self._table.execute("SELECT digest FROM link WHERE number = ?", (number,)).fetchone()
        return found[0].decode() if found else None

    def link_count(self) -> tuple[int, int]:
        """How many links were noted, and the highest number of one."""
        count, last = self._table.execute("SELECT count(*), coalesce(max(number), 0) FROM link").fetchone()
        return int(count), int(last)

    def rows(self, table: str) -> Iterator[Told]:
        """Key, digest and form of each row of a table, in the order of the keys."""
        self._put()
        asked = "SELECT key, digest, form FROM told WHERE named = ? ORDER BY key"
        with closing(self._table.execute(asked, (self._numbers.get(table, -1),))) as found:
            for key, digest, form in found:
                yield int(key), digest.hex(), self._forms[form]

    def row(self, table: str, key: int) -> tuple[str, Form] | None:
        """Digest and form of one row."""
        self._put()
        asked = "SELECT digest, form FROM told WHERE named = ? AND key = ?"
        found = self._table.execute(asked, (self._numbers.get(table, -1), key)).fetchone()
        return (found[0].hex(), self._forms[found[1]]) if found else None

    def forms_of(self, table: str) -> set[Form]:
        """All forms in which rows of a table are covered."""
        self._put()
        asked = "SELECT DISTINCT form FROM told WHERE named = ?"
        found = self._table.execute(asked, (self._numbers.get(table, -1),)).fetchall()
        return {self._forms[form] for (form,) in found}

    def count(self) -> int:
        """Rows that the chain tells of."""
        self._put()
        return int(self._table.execute("SELECT count(*) FROM told").fetchone()[0])

    # ------------------------------------------------------------------------------------------------------------------

    def _number_of(self, form: Form) -> int:
        if form not in self._forms:
            self._forms.append(form)
        return self._forms.index(form)

    def _drop(self, table: str, key: int, digest: str, line: str) -> None:
        """A row that was let go: it must have been what its link told, or the letting go covered an alteration up."""
        told = self.row(table, key)
        if told is None or told[0] != digest:
            self.unreadable.append(line)
        if told is not None:
            self._table.execute("DELETE FROM told WHERE named = ? AND key = ?", (self._numbers[table], key))

    def _put(self) -> None:
        gathered, self._gathered = self._gathered, []
        try:
            self._table.executemany("INSERT OR REPLACE INTO told VALUES (?, ?, ?, ?)", gathered)
        except sqlite3.Error as error:
            raise RecordError(f"Looking at the chain needs room for a file beside it: {error}. Make room.") from error


def covered_rows() -> Covered:
    """What all links say, the later over the earlier."""
    from lapwright.records.models import ChainLink

    covered = Covered()
    for content in ChainLink.objects.order_by("number").values_list("content", flat=True).iterator(LINKS):
        covered.read(content)
    return covered


def row_digests(form: Form) -> Iterator[tuple[int, str]]:
    """Key and digest of every row of a table as it is stored now, in the columns of a form, by their keys."""
    model = covered_models()[form.table]
    kinds = kinds_of(model, form.columns)
    quote = connection.ops.quote_name
    chosen = ", ".join(quote(name) for name in ("id", *form.columns))
    table = quote(model._meta.db_table)  # noqa: SLF001  Django's public name for it
    with connection.chunked_cursor() as cursor:
        cursor.execute(f"SELECT {chosen} FROM {table} ORDER BY id")  # noqa: S608  names of our own tables
        while portion := cursor.fetchmany(PORTION):
            for key, *values in portion:
                yield key, digest(form.table, key, kinds, values, stored=True)


def side_by_side(stored: Iterator[tuple[int, str]], told: Iterator[Told]) -> Iterator[tuple[int, str | None, Any]]:
    """By key: the digest of the row as stored, None when it is gone, and what is told of it, None when nothing."""
    row, tell = next(stored, None), next(told, None)
    while row is not None or tell is not None:
        if tell is None or (row is not None and row[0] < tell[0]):
            assert row is not None
            yield row[0], row[1], None
            row = next(stored, None)
        elif row is None or tell[0] < row[0]:
            yield tell[0], None, tell
            tell = next(told, None)
        else:
            yield row[0], row[1], tell
            row, tell = next(stored, None), next(told, None)


# ----------------------------------------------------------------------------------------------------------------------


def _is_digest(text: str) -> bool:
    return len(text) == 64 and all(letter in "0123456789abcdef" for letter in text)
