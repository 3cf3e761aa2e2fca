"""Taking rows into the chain that no transaction of the program linked.

These are the rows that were there before the chain was, and those of a table that got new columns.

After each change of the tables every table whose columns differ from those last said in the chain is taken in again,
so that the new columns are covered, too. A row that does not match its old digest any more is left as it is: an
alteration is not covered up by an upgrade.
"""

from __future__ import annotations

from collections.abc import Iterator

from lapwright.records import chain
from lapwright.records.chain_form import Form, covered_models, form_of
from lapwright.records.chain_rows import Covered, covered_rows, row_digests
from lapwright.records.faults import one_transaction

AT_ONCE = 10_000  # rows in one link


def take_in() -> None:
    """Take in every table whose columns the chain does not know yet. Does nothing when it knows all."""
    known = covered_rows() if chain.look_up_first() else Covered()
    for name, model in covered_models().items():
        form = form_of(model)
        if known.forms.get(name) == form:
            continue
        why = "rows that were there before the chain" if name not in known.forms else "the table has new columns"
        with one_transaction():
            for lines in _links_of(form, known):
                chain.add_link(lines, by=chain.PROGRAM, reason=f"{name}: {why}")


# ----------------------------------------------------------------------------------------------------------------------


def _links_of(form: Form, known: Covered) -> Iterator[list[str]]:
    """The lines of each link by which a table is taken in; the first says its form."""
    old = known.rows.get(form.table)
    sound = None if form.table not in known.forms else _sound(form.table, known)
    lines = [chain.form_line(form)]
    for key, digest in row_digests(form):
        if sound is None or (old is not None and key in sound):
            lines.append(f"row {form.table} {key} {digest}")
        if len(lines) > AT_ONCE:
            yield lines
            lines = []
    if lines:
        yield lines


def _sound(table: str, known: Covered) -> set[int]:
    """The keys of the rows that still are what their link says of them."""
    found: set[int] = set()
    for form in known.forms_of(table):
        told = {key: digest for key, (digest, of) in known.rows.get(table, {}).items() if of == form}
        found |= {key for key, digest in row_digests(form) if told.get(key) == digest}
    return found
