"""What the chain says of each row, and what the rows are now."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from django.db import connection

from lapwright.records.chain_form import Form, covered_models, digest, kinds_of

PORTION = 2000  # rows fetched at once
DROPPABLE = ("streamblock",)  # tables whose rows may be let go


@dataclass(slots=True)
class Covered:
    """By table: the form it has now, and for each row its last digest with the form that was hashed."""

    forms: dict[str, Form] = field(default_factory=dict)
    rows: dict[str, dict[int, tuple[str, Form]]] = field(default_factory=dict)
    unreadable: list[str] = field(default_factory=list)

    def read(self, content: str) -> None:
        """Take up what one link says; a line that is none of the chain's is kept aside."""
        for line in content.splitlines():
            match line.split(" "):
                case ["row", table, key, digest] if table in self.forms and key.isdigit():
                    self.rows.setdefault(table, {})[int(key)] = (digest, self.forms[table])
                case ["drop", table, key, digest] if table in DROPPABLE and key.isdigit():
                    self._drop(table, int(key), digest, line)
                case ["form", table, *columns]:
                    self.forms[table] = Form(table=table, columns=tuple(columns))
                case _:
                    self.unreadable.append(line)

    def _drop(self, table: str, key: int, digest: str, line: str) -> None:
        """A row that was let go: it must have been what its link told, or the letting go covered an alteration up."""
        told = self.rows.get(table, {}).pop(key, None)
        if told is None or told[0] != digest:
            self.unreadable.append(line)

    def forms_of(self, table: str) -> set[Form]:
        """All forms in which rows of a table are covered."""
        return {form for _, form in self.rows.get(table, {}).values()}


def covered_rows() -> Covered:
    """What all links say, the later over the earlier."""
    from lapwright.records.models import ChainLink

    covered = Covered()
    for content in ChainLink.objects.order_by("number").values_list("content", flat=True).iterator(PORTION):
        covered.read(content)
    return covered


def row_digests(form: Form) -> Iterator[tuple[int, str]]:
    """Key and digest of every row of a table as it is stored now, in the columns of a form."""
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
