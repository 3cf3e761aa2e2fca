"""Records computed anew, as a dictionary for one line of JSON and as rows of a CSV file."""

from __future__ import annotations

import csv
import io
from typing import Any

from lapwright.model.reprocessed import NotDone, ReprocessReport


def reprocessed_dict(report: ReprocessReport) -> dict[str, Any]:
    """Counts, the largest difference, and every number that changed, in SI."""
    return {
        "kind": report.kind,
        "version": report.version,
        "agrees": report.agrees,
        "tolerance": report.tolerance,
        "records": report.records,
        "numbers": report.numbers,
        "largest_difference": report.largest,
        "changed": [
            {"record": one.record_id, "piece": one.piece, "name": one.name, "told": one.told, "found": one.found}
            for one in report.changed
        ],
        "refused": [_not_done(one) for one in report.refused],
        "left_out": [_not_done(one) for one in report.left_out],
        "recorded": list(report.recorded),
    }


def reprocessed_csv(report: ReprocessReport) -> str:
    """One row for each number that changed and each record that was refused or left out."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(("kind", "record", "piece", "state", "name", "told", "found", "sentence"))
    for one in report.changed:
        table.writerow((report.kind, one.record_id, one.piece, "changed", one.name, one.told, one.found, ""))
    for state, those in (("refused", report.refused), ("left out", report.left_out)):
        table.writerows((report.kind, one.record_id, one.piece, state, "", "", "", one.sentence) for one in those)
    return text.getvalue()


# ----------------------------------------------------------------------------------------------------------------------


def _not_done(one: NotDone) -> dict[str, Any]:
    return {"record": one.record_id, "piece": one.piece, "sentence": one.sentence}
