"""The records of the job as dictionaries: orders, wafers, sets, bonds, stages, runs, verdicts, documents, tasks.

Every number has its unit in the field's name; times are ISO 8601 in UTC; None where nothing is recorded.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from lapwright.formats.edge_values import deg, edge_value, um
from lapwright.formats.plans import limit_dict, order_dict, stage_dict
from lapwright.model.clean_check import RecordedLook
from lapwright.model.job import (
    RecordedBond,
    RecordedDocument,
    RecordedFinding,
    RecordedNote,
    RecordedOrder,
    RecordedRun,
    RecordedStage,
    RecordedVerdict,
    RecordedWafer,
    RecordedZero,
)
from lapwright.model.readings import Signature
from lapwright.model.story import OrderBrief, OrderLine, SetBrief, Task, WaferBrief
from lapwright.model.wafer import Wedge
from lapwright.units import find_unit, to_unit


def signature_dict(signature: Signature | None) -> dict[str, Any] | None:
    """Who, when and why."""
    if signature is None:
        return None
    return {"by": signature.by, "at": _time(signature.at), "reason": signature.reason}


def order_line_dict(line: OrderLine) -> dict[str, Any]:
    """One order in a list."""
    return {
        "order": line.order_id,
        "customer": line.customer,
        "material": line.material,
        "quantity": line.quantity,
        "due": line.due.isoformat() if line.due else None,
        "states": dict(line.states),
        "worst_verdict": line.worst,
        "simulated": line.simulated,
        "received": _time(line.received),
    }


def recorded_order_dict(recorded: RecordedOrder) -> dict[str, Any]:
    """An order as recorded."""
    return {
        **order_dict(recorded.order),
        "wafers": list(recorded.wafer_ids),
        "simulated": recorded.simulated,
        "version": recorded.version,
        "recorded": signature_dict(recorded.signature),
    }


def order_brief_dict(brief: OrderBrief) -> dict[str, Any]:
    """What was done on an order."""
    return {
        **recorded_order_dict(brief.order),
        "wafers": [wafer_brief_dict(wafer) for wafer in brief.wafers],
        "route": brief.route,
        "notes": [note_dict(note) for note in brief.notes],
        "documents": [document_dict(document) for document in brief.documents],
    }


def wafer_brief_dict(brief: WaferBrief) -> dict[str, Any]:
    """What was done on a wafer: sets without their readings."""
    return {
        **wafer_dict(brief.wafer),
        "sets": [set_dict(one) for one in brief.sets],
        "bonds": [bond_record_dict(one) for one in brief.bonds],
        "stages": [recorded_stage_dict(one) for one in brief.stages],
        "runs": [run_dict(one) for one in brief.runs],
        "findings": [finding_dict(one) for one in brief.findings],
        "verdicts": [verdict_dict(one) for one in brief.verdicts],
        "notes": [note_dict(one) for one in brief.notes],
    }


def wafer_dict(recorded: RecordedWafer) -> dict[str, Any]:
    """A wafer and where it stands."""
    return {
        "wafer": recorded.wafer.wafer_id,
        "order": recorded.order_id,
        "spare": recorded.wafer.spare,
        "state": recorded.state,
        "since": _time(recorded.since),
        "carrier": recorded.carrier_id,
        "version": recorded.version,
    }


def set_dict(brief: SetBrief) -> dict[str, Any]:
    """A set of readings, without these."""
    return {
        "set": brief.set_id,
        "piece": brief.piece,
        "subject": brief.subject,
        "moment": brief.moment,
        "gauge": brief.gauge_id,
        "pattern": brief.pattern,
        "repeats": brief.repeats,
        "state": brief.state,
        "void_reason": brief.void_reason,
        "source": brief.source,
        "n_readings": brief.n_readings,
        "hold": brief.conditions.hold,
        "temperature_c": edge_value(brief.conditions.temperature, "temperature_c", "temperature"),
        "soaked": brief.conditions.soaked,
        "zero_before_um": um(brief.conditions.zero_before),
        "zero_after_um": um(brief.conditions.zero_after),
        "opened": signature_dict(brief.opened),
        "closed": signature_dict(brief.closed),
        "version": brief.version,
    }


def bond_record_dict(recorded: RecordedBond) -> dict[str, Any]:
    """A bond as recorded, with the numbers it was judged by."""
    numbers = recorded.numbers
    return {
        "bond": recorded.bond_id,
        "wafer": recorded.wafer_id,
        "carrier": recorded.carrier_id,
        "adhesive": recorded.adhesive,
        "mean_um": um(numbers.mean) if numbers else None,
        "range_um": um(numbers.range) if numbers else None,
        **_wedge(numbers.wedge if numbers else None, "wedge"),
        "suspects": list(numbers.suspects) if numbers else [],
        "predicted_ttv_um": um(numbers.predicted_ttv) if numbers else None,
        "predicted_ttv_expanded_uncertainty_um": um(numbers.predicted_ttv_expanded_uncertainty) if numbers else None,
        **_wedge(numbers.predicted_wedge if numbers else None, "predicted_wedge"),
        "advice": recorded.verdict.advice if recorded.verdict else None,
        "advice_reason": recorded.verdict.reason if recorded.verdict else None,
        "decision": recorded.decision,
        "made": signature_dict(recorded.made),
        "decided": signature_dict(recorded.decided),
        "undone": signature_dict(recorded.undone),
        "undone_by_method": recorded.undone_by_method,
        "version": recorded.version,
    }


def recorded_stage_dict(recorded: RecordedStage) -> dict[str, Any]:
    """A stage of a wafer: as planned for it, and how far it is."""
    return {
        **stage_dict(recorded.stage),
        "stage": recorded.stage_id,
        "number": recorded.number,
        "state": recorded.state,
        "set": recorded.set_id,
        "started": _time(recorded.started),
        "ended": _time(recorded.ended),
        "version": recorded.version,
    }


def look_dict(look: RecordedLook) -> dict[str, Any]:
    """A look that a cleaning ends with."""
    return {
        "look": look.look_id,
        "stage": look.stage_id,
        "outcome": look.outcome,
        "checked": list(look.checked),
        "document": look.document_id,
        **(signature_dict(look.signature) or {}),
    }


def zero_dict(recorded: RecordedZero) -> dict[str, Any]:
    """A zero of the jig's gauge."""
    return {
        "zero": recorded.zero_id,
        "wafer": recorded.wafer_id,
        "station": recorded.station_id,
        "jig": recorded.jig_id,
        "texts": list(recorded.texts),
        "unit": recorded.unit,
        "spread_um": um(recorded.spread),
        "limit_um": um(recorded.limit),
        "accepted": recorded.accepted,
        "reason": recorded.reason,
        "void": recorded.void,
    }


