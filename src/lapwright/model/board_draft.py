"""A schedule that is worked out beside the pages: what is wanted of it, and what came of it last."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardDraft:
    """A draft without its data: the schedule as it stands (no key) or the answer to a question.

    `wanted` is the moment it is to be worked out for, None when nothing is to be done; `moment`, `made_at`, `took` [s]
    and `written`, the last link of the chain it rests on, are those of what came of it last. `refusal` says why
    nothing did.
    """

    key: str
    question: Mapping[str, Any] | None
    asked_at: datetime
    wanted: datetime | None
    tries: int
    begun_at: datetime | None
    made_at: datetime | None
    took: float | None
    moment: datetime | None
    written: int
    refusal: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannerSeen:
    """The process that plans for a database, and when it last said that it does."""

    holder: str
    beat_at: datetime
