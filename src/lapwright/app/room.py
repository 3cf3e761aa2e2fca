"""Use case: what a laboratory has on record to work with, and what it lacks before its first wafer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

StepKind = Literal[
    "person", "gauge", "calibration", "carrier", "jig", "lap", "polish", "feed", "plate", "lot", "prices", "order"
]
#: Without any of these no wafer can be worked, in the order in which they are entered.
NEEDED = ("gauge", "carrier", "jig", "station", "order")


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomStep:
    """One kind of thing to enter: how many there are, and what is still open of it by name.

    `is_needed`: no wafer can be worked without it; the others make numbers better or save typing.
    """

    kind: StepKind
    count: int
    open: tuple[str, ...] = ()
    is_needed: bool = False

    @property
    def is_done(self) -> bool:
        """Whether there is one, and nothing is open of it."""
        return self.count > 0 and not self.open


def missing_first() -> tuple[str, ...]:
    """Which of the things that every job needs are not there at all; asked of every look at Hands, so it is cheap."""
    from lapwright.records import room_queries

    return tuple(kind for kind in NEEDED if not room_queries.is_kept(kind))  # type: ignore[arg-type]


def room_steps(*, on: date) -> tuple[RoomStep, ...]:
    """What is entered before the first wafer, in the order that serves best, and how far that is."""
    from lapwright.app import gauges, people, shelf
    from lapwright.records import room_queries, stream_queries

    held = gauges.list_gauges(on=on)
    stations = [one.station for one in shelf.list_stations()]
    laps = [one.station_id for one in stations if one.kind == "lap"]
    polishes = [one.station_id for one in stations if one.kind == "polish"]
    fed = {one.feed.station_id for one in stream_queries.feeds()}
    uncalibrated = tuple(one.gauge.gauge_id for one in held if one.calibration is None)
    return (
        RoomStep(kind="person", count=len(people.list_people()) - 1),
        RoomStep(kind="gauge", count=len(held), is_needed=True),
        RoomStep(kind="calibration", count=len(held) - len(uncalibrated), open=uncalibrated),
        RoomStep(kind="carrier", count=len(shelf.list_carriers()), is_needed=True),
        RoomStep(kind="jig", count=len(shelf.list_jigs()), is_needed=True),
        RoomStep(kind="lap", count=len(laps), is_needed=True),
        RoomStep(kind="polish", count=len(polishes)),
        RoomStep(
            kind="feed",
            count=len(fed.intersection(laps)),
            open=tuple(name for name in laps if name not in fed),
        ),
        *(
            RoomStep(kind=kind, count=int(room_queries.is_kept(kind)), is_needed=kind == "order")
            for kind in ("plate", "lot", "prices", "order")
        ),
    )
