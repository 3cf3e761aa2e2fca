"""Use case: what waits for a hand now, derived from the records."""

from __future__ import annotations

from datetime import datetime

from lapwright.model.story import Task


def waiting_tasks(*, now: datetime) -> tuple[Task, ...]:
    """One task per wafer, station or gauge that waits for a person, the longest waiting first, warnings before that."""
    raise NotImplementedError
