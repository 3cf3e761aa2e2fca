"""Taking rows into the chain that no transaction of the program linked.

These are the rows that were there before the chain was, and those of a table that got new columns.

After each change of the tables every table whose columns differ from those last said in the chain is taken in again,
so that the new columns are covered, too. A row that does not match its old digest any more is left as it is: an
alteration is not covered up by an upgrade.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing

from lapwright.records import chain
from lapwright.records.chain_form import Form, covered_models, form_of
from lapwright.records.chain_rows import Covered, covered_rows, row_digests, side_by_side
from lapwright.records.faults import one_transaction

AT_ONCE = 10_000  # rows in one link


def take_in() -> None:
    """Take in every table whose columns the chain does not know yet. Does nothing when it knows all."""
    with closing(covered_rows() if chain.look_up_first() else Covered()) as known:
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
    lines = [chain.form_line(form)]
    for line in _row_lines(form, known):
        lines.append(line)
        if len(lines) > AT_ONCE:
            yield lines
            lines = []
    if lines:
        yield lines


def _row_lines(form: Form, known: Covered) -> Iterator[str]:
    """A line for each row; where the chain knows the table already, for those that still are what it tells of them."""
    if form.table not in known.forms:
        for key, digest in row_digests(form):
            yield f"row {form.table} {key} {digest}"
        return
    for old in sorted(known.forms_of(form.table), key=lambda one: one.columns):
        both = zip(row_digests(old), row_digests(form), strict=True)
        stored = ((key, f"{before} {now}") for (key, before), (_, now) in both)
        for key, digests, told in side_by_side(stored, known.rows(form.table)):
            before, _, now = (digests or "").partition(" ")
            if told is not None and told[2] == old and told[1] == before:
                yield f"row {form.table} {key} {now}"
