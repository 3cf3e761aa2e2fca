"""Use case: how the records stand, for whoever watches over the program."""

from __future__ import annotations

from lapwright.model.program import RecordsState


def records_state() -> RecordsState:
    """Kind, schema, size, last link, what was written and what is under way; asked cheaply, however much there is."""
    from lapwright.records import state_queries

    return state_queries.records_state()
