"""Use case: how well the finished wafers of an order keep its limits, and how little few of them say."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.errors import OutOfValidRange
from lapwright.model.job import RecordedVerdict, WaferState
from lapwright.model.order import Limit
from lapwright.model.story import OrderStanding, WaferStanding

LEAST_WAFERS = 2  # one value has no scatter
#: A wafer that was judged and went back to work is not finished; one that broke or was refused afterwards counts.
FINISHED: tuple[WaferState, ...] = ("judged", "certified", "set_aside", "rejected")


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitCapability:
    """One limit with the standing verdicts on it, nearest to the limit first, and the capability in words."""

    limit: Limit
    sentence: str
    notes: tuple[str, ...]
    verdicts: tuple[RecordedVerdict, ...]


def order_capability(standing: OrderStanding) -> tuple[LimitCapability, ...]:
    """The capability for each limit on which two finished wafers or more were judged, by the values judged.

    Where no index can be had, as for values that are all alike, the sentence says why.
    """
    judged = [one for wafer in standing.wafers if wafer.wafer.state in FINISHED for one in _standing(wafer)]
    found = []
    for limit in standing.order.order.limits:
        mine = sorted(
            (one for one in judged if one.verdict.limit.quantity == limit.quantity),
            key=lambda one: _room(one.verdict.value, limit),
        )
        if len(mine) >= LEAST_WAFERS:
            found.append(_capability(limit, tuple(mine)))
    return tuple(found)


# ----------------------------------------------------------------------------------------------------------------------


def _standing(wafer: WaferStanding) -> tuple[RecordedVerdict, ...]:
    from lapwright.app.verdicts import latest_verdicts

    return latest_verdicts(wafer.verdicts)


def _capability(limit: Limit, verdicts: tuple[RecordedVerdict, ...]) -> LimitCapability:
    import numpy as np

    from lapwright.formats.statistics_results import capability_sentence
    from lapwright.metrology.capability import capability_study

    try:
        study = capability_study(
            np.array([one.verdict.value for one in verdicts]), lower=limit.lower, upper=limit.upper
        )
    except OutOfValidRange as error:
        return LimitCapability(limit=limit, sentence=error.sentence, notes=(), verdicts=verdicts)
    return LimitCapability(
        limit=limit,
        sentence=capability_sentence(study, counted_as="wafers"),
        notes=study.notes,
        verdicts=verdicts,
    )


def _room(value: float, limit: Limit) -> float:
    """How far a value lies inside its nearest limit."""
    sides = [
        *([] if limit.upper is None else [limit.upper - value]),
        *([] if limit.lower is None else [value - limit.lower]),
    ]
    return min(sides)
