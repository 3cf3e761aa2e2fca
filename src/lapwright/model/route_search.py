"""A search for routes beside the pages: what is asked, and how far it is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteSearch:
    """A search without its data.

    `key` is made from all that the answer rests on, `question` is how it can be asked anew; `made_at` is None while it
    is wanted. `tries` counts how often it was begun, `refusal` says why nothing was found.
    """

    key: str
    question: Mapping[str, Any]
    asked_at: datetime
    tries: int
    begun_at: datetime | None
    made_at: datetime | None
    refusal: Mapping[str, Any] | None
