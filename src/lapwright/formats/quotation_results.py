"""A quotation as a dictionary: money in its currency, times in hours, chances from 0 to 1."""

from __future__ import annotations

from typing import Any

from lapwright.model.quotation import ActualJob, Quotation, QuotedLine, RecordedQuotation

_HOUR = 3600.0


def quotation_dict(quotation: Quotation, recorded: RecordedQuotation | None = None) -> dict[str, Any]:
    """The quotation; `number` is null while it is not recorded."""
    told = quotation.told
    return {
        "order": quotation.order_id,
        "number": None if recorded is None else quotation.number,
        "currency": quotation.prices.currency or None,
        "price_version": quotation.price_version,
        "issued": quotation.issued.isoformat(),
        "valid_until": quotation.valid_until.isoformat(),
        "quantity": quotation.quantity,
        "wafers_to_start": quotation.started,
        "chance_of_enough": quotation.chance_of_enough,
        "chance_with_one_fewer": quotation.chance_with_fewer,
        "yield_expected": told.expected,
        "yield_of_route": told.chance,
        "own_good": told.good,
        "own_lost": told.lost,
        "price_50": quotation.even,
        "price_90": quotation.sure,
        "piece_price_50": quotation.piece_even,
        "piece_price_90": quotation.piece_sure,
        "cost_expected": quotation.expected,
        "cost_low": quotation.low,
        "cost_high": quotation.high,
        "work_h": quotation.time / _HOUR,
        "work_50_h": quotation.time_even / _HOUR,
        "work_90_h": quotation.time_sure / _HOUR,
        "delivery_50": quotation.delivery.even.isoformat(),
        "delivery_90": quotation.delivery.sure.isoformat(),
        "delivery_basis": quotation.delivery.basis,
        "route": quotation.plan.name,
        "stages": [_line(one) for one in sorted(quotation.lines, key=lambda one: -one.cost)],
        "by": None if recorded is None else recorded.signature.by,
        "at": None if recorded is None else recorded.signature.at.isoformat(),
    }


def order_quote_dict(quotation: Quotation, latest: tuple[Quotation, ActualJob | None] | None) -> dict[str, Any]:
    """What an order would be quoted now, and what the job took against its latest quotation where it was given one."""
    result = quotation_dict(quotation)
    if latest is not None and latest[1] is not None:
        result["latest_against_actual"] = {"number": latest[0].number, **actual_dict(latest[1])}
    return result


def actual_dict(actual: ActualJob) -> dict[str, Any]:
    """A job against its quotation, the stages that differ most first."""
    return {
        "cost_quoted": actual.quoted,
        "cost_actual": actual.actual,
        "inside_interval": actual.is_inside,
        "is_over": actual.is_over,
        "begun": actual.begun,
        "good": actual.good,
        "lost": actual.lost,
        "pauses_h": actual.pauses / _HOUR,
        "stages": [
            {
                "stage": one.name,
                "cost_quoted": one.quoted,
                "cost_low": one.low,
                "cost_high": one.high,
                "cost_actual": one.actual,
                "person_h": one.person / _HOUR,
                "machine_h": one.machine / _HOUR,
            }
            for one in actual.lines
        ],
    }


# ----------------------------------------------------------------------------------------------------------------------


def _line(line: QuotedLine) -> dict[str, Any]:
    return {
        "stage": line.name,
        "cost": line.cost,
        "cost_low": line.low,
        "cost_high": line.high,
        "person_h": line.person / _HOUR,
        "machine_h": line.machine / _HOUR,
    }
