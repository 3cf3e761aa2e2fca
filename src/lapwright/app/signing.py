"""Use case: signing a certificate, with what the signature means."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from lapwright.app.documents import document_path
from lapwright.errors import BadInput, Fault
from lapwright.model.access import MEANINGS, Signed, SignMethod
from lapwright.model.job import RecordedDocument
from lapwright.model.readings import Signature


def sign_certificate(
    order_id: str, document_number: str, meaning: str, *, method: SignMethod, by: str, reason: str, at: datetime
) -> None:
    """Put a name under all files of a certificate, each told by its SHA-256 and checked against it.

    Raises `BadInput` for a certificate or a meaning that is not there, `RecordError` when a file was altered.
    """
    from lapwright.records import queries, story_queries, writer

    kept = story_queries.order_documents(order_id)
    files = [one for one in kept if one.name.rpartition(".")[0] == document_number]
    faults = []
    if not files:
        told = ", ".join(numbers_of(kept)) or "none"
        sentence = f"Found certificate {document_number!r}, expected one of this order: {told}."
        faults.append(Fault(sentence=sentence, field="number"))
    if meaning not in MEANINGS:
        sentence = f"Found {meaning!r}, expected what the signature means: {', '.join(MEANINGS)}."
        faults.append(Fault(sentence=sentence, field="meaning"))
    if faults:
        raise BadInput(faults, subject="The signature")
    for one in files:
        document_path(one.document_id)
    name = next((one.full_name or one.name for one in queries.people() if one.name == by), by)
    writer.add_signing(
        order_id,
        document_number,
        meaning=meaning,  # type: ignore[arg-type]  # checked above
        name=name,
        method=method,
        documents=[(one.document_id, one.sha256) for one in files],
        signature=Signature(by=by, at=at, reason=reason),
    )


def signatures_of(order_id: str) -> tuple[Signed, ...]:
    """The signatures under the certificates of an order, oldest first."""
    from lapwright.records import access_queries

    return access_queries.signings(order_id)


def numbers_of(documents: Iterable[RecordedDocument]) -> tuple[str, ...]:
    """The numbers of the certificates among an order's documents, the latest first."""
    return tuple(one.name.rpartition(".")[0] for one in documents if one.kind == "certificate_pdf")[::-1]
