"""Use cases: other findings, and judging a wafer against the limits of its order."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from lapwright.app import set_values, steps
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.job import RecordedFinding, RecordedSet, RecordedVerdict
from lapwright.model.order import Limit, Order, Quantity
from lapwright.model.readings import Signature
from lapwright.model.request import FindingRequest

if TYPE_CHECKING:
    from lapwright.metrology.thickness import ThicknessResult
    from lapwright.metrology.uncertainty import CombinedUncertainty

#: Quantities that a readings set answers; the others come from findings.
FROM_SET: tuple[Quantity, ...] = ("thickness", "ttv", "wedge")
COVERAGE = 2.0  # of an expanded uncertainty that comes without its degrees of freedom; JCGM 100:2008, 6.3.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What a limit is judged by: value and standard uncertainty [m], its degrees of freedom, and where it stands."""

    value: float
    standard_uncertainty: float | None
    degrees_of_freedom: float
    set_id: int | None = None
    finding_id: int | None = None


def record_finding(request: FindingRequest, *, by: str, reason: str, at: datetime) -> RecordedFinding:
    """Record a quantity that was measured otherwise than by a readings set: roughness, flatness, bow.

    Raises `UnitError` for a value without its unit, `BadInput` for a quantity that a readings set answers.
    """
    from lapwright.records import writer
    from lapwright.units import parse

    faults = []
    if request.quantity in FROM_SET:
        faults.append(Fault(sentence=f"The {request.quantity} comes from a readings set; take one.", field="quantity"))
    if not request.method.strip():
        faults.append(Fault(sentence="Say how it was measured: instrument, filter, length.", field="method"))
    if request.expanded_uncertainty is not None and not request.expanded_uncertainty > 0.0:
        faults.append(Fault(sentence="An uncertainty is above zero, or unknown.", field="expanded_uncertainty"))
    if faults:
        raise BadInput(faults, subject="The finding")
    value = parse(request.text, "length")
    unit = set_values.length_of(request.text, "")[1]
    return writer.add_finding(request, value, unit, Signature(by=by, at=at, reason=reason))


def judge_wafer(wafer_id: str, *, by: str, reason: str, at: datetime) -> tuple[RecordedVerdict, ...]:
    """Judge every limit of the order by the latest final set and the latest findings, and record the verdicts.

    Raises `Conflict` naming all that must be measured first.
    """
    from lapwright.process.decisions import judge
    from lapwright.records import queries, writer

    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        wafer = queries.wafer(wafer_id)
        steps.need_state(wafer, ("read_free", "judged"), "Judging")
        order = queries.order(wafer.order_id).order
        evidence = _evidence(wafer_id, order)
        verdicts = [
            (
                judge(limit, found.value, found.standard_uncertainty, found.degrees_of_freedom, order.rule),
                found.set_id,
                found.finding_id,
            )
            for limit, found in evidence
        ]
        recorded = writer.add_verdicts(wafer_id, verdicts, signature)
        if wafer.state != "judged":
            writer.move_wafer(wafer_id, "judged", signature)
        return recorded


def not_measured(order: Order, found: Collection[str]) -> tuple[Quantity, ...]:
    """The limited quantities that no set answers and that are not among those found."""
    asked = (limit.quantity for limit in order.limits if limit.quantity not in FROM_SET)
    return tuple(quantity for quantity in asked if quantity not in found)


def latest_verdicts(verdicts: tuple[RecordedVerdict, ...]) -> tuple[RecordedVerdict, ...]:
    """The latest verdict on each limit, in the order of the first ones."""
    latest = {one.verdict.limit.quantity: one for one in verdicts}
    return tuple(latest.values())


# ----------------------------------------------------------------------------------------------------------------------


def _evidence(wafer_id: str, order: Order) -> list[tuple[Limit, Evidence]]:
    from lapwright.records import queries, story_queries

    final = queries.latest_set(wafer_id, "wafer", "final")
    result = None if final is None else set_values.result_of(final)
    findings = story_queries.wafer_story(wafer_id).findings
    found, missing = [], []
    for limit in order.limits:
        if limit.quantity in FROM_SET:
            evidence = None if final is None or result is None else _from_set(limit.quantity, final, result)
        else:
            evidence = _from_findings(limit.quantity, findings)
        if evidence is None:
            missing.append(limit.quantity.replace("_", " "))
        else:
            found.append((limit, evidence))
    if missing:
        raise Conflict(
            f"Wafer {wafer_id!r} cannot be judged: not measured yet: {', '.join(missing)}."
            " Close the final set and record the other findings first."
        )
    return found


def _from_set(quantity: Quantity, final: RecordedSet, result: ThicknessResult) -> Evidence | None:
    if quantity == "thickness":
        return _evidence_of(result.mean, result.mean_uncertainty, final)
    if quantity == "ttv":
        value = result.ttv if result.ttv_corrected is None else result.ttv_corrected
        return _evidence_of(value, result.ttv_uncertainty, final)
    return None if result.wedge is None else _evidence_of(result.wedge.amount, result.wedge_uncertainty, final)


def _evidence_of(value: float, uncertainty: CombinedUncertainty | None, final: RecordedSet) -> Evidence:
    return Evidence(
        value=value,
        standard_uncertainty=None if uncertainty is None else uncertainty.standard_uncertainty,
        degrees_of_freedom=math.inf if uncertainty is None else uncertainty.degrees_of_freedom,
        set_id=final.set_id,
    )


def _from_findings(quantity: Quantity, findings: tuple[RecordedFinding, ...]) -> Evidence | None:
    latest = next((one for one in reversed(findings) if one.quantity == quantity), None)
    if latest is None:
        return None
    expanded = latest.expanded_uncertainty
    return Evidence(
        value=latest.value,
        standard_uncertainty=None if expanded is None else expanded / COVERAGE,
        degrees_of_freedom=math.inf,
        finding_id=latest.finding_id,
    )
