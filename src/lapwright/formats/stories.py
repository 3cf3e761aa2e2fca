"""Recorded orders as dictionaries: the line in a list, and the story with its wafers; every number with its unit."""

from __future__ import annotations

from typing import Any

from lapwright.formats.edge_values import um
from lapwright.formats.plans import limit_dict, order_dict, outline_dict
from lapwright.model.job import RecordedDocument, RecordedVerdict
from lapwright.model.story import OrderLine, OrderStory, WaferStory


def order_line_dict(line: OrderLine) -> dict[str, Any]:
    """One order in a list."""
    return {
        "order": line.order_id,
        "customer": line.customer,
        "material": line.material,
        "quantity": line.quantity,
        "due": line.due.isoformat() if line.due else None,
        "states": dict(line.states),
        "worst": line.worst,
        "simulated": line.simulated,
        "received": line.received.isoformat(),
    }


def order_story_dict(story: OrderStory) -> dict[str, Any]:
    """One order with its wafers, the route it follows and its documents."""
    chosen = next((route for route in reversed(story.routes) if route.chosen), None)
    return {
        **order_dict(story.order.order),
        "simulated": story.order.simulated,
        "version": story.order.version,
        "route": chosen.plan.name if chosen else None,
        "wafers": [wafer_story_dict(wafer) for wafer in story.wafers],
        "documents": [document_dict(document) for document in story.documents],
    }


def wafer_story_dict(story: WaferStory) -> dict[str, Any]:
    """One wafer: where it stands, its sets by number, its verdicts."""
    wafer = story.wafer.wafer
    return {
        "wafer": wafer.wafer_id,
        "spare": wafer.spare,
        "outline": outline_dict(wafer.outline),
        "nominal_thickness_um": um(wafer.nominal_thickness),
        "state": story.wafer.state,
        "since": story.wafer.since.isoformat(),
        "carrier": story.wafer.carrier_id,
        "sets": [
            {"set": one.set_id, "moment": one.moment, "state": one.state, "gauge": one.gauge_id} for one in story.sets
        ],
        "verdicts": [verdict_dict(one) for one in story.verdicts],
    }


def verdict_dict(recorded: RecordedVerdict) -> dict[str, Any]:
    """One limit judged."""
    verdict = recorded.verdict
    return {
        **limit_dict(verdict.limit),
        "value_um": um(verdict.value),
        "expanded_uncertainty_um": um(verdict.expanded_uncertainty),
        "outcome": verdict.outcome,
        "chance_inside": verdict.chance_inside,
        "reason": verdict.reason,
    }


def document_dict(document: RecordedDocument) -> dict[str, Any]:
    """One file kept with an order."""
    return {
        "document": document.document_id,
        "kind": document.kind,
        "name": document.name,
        "sha256": document.sha256,
        "size_byte": document.size,
    }