def run_dict(recorded: RecordedRun) -> dict[str, Any]:
    """A run of a wafer on a station."""
    return {
        "run": recorded.run_id,
        "stage": recorded.stage_id,
        "wafer": recorded.wafer_id,
        "station": recorded.station_id,
        "plate": recorded.plate,
        "abrasive": recorded.abrasive,
        "jig": recorded.jig_id,
        "load_kg": edge_value(recorded.load, "load_kg", "load"),
        "pressure_kpa": edge_value(recorded.pressure, "pressure_kpa", "pressure"),
        "plate_speed_rpm": edge_value(recorded.plate_speed, "plate_speed_rpm", "rotation"),
        "preset_um": um(recorded.preset),
        "preset_datum": recorded.preset_datum,
        "started": _time(recorded.started),
        "ended": _time(recorded.ended),
        "gauge_removal_um": um(recorded.gauge_removal),
        "stop_reason": recorded.stop_reason,
        "version": recorded.version,
    }


def finding_dict(recorded: RecordedFinding) -> dict[str, Any]:
    """A finding: roughness and the like."""
    return {
        "finding": recorded.finding_id,
        "wafer": recorded.wafer_id,
        "quantity": recorded.quantity,
        "value_um": um(recorded.value),
        "expanded_uncertainty_um": um(recorded.expanded_uncertainty),
        "text": recorded.text,
        "method": recorded.method,
        "recorded": signature_dict(recorded.signature),
    }


def verdict_dict(recorded: RecordedVerdict) -> dict[str, Any]:
    """A verdict with the limit and the number it rests on."""
    verdict = recorded.verdict
    return {
        "verdict": recorded.verdict_id,
        "wafer": recorded.wafer_id,
        **limit_dict(verdict.limit),
        "value_um": um(verdict.value),
        "expanded_uncertainty_um": um(verdict.expanded_uncertainty),
        "rule": verdict.rule.kind,
        "chance_inside": verdict.chance_inside,
        "outcome": verdict.outcome,
        "reason": verdict.reason,
        "set": recorded.set_id,
        "finding": recorded.finding_id,
        "recorded": signature_dict(recorded.signature),
    }


def document_dict(recorded: RecordedDocument) -> dict[str, Any]:
    """A kept file."""
    return {
        "document": recorded.document_id,
        "kind": recorded.kind,
        "order": recorded.order_id,
        "wafer": recorded.wafer_id,
        "name": recorded.name,
        "path": recorded.path,
        "sha256": recorded.sha256,
        "size_bytes": recorded.size,
    }


def note_dict(recorded: RecordedNote) -> dict[str, Any]:
    """A note."""
    return {
        "note": recorded.note_id,
        "kind": recorded.kind,
        "wafer": recorded.wafer_id,
        "text": recorded.text,
        "recorded": signature_dict(recorded.signature),
    }


def task_dict(task: Task) -> dict[str, Any]:
    """What waits for a hand, with the number to dial in; the number's field carries its unit."""
    number = task.number
    dial = None
    if number is not None:
        unit = find_unit(number.symbol, number.dimension)
        dial = {"label": number.label, f"value_{unit.field}": round(to_unit(number.value, unit), 6)}
    return {
        "verb": task.verb,
        "order": task.order_id,
        "wafer": task.wafer_id,
        "station": task.station_id,
        "number": dial,
        "since": _time(task.since),
        "why": task.why,
        "page": task.page,
        "warning": task.warning,
        "cautions": list(task.cautions),
    }


# ----------------------------------------------------------------------------------------------------------------------


def _time(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat()


def _wedge(wedge: Wedge | None, name: str) -> dict[str, Any]:
    return {
        f"{name}_um": um(wedge.amount) if wedge else None,
        f"{name}_azimuth_deg": deg(wedge.azimuth) if wedge else None,
    }
