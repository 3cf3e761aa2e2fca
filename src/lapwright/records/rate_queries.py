"""Reading what rates are learned from: every run that is over, with its material, its plan and how long it cut."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from django.db import connections
from django.db.models import Count, Max, Sum

from lapwright.model.job import RecordedRun
from lapwright.model.plan import Stage
from lapwright.records import kept, models, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated

#: Rates follow the drift of a shop, so that what lies further back weighs nothing; a laboratory works so many in years.
MOST_RUNS = 3000
_AT_ONCE, _ABOVE = 500, 10**12


@dataclass(frozen=True, slots=True, kw_only=True)
class RunFacts:
    """A run that is over: what it was, of which order and material, its stage as planned, and the time it cut [s].

    `removed_uncertainty` [m] is that of its gauge where a recorder followed it; `is_timed` says whether a clock or a
    recorder took the time, or only a person's two presses.
    """

    run: RecordedRun
    order_id: str
    material: str
    planned: Stage
    cut_time: float
    removed_uncertainty: float | None
    is_timed: bool


def ended_run_facts() -> tuple[RunFacts, ...]:
    """The newest `MOST_RUNS` runs that are over, the earliest first; of pieces that ran together the first one's."""
    with translated():
        over = models.Run.objects.exclude(ended_at=None).filter(with_run=None).order_by("-at", "-pk")
        versions = over.values_list("pk", "stream__end__pk", "version", "stage__version", "wafer__order__version")
        last = {key: _as_one(of) for key, *of in reversed(versions[:MOST_RUNS])}
        found = kept.while_last("facts of runs", last, _facts_of)
        return tuple(found[key] for key in last)


def run_stamp() -> tuple[object, ...]:
    """A value that changes whenever a run or a change of a station may teach something new."""
    with translated():
        runs = models.Run.objects.aggregate(Count("pk"), Max("pk"), Max("ended_at"), Sum("gauge_removal_m"), Max("at"))
        changes = models.Change.objects.filter(table="station").aggregate(Count("pk"), Max("pk"), Max("at"))
        name = str(models.Run.objects.db), str(connections[models.Run.objects.db].settings_dict["NAME"])
        return (*name, *runs.values(), *changes.values())


def stack_stamp() -> tuple[object, ...]:
    """A value that changes whenever a set of a stack is closed."""
    with translated():
        closed = models.ReadingSet.objects.filter(state="closed", subject="stack")
        return tuple(closed.aggregate(Count("pk"), Max("closed_at")).values())


def are_of_stacks(keys: Collection[int]) -> bool:
    """Whether one of some sets is of a stack."""
    with translated():
        return models.ReadingSet.objects.filter(pk__in=list(keys), subject="stack").exists()


# ----------------------------------------------------------------------------------------------------------------------


def _as_one(versions: Sequence[int | None]) -> int:
    """Some numbers below a million million as one."""
    found = 0
    for one in versions:
        found = found * _ABOVE + (0 if one is None else one + 1)
    return found


def _facts_of(keys: Sequence[int]) -> dict[int, RunFacts]:
    found: dict[int, RunFacts] = {}
    for first in range(0, len(keys), _AT_ONCE):
        runs = (
            models.Run.objects.filter(pk__in=keys[first : first + _AT_ONCE])
            .select_related("wafer__order", "station", "jig", "stage", "stream__end")
            .defer("wafer__definition", "wafer__order__definition", "station__definition", "jig__definition",
                   "stream__feed")
        )  # fmt: skip
        found |= {row.pk: _facts(row) for row in runs}
    return found


def _facts(row: models.Run) -> RunFacts:
    run = rows.run(row)
    stream = getattr(row, "stream", None)
    end = getattr(stream, "end", None)
    worked = (row.ended_at - row.at).total_seconds() if row.ended_at is not None else 0.0
    return RunFacts(
        run=run,
        order_id=row.wafer.order.order_id,
        material=row.wafer.order.material,
        planned=from_plain(row.stage.planned),
        cut_time=(None if end is None else end.after_s) or run.time or worked,
        removed_uncertainty=None if end is None else end.uncertainty_m,
        is_timed=bool((end is not None and end.after_s) or run.time),
    )
