"""Looking whether the chain holds and whether every row still is what it says: what verifies the records.

Reads everything and writes nothing. What it finds is told row by row, so that whoever asks knows where to look.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing

from lapwright.model.evidence import ChainFault, ChainReport
from lapwright.records import chain
from lapwright.records.chain_form import Form, covered_models
from lapwright.records.chain_rows import LINKS, Covered, row_digests, side_by_side
from lapwright.records.faults import translated


def check_chain() -> ChainReport:
    """The whole chain, every covered row, and the anchors; in little memory, however many there are."""
    with translated(), closing(Covered()) as covered:
        faults = list(_link_faults(covered))
        faults += _row_faults(covered)
        anchors, anchor_faults = _anchor_faults(covered)
        links, last = covered.link_count()
        return ChainReport(
            links=links,
            rows=covered.count(),
            anchors=anchors,
            last_number=last,
            last_digest=covered.link_digest(last) or "",
            faults=tuple(faults + anchor_faults),
        )


def last_link() -> tuple[int, str]:
    """Number and digest of the last link, to be kept elsewhere."""
    from lapwright.records.models import ChainLink

    with translated():
        found: tuple[int, str] | None = ChainLink.objects.order_by("-number").values_list("number", "digest").first()
        return found or (0, chain.GENESIS)


# ----------------------------------------------------------------------------------------------------------------------


def _link_faults(covered: Covered) -> Iterator[ChainFault]:
    """Walk the links in order; `covered` is filled on the way."""
    from lapwright.records.models import ChainLink

    previous, expected = chain.GENESIS, 1
    for link in ChainLink.objects.order_by("number").iterator(LINKS):
        if link.number != expected:
            yield _fault("link_missing", f"Links {expected} to {link.number - 1} of the chain are missing.", link)
        elif link.previous != previous:
            sentence = f"Link {link.number} of the chain does not follow the one before it: moved, or put in later."
            yield _fault("link_moved", sentence, link)
        if chain.link_digest(link) != link.digest:
            yield _fault("link_altered", f"Link {link.number} of the chain was altered: its digest differs.", link)
        covered.read(link.content)
        covered.note_link(link.number, link.digest)
        previous, expected = link.digest, link.number + 1
    for line in covered.unreadable:
        yield ChainFault(kind="link_altered", table="chainlink", sentence=f"A link says what no link says: {line!r}.")


def _row_faults(covered: Covered) -> Iterator[ChainFault]:
    for table in covered_models():
        forms = covered.forms_of(table) or ({covered.forms[table]} if table in covered.forms else set())
        if not forms:
            sentence = (
                f"The chain knows nothing of the table {table!r}. Open the records once more, so that it is taken."
            )
            yield ChainFault(kind="added", table=table, sentence=sentence)
        for place, form in enumerate(sorted(forms, key=lambda one: one.columns)):
            yield from _faults_in_form(covered, form, is_first=place == 0)


def _faults_in_form(covered: Covered, form: Form, *, is_first: bool) -> Iterator[ChainFault]:
    """Rows told in this form that are not what was told; with the first form those put in and those gone, too."""
    table, gone = form.table, []
    for key, digest, told in side_by_side(row_digests(form), covered.rows(table)):
        if told is None:
            if is_first:
                sentence = f"Row {key} of {table} was put in past the program: no link tells of it."
                yield ChainFault(kind="added", table=table, row=key, sentence=sentence)
        elif digest is None:
            sentence = f"Row {key} of {table} was removed: its link tells of it, and it is gone."
            gone.append(ChainFault(kind="removed", table=table, row=key, sentence=sentence))
        elif told[2] == form and told[1] != digest:
            sentence = f"Row {key} of {table} was altered: it is not what its link tells."
            yield ChainFault(kind="altered", table=table, row=key, sentence=sentence)
    if is_first:
        yield from gone


def _anchor_faults(covered: Covered) -> tuple[int, list[ChainFault]]:
    """How many anchors are of this chain, and what they say against it."""
    path, first = chain.anchor_file(), (covered.link_digest(1) or "")[:16]
    all_of_them = ours = beyond = 0
    faults: list[ChainFault] = []
    rewritten: ChainFault | None = None
    for number, digest, of in _anchors():
        all_of_them += 1
        if not first or of != first:
            continue
        ours += 1
        linked = covered.link_digest(number)
        if linked is None:
            beyond = max(beyond, number)
        elif linked != digest and rewritten is None:
            sentence = (
                f"Link {number} is not the one that was anchored: the chain was written anew from there or before."
            )
            rewritten = ChainFault(kind="rewritten", table="chainlink", row=number, sentence=sentence)
    if beyond:
        sentence = (
            f"The chain once reached link {beyond} and now ends at {covered.link_count()[1]}: the last rows were"
            " removed together with their links, or an older backup was restored."
        )
        faults.append(ChainFault(kind="end_removed", table="chainlink", row=beyond, sentence=sentence))
    if rewritten is not None:
        faults.append(rewritten)
    if ours < all_of_them:
        sentence = (
            f"{all_of_them - ours} anchors in {path.name} are of another chain: this one was written anew from"
            " its first link, or the folder was used with another database."
        )
        faults.append(ChainFault(kind="rewritten", table="chainlink", sentence=sentence))
    if not all_of_them:
        sentence = f"There are no anchors in {path.name}, so nobody can tell whether the last rows were removed."
        faults.append(ChainFault(kind="no_anchor", table="chainlink", sentence=sentence))
    return ours, faults


def _anchors() -> Iterator[tuple[int, str, str]]:
    """Number, digest and chain of each anchor; a line torn by a crash is none."""
    path = chain.anchor_file()
    if not path.exists():
        return
    with path.open(encoding="ascii", errors="replace") as file:
        for line in file:
            match line.split():
                case [number, digest, of] if number.isdigit():
                    yield int(number), digest, of


def _fault(kind: str, sentence: str, link: object) -> ChainFault:
    return ChainFault(kind=kind, table="chainlink", row=link.number, sentence=sentence)  # type: ignore[arg-type, attr-defined]
