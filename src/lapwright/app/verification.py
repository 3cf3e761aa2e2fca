"""Use case: whether the records are complete and untouched."""

from __future__ import annotations

from lapwright.model.evidence import ChainReport


def verify_records() -> ChainReport:
    """Walk the audit chain and compare every row with it. Nothing is written."""
    from lapwright.records.chain_check import check_chain

    return check_chain()
