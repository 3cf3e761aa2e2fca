"""What is said of the records as evidence, as dictionaries for one line of JSON."""

from __future__ import annotations

from typing import Any

from lapwright.model.evidence import ArchiveReport, ChainReport


def chain_dict(report: ChainReport) -> dict[str, Any]:
    """The chain: whether it holds, its counts and last link, each fault."""
    return {
        "holds": report.holds,
        "links": report.links,
        "rows": report.rows,
        "anchors": report.anchors,
        "last_number": report.last_number,
        "last_digest": report.last_digest,
        "faults": [
            {"kind": fault.kind, "table": fault.table, "row": fault.row, "sentence": fault.sentence}
            for fault in report.faults
        ],
    }


def recomputed_dict(report: ArchiveReport) -> dict[str, Any]:
    """An archive: whether every number comes out again, and each number as told and as found, in SI."""
    return {
        "agrees": report.agrees,
        "wafers": list(report.wafers),
        "written_by": report.written_by,
        "platform_same": report.platform_same,
        "tolerance": report.tolerance,
        "numbers": [
            {"name": one.name, "told": one.told, "found": one.found, "agrees": one.agrees} for one in report.numbers
        ],
        "faults": list(report.faults),
    }
