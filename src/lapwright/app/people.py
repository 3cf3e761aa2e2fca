"""Use cases: who works here."""

from __future__ import annotations

from datetime import datetime

from lapwright.model.shelf import PersonCard


def add_person(name: str, full_name: str = "", *, by: str, reason: str, at: datetime) -> PersonCard:
    """Record a person; every later write may carry that short name. Raises `Conflict` when it is taken."""
    raise NotImplementedError


def list_people() -> tuple[PersonCard, ...]:
    """Everybody who may sign, by name. The local person is there from the start."""
    raise NotImplementedError
