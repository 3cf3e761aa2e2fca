"""Use cases: the places, hours and times that the Board plans with."""

from __future__ import annotations

from datetime import datetime

from lapwright.app.queue_shop import USUAL_HOURS, USUAL_TIMES, known_places
from lapwright.errors import BadInput, Fault
from lapwright.model.board import BoardFacts, BoardPlace, ShopHours, ShopTimes
from lapwright.model.readings import Signature


def facts() -> BoardFacts:
    """All settings as recorded; None or missing where nobody has entered them."""
    from lapwright.records import board_queries

    return board_queries.facts()


def places() -> tuple[BoardPlace, ...]:
    """All places of the Board, those assumed included."""
    return known_places(facts())


def hours() -> ShopHours:
    """The hours, or the usual ones."""
    return facts().hours or USUAL_HOURS


def times() -> ShopTimes:
    """How long things take, or the usual times."""
    return facts().times or USUAL_TIMES


def put_place(place: BoardPlace, *, by: str, reason: str, at: datetime) -> None:
    """Record a place, or what is newly set of it. Raises `BadInput` for a plate that no library knows."""
    from lapwright.library import load
    from lapwright.records import writer

    known = {one.plate_id for one in load().plates}
    unknown = [plate for plate in place.plates if plate not in known]
    if unknown:
        sentence = f"The library knows no plate {', '.join(unknown)}. It knows: {', '.join(sorted(known))}."
        raise BadInput([Fault(sentence=sentence, field="plates")])
    writer.put_board_setting(place, Signature(by=by, at=at, reason=reason))


def put_hours(new: ShopHours, *, by: str, reason: str, at: datetime) -> None:
    """Record when people are there. Raises `BadInput` when nobody ever is."""
    from lapwright.records import writer

    if not new.week and not new.extra:
        raise BadInput([Fault(sentence="No hours are left in which anybody is there. Enter one day at least.")])
    writer.put_board_setting(new, Signature(by=by, at=at, reason=reason))


def put_times(new: ShopTimes, *, by: str, reason: str, at: datetime) -> None:
    """Record how long things take."""
    from lapwright.records import writer

    writer.put_board_setting(new, Signature(by=by, at=at, reason=reason))
