"""Files kept with an order, handed out so that none can act inside our pages."""

from __future__ import annotations

from pathlib import Path

from django.http import FileResponse, HttpRequest
from django.views.decorators.http import require_safe

from lapwright.app import certificates, documents
from lapwright.errors import NotFound
from lapwright.model.job import RecordedDocument

#: Kinds that a browser may show; anything else is only downloaded.
SHOWN = {
    "certificate_pdf": "application/pdf", "quotation_pdf": "application/pdf",
    "certificate_html": "text/html; charset=utf-8",
}  # fmt: skip
#: Endings of the pictures that a browser may show; the kind was looked at when they were kept.
PICTURES = {".jpg": "image/jpeg", ".png": "image/png"}
#: A page of ours shown alone: its own style and drawings, no script, no frame, no address to send to.
SANDBOX = "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:"


@require_safe
def document(request: HttpRequest, order_id: str, document_id: int) -> FileResponse:  # noqa: ARG001  # Django gives it
    """The file, checked against its SHA-256 on the way."""
    kept = _find(order_id, document_id)
    path = certificates.document_path(document_id)
    kind = _shown_as(kept)
    answer = FileResponse(
        path.open("rb"),
        as_attachment=kind is None,
        filename=kept.name,
        content_type=kind or "application/octet-stream",
    )
    if kept.kind == "certificate_html":
        answer.headers["Content-Security-Policy"] = SANDBOX
    return answer


def _shown_as(kept: RecordedDocument) -> str | None:
    """What a browser may show a file as; None for one that is only downloaded."""
    if kept.kind in ("photo", "bond_photo"):
        return PICTURES.get(Path(kept.name).suffix.lower())
    return SHOWN.get(kept.kind)


def _find(order_id: str, document_id: int) -> RecordedDocument:
    kept = documents.show_document(document_id)
    if kept.order_id != order_id:
        raise NotFound(f"Order {order_id} has no document {document_id}. Open it from the Traveller.")
    return kept
