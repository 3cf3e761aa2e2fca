"""Looking whether the chain holds and whether every row still is what it says: what verifies the records.

Reads everything and writes nothing. What it finds is told row by row, so that whoever asks knows where to look.
"""

from __future__ import annotations

from collections.abc import Iterator

from lapwright.model.evidence import ChainFault, ChainReport
from lapwright.records import chain
from lapwright.records.chain_form import covered_models
from lapwright.records.chain_rows import PORTION, Covered, row_digests
from lapwright.records.faults import translated


def check_chain() -> ChainReport:
    """The whole chain, every covered row, and the anchors."""
    with translated():
        covered = Covered()
        links: dict[int, str] = {}
        faults = list(_link_faults(covered, links))
        faults += _row_faults(covered)
        anchors, anchor_faults = _anchor_faults(links)
        last = max(links, default=0)
        return ChainReport(
            links=len(links),
            rows=sum(len(found) for found in covered.rows.values()),
            anchors=anchors,
            last_number=last,
            last_digest=links.get(last, ""),
            faults=tuple(faults + anchor_faults),
        )


def last_link() -> tuple[int, str]:
    """Number and digest of the last link, to be kept elsewhere."""
    from lapwright.records.models import ChainLink

    with translated():
        found: tuple[int, str] | None = ChainLink.objects.order_by("-number").values_list("number", "digest").first()
        return found or (0, chain.GENESIS)


# ----------------------------------------------------------------------------------------------------------------------


def _link_faults(covered: Covered, links: dict[int, str]) -> Iterator[ChainFault]:
    """Walk the links in order; `covered` and `links` are filled on the way."""
    from lapwright.records.models import ChainLink

    previous, expected = chain.GENESIS, 1
    for link in ChainLink.objects.order_by("number").iterator(PORTION):
        if link.number != expected:
            yield _fault("link_missing", f"Links {expected} to {link.number - 1} of the chain are missing.", link)
        elif link.previous != previous:
            sentence = f"Link {link.number} of the chain does not follow the one before it: moved, or put in later."
            yield _fault("link_moved", sentence, link)
        if chain.link_digest(link) != link.digest:
            yield _fault("link_altered", f"Link {link.number} of the chain was altered: its digest differs.", link)
        covered.read(link.content)
        links[link.number] = link.digest
        previous, expected = link.digest, link.number + 1
    for line in covered.unreadable:
        yield ChainFault(kind="link_altered", table="chainlink", sentence=f"A link says what no link says: {line!r}.")


def _row_faults(covered: Covered) -> Iterator[ChainFault]:
    for table in covered_models():
        told = dict(covered.rows.get(table, {}))
        forms = covered.forms_of(table) or ({covered.forms[table]} if table in covered.forms else set())
        if not forms:
            sentence = (
                f"The chain knows nothing of the table {table!r}. Open the records once more, so that it is taken."
            )
            yield ChainFault(kind="added", table=table, sentence=sentence)
            continue
        missing = dict(told)
        for form in forms:
            for key, digest in row_digests(form):
                missing.pop(key, None)
                if key not in told:
                    sentence = f"Row {key} of {table} was put in past the program: no link tells of it."
                    yield ChainFault(kind="added", table=table, row=key, sentence=sentence)
                    told[key] = ("", form)
                elif told[key][1] == form and told[key][0] not in ("", digest):
                    sentence = f"Row {key} of {table} was altered: it is not what its link tells."
                    yield ChainFault(kind="altered", table=table, row=key, sentence=sentence)
        for key in sorted(missing):
            sentence = f"Row {key} of {table} was removed: its link tells of it, and it is gone."
            yield ChainFault(kind="removed", table=table, row=key, sentence=sentence)


def _anchor_faults(links: dict[int, str]) -> tuple[int, list[ChainFault]]:
    """How many anchors are of this chain, and what they say against it."""
    path = chain.anchor_file()
    text = path.read_text(encoding="ascii", errors="replace") if path.exists() else ""
    lines = [line.split() for line in text.splitlines()]
    anchors = [(int(line[0]), line[1], line[2]) for line in lines if len(line) == 3 and line[0].isdigit()]
    first = links.get(1, "")[:16]
    ours = [(number, digest) for number, digest, of in anchors if first and of == first]
    faults = []
    gone = [number for number, _ in ours if number not in links]
    if gone:
        sentence = (
            f"The chain once reached link {max(gone)} and now ends at {max(links, default=0)}: the last rows were"
            " removed together with their links, or an older backup was restored."
        )
        faults.append(ChainFault(kind="end_removed", table="chainlink", row=max(gone), sentence=sentence))
    for number, digest in ours:
        if number in links and links[number] != digest:
            sentence = (
                f"Link {number} is not the one that was anchored: the chain was written anew from there or before."
            )
            faults.append(ChainFault(kind="rewritten", table="chainlink", row=number, sentence=sentence))
            break
    if len(ours) < len(anchors):
        sentence = (
            f"{len(anchors) - len(ours)} anchors in {path.name} are of another chain: this one was written anew from"
            " its first link, or the folder was used with another database."
        )
        faults.append(ChainFault(kind="rewritten", table="chainlink", sentence=sentence))
    if not anchors:
        sentence = f"There are no anchors in {path.name}, so nobody can tell whether the last rows were removed."
        faults.append(ChainFault(kind="no_anchor", table="chainlink", sentence=sentence))
    return len(ours), faults


def _fault(kind: str, sentence: str, link: object) -> ChainFault:
    return ChainFault(kind=kind, table="chainlink", row=link.number, sentence=sentence)  # type: ignore[arg-type, attr-defined]
