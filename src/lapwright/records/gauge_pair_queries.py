"""Reading what two gauges read of one piece at the same moment of the job, so that they can be compared."""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import Exists, OuterRef, QuerySet

from lapwright.model.gauge_care import GaugePair
from lapwright.records import kept, models
from lapwright.records.faults import translated

MANY = 2000  # sets of a gauge from which on those of all the others may be fewer
#: Moments between whose sets nothing is done to the piece, so that two gauges read the same thing.
_STILL = ("incoming", "carrier", "on_carrier", "final")


def gauge_pairs(gauge_id: str) -> tuple[GaugePair, ...]:
    """Sets of this gauge beside the last set of each other gauge on the same piece at the same moment, latest first."""
    with translated():
        closed = models.ReadingSet.objects.filter(state="closed", moment__in=_STILL)
        found = (
            closed.filter(piece__in=_read_twice(gauge_id, closed)).select_related("gauge", "order").order_by("at", "pk")
        )
        latest: dict[tuple[str, str], dict[str, models.ReadingSet]] = {}
        for row in found:
            latest.setdefault((row.piece, row.moment), {})[row.gauge.gauge_id] = row
        pairs = [
            _pair(by_gauge[gauge_id], other)
            for by_gauge in latest.values()
            if gauge_id in by_gauge
            for name, other in by_gauge.items()
            if name != gauge_id
        ]
    return tuple(sorted(pairs, key=lambda one: (max(one.at), one.set_ids), reverse=True))


def gauges_of_pieces(keys: Collection[int]) -> frozenset[str]:
    """The gauges with which the pieces of some sets were read, in these sets and in others."""
    with translated():
        pieces = models.ReadingSet.objects.filter(pk__in=list(keys)).order_by().values_list("piece", flat=True)
        sets = models.ReadingSet.objects.filter(piece__in=list(set(pieces)))
        return frozenset(sets.order_by().values_list("gauge__gauge_id", flat=True).distinct())


# ----------------------------------------------------------------------------------------------------------------------


def _read_twice(gauge_id: str, closed: QuerySet[models.ReadingSet]) -> list[str]:
    """Pieces that were read with a gauge and with another one, looked for among the sets of which there are fewer."""
    closed = closed.order_by()
    mine = closed.filter(gauge__gauge_id=gauge_id)
    others = _pieces_of_others(gauge_id, closed) if mine[:MANY].count() == MANY else None
    fewer = mine.values_list("piece", flat=True) if others is None else others
    pieces = sorted(set(fewer))  # named one by one, or all sets would be gone through
    read: dict[str, set[object]] = {}
    for first in range(0, len(pieces), kept.MOST_ASKED):
        some = closed.filter(piece__in=pieces[first : first + kept.MOST_ASKED])
        for piece, gauge in some.values_list("piece", "gauge"):
            read.setdefault(piece, set()).add(gauge)
    return [piece for piece, gauges in read.items() if len(gauges) > 1]


def _pieces_of_others(gauge_id: str, closed: QuerySet[models.ReadingSet]) -> list[str] | None:
    """Pieces read with other gauges, asked gauge by gauge, each by its index; None where they are many, too."""
    found: list[str] = []
    is_used = Exists(models.ReadingSet.objects.filter(gauge=OuterRef("pk")))
    for other in models.Gauge.objects.filter(is_used).exclude(gauge_id=gauge_id).values_list("pk", flat=True):
        found += closed.filter(gauge=other).values_list("piece", flat=True)[: MANY - len(found)]
        if len(found) == MANY:
            return None
    return found


def _pair(mine: models.ReadingSet, other: models.ReadingSet) -> GaugePair:
    return GaugePair(
        piece=mine.piece,
        moment=mine.moment,
        order_id=None if mine.order is None else mine.order.order_id,
        set_ids=(mine.pk, other.pk),
        gauge_ids=(mine.gauge.gauge_id, other.gauge.gauge_id),
        at=(mine.at, other.at),
    )
