"""Use cases: who works here."""

from __future__ import annotations

import re
from datetime import datetime

from lapwright.errors import BadInput, Fault
from lapwright.model.readings import Signature
from lapwright.model.shelf import PersonCard

_NAME = re.compile(r"[\w.@+-]{1,150}")


def add_person(name: str, full_name: str = "", *, by: str, reason: str, at: datetime) -> PersonCard:
    """Record a person; every later write may carry that short name. Raises `Conflict` when it is taken."""
    from lapwright.records import writer

    if not _NAME.fullmatch(name):
        sentence = f"The short name {name!r} does not do; use letters, digits and . @ + - _ without spaces."
        raise BadInput([Fault(sentence=sentence, field="name")])
    return writer.add_person(name, full_name, Signature(by=by, at=at, reason=reason))


def list_people() -> tuple[PersonCard, ...]:
    """Everybody who may sign, by name. The local person is there from the start."""
    from lapwright.records import queries

    return queries.people()
