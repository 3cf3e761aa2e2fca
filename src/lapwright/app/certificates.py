"""Use cases: the certificate of an order, and the files kept with it."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from lapwright.model.job import DocumentKind, RecordedDocument
from lapwright.reports.certificate_data import CertificateData


def collect(order_id: str, *, at: datetime) -> CertificateData:
    """All that a certificate of the judged wafers says. Raises `Conflict` while none is judged."""
    raise NotImplementedError


def issue_certificate(
    order_id: str, *, language: str | None = None, by: str, reason: str, at: datetime
) -> tuple[RecordedDocument, ...]:
    """Write the certificate as PDF, HTML, CSV and JSON into the data folder and record the files.

    The judged wafers that conform become certified.
    """
    raise NotImplementedError


def store_document(
    order_id: str,
    name: str,
    content: bytes,
    *,
    kind: DocumentKind = "other",
    wafer_id: str | None = None,
    by: str,
    reason: str,
    at: datetime,
) -> RecordedDocument:
    """Keep a file with an order: written to the data folder under its SHA-256, then recorded."""
    raise NotImplementedError


def document_path(document_id: int) -> Path:
    """Where a kept file lies; checked against its SHA-256. Raises `NotFound`, `RecordError` when it was altered."""
    raise NotImplementedError
