"""The story of order AP-2407, day by day, from the box of wafers to the certificate."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from lapwright.app import orders
from lapwright.model.job import RecordedDocument, RecordedVerdict
from lapwright.sim import cast
from lapwright.sim.scenario import ahead, care, closing, opening, plate_care, stocking
from lapwright.sim.scenario.calendar import Calendar
from lapwright.sim.scenario.day import Caught, Day
from lapwright.sim.scenario.working import work_wafer

#: How many steps `play` tells of.
STEPS = 7 + 5 * len(cast.WAFER_IDS)

WORTH_A_WORD = 600.0  # s


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """What the demonstration came to: troubles named, verdicts by wafer, and the certificate's kept files."""

    order_id: str
    caught: tuple[Caught, ...]
    verdicts: Mapping[str, tuple[RecordedVerdict, ...]]
    certificate: tuple[RecordedDocument, ...]


def play(
    *, gauge_files: Path, tell: Callable[[str], None], seed: int = cast.SEED, calendar: Calendar | None = None
) -> Played:
    """Play the whole order through the use cases; `app` must be started on an empty database.

    `gauge_files` is an existing folder that the gauges write to. `tell` is called before each of `STEPS` steps with
    its name. The same seed gives the same records; `calendar` says when they are from, the cast's own days by default.
    """
    when = Calendar() if calendar is None else calendar
    day = Day(shop=cast.laboratory(seed), now=when.first_morning, tell=tell, gauge_files=gauge_files, calendar=when)
    care.look_back(day)
    opening.receive(day)
    stocking.stock_the_shelf(day)
    care.check_in_the_morning(day)
    for wafer_id in cast.WAFER_IDS:
        opening.measure_in(day, wafer_id)
    opening.read_carriers(day)
    opening.choose_route(day)
    day.wait_until(8, days=1)
    day.draw_blind()
    plate_care.record_plates(day)
    for wafer_id in cast.WAFER_IDS:
        day.start_piece(latest=16)
        care.check_in_the_morning(day)
        opening.bond(day, wafer_id)
    for wafer_id in cast.WAFER_IDS:
        day.start_piece(latest=14)
        care.check_in_the_morning(day)
        day.tell(f"{wafer_id}: lapped and polished")
        work_wafer(day, wafer_id)
        _note_quick_runs(day, wafer_id)
        for station in plate_care.RINGS:
            plate_care.read_plate(day, station)
    day.start_piece(latest=9)
    care.check_in_the_morning(day)
    for wafer_id in cast.WAFER_IDS:
        closing.debond_and_read(day, wafer_id)
    day.start_piece(latest=9)
    judged = {wafer_id: closing.judge(day, wafer_id) for wafer_id in cast.WAFER_IDS}
    certificate = closing.certify(day)
    opening.read_with_both(day)
    ahead.fill_the_board(day)
    return Played(order_id=cast.ORDER.order_id, caught=tuple(day.caught), verdicts=judged, certificate=certificate)


# ----------------------------------------------------------------------------------------------------------------------


def _note_quick_runs(day: Day, wafer_id: str) -> None:
    """Planned and real minutes of a wafer's laps, from the records; ten minutes less than planned are worth a word."""
    story = orders.show_wafer(wafer_id)
    laps = {one.stage_id: one.stage.time for one in story.stages if one.stage.kind == "lap"}
    runs = [run for run in story.runs if run.stage_id in laps and run.ended is not None]
    took = sum((run.ended - run.started).total_seconds() for run in runs if run.ended is not None)
    meant = sum(laps[run.stage_id] for run in runs)
    if meant - took >= WORTH_A_WORD:
        sentence = f"Lapping took {took / 60.0:.0f} min of {meant / 60.0:.0f} min planned: a better rate than thought."
        day.catch("good surprise", wafer_id, sentence)
