"""`lapwright queue`: the schedule in force, what a change would do to it, accepting one, and what it is made from."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, open_records, signed
from lapwright.errors import CommandLineError

if TYPE_CHECKING:
    from lapwright.app.queue import Board, BoardQuestion
    from lapwright.model.board import WeekShift

app = typer.Typer(add_completion=False)

_HOURS = re.compile(
    r"(?P<day>[a-z]+) (?P<first>\d{1,2}):(?P<first_min>\d\d)-(?P<last>\d{1,2}):(?P<last_min>\d\d)"
    r"( (?P<people>\d{1,3}))?"
)

AtOption = Annotated[
    str | None,
    typer.Option("--at", metavar="TIME", help="Moment it is shown for (2026-05-15T09:00, the laboratory's clock)."),
]
DownOption = Annotated[
    str | None, typer.Option("--down", metavar="PLACE,FROM,TO[,WHY]", help="A place that cannot be used then.")
]
FirstOption = Annotated[str | None, typer.Option("--first", metavar="ORDER", help="An order that goes first.")]
ExtraOption = Annotated[
    str | None, typer.Option("--extra", metavar="FROM,TO,PEOPLE", help="Hours beside those of the week.")
]
FixOption = Annotated[
    str | None, typer.Option("--fix", metavar="TASK,PLACE,TIME", help="A task set by hand to a place from then on.")
]
LetGoOption = Annotated[str | None, typer.Option("--let-go", metavar="TASK", help="A task no longer set by hand.")]


@app.callback(invoke_without_command=True)
def show(ctx: typer.Context, *, at: AtOption = None, data: DataOption = None, as_json: JsonOption = False) -> None:
    """Show the schedule in force as it stands now, what is late and why; before the first a proposal."""
    if ctx.invoked_subcommand is not None:
        return
    from lapwright.app.queue import board

    open_records(data)
    _give(board(_moment(at)), as_json=as_json)


@app.command("what-if")
def what_if(
    *,
    down: DownOption = None,
    first: FirstOption = None,
    extra: ExtraOption = None,
    fix: FixOption = None,
    let_go: LetGoOption = None,
    at: AtOption = None,
    data: DataOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what a change would do to the schedule; nothing is recorded. Without a change: planned anew."""
    from lapwright.app.queue import propose

    open_records(data)
    _give(propose(_question(down, first, extra, fix, let_go), _moment(at)), as_json=as_json)


@app.command("accept")
def accept(  # noqa: PLR0913  one parameter for each option
    *,
    down: DownOption = None,
    first: FirstOption = None,
    extra: ExtraOption = None,
    fix: FixOption = None,
    let_go: LetGoOption = None,
    at: AtOption = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:
    """Accept what `what-if` shows for the same change: from then on it is the schedule in force."""
    from lapwright.app import queue

    settings = open_records(data)
    question, moment, who = _question(down, first, extra, fix, let_go), _moment(at), signed(settings, by, reason)
    force = queue.propose(question, moment).in_force
    seen = None if force is None else force.plan_id
    queue.accept(question, moment, seen=seen, by=who["by"], reason=who["reason"], now=who["at"])
    _give(queue.board(moment), as_json=as_json)


@app.command("place")
def place(  # noqa: PLR0913  one parameter for each option
    name: Annotated[str, typer.Argument(metavar="PLACE", help="Station on record, or a bench by a name of its own.")],
    *,
    kind: Annotated[str, typer.Option(help="lap, polish, bond, clean or measure.")],
    what: Annotated[str, typer.Option("--name", help="What it is.")] = "",
    positions: Annotated[int, typer.Option(min=1, max=100, help="Wafers it takes at once.")] = 1,
    plate: Annotated[list[str] | None, typer.Option(help="A plate that can be put on it; repeat for more.")] = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:
    """Record a place that the Board plans with, or what is newly set of it."""
    from lapwright.app import queue_settings
    from lapwright.formats.board_results import place_dict
    from lapwright.model.board import BoardPlace

    if kind not in ("lap", "polish", "bond", "clean", "measure"):
        raise CommandLineError(f"--kind is {kind!r}; expected lap, polish, bond, clean or measure.")
    settings = open_records(data)
    record = BoardPlace(place_id=name, name=what, kind=kind, positions=positions, plates=tuple(plate or ()))  # type: ignore[arg-type]
    queue_settings.put_place(record, **signed(settings, by, reason))
    give(place_dict(record), as_json=as_json, show=_show_place)


@app.command("hours")
def hours(
    *,
    day: Annotated[
        list[str], typer.Option(metavar="'DAY FROM-TO PEOPLE'", help="'monday 08:00-17:00 2'; repeat for each day.")
    ],
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:
    """Record the hours of the week in which people are there; a day not named is free."""
    from dataclasses import replace

    from lapwright.app import queue_settings
    from lapwright.formats.board_results import hours_dict

    settings = open_records(data)
    week = tuple(_week_shift(text) for text in day)
    record = replace(queue_settings.hours(), week=tuple(sorted(week, key=lambda one: (one.weekday, one.start))))
    queue_settings.put_hours(record, **signed(settings, by, reason))
    give(hours_dict(record), as_json=as_json, show=_show_hours)


# ----------------------------------------------------------------------------------------------------------------------


def _week_shift(text: str) -> WeekShift:
    from lapwright.formats.board_results import DAYS
    from lapwright.model.board import WeekShift

    found = _HOURS.fullmatch(text.strip().lower())
    if found is None or found["day"] not in DAYS:
        raise CommandLineError(f"--day is {text!r}; expected for example 'monday 08:00-17:00 2'.")
    start, end = (int(found[name]) * 3600.0 + int(found[f"{name}_min"]) * 60.0 for name in ("first", "last"))
    return WeekShift(weekday=DAYS.index(found["day"]), start=start, end=end, people=int(found["people"] or 1))


def _give(board: Board, *, as_json: bool) -> None:
    from lapwright.app.queue_result import board_result, board_warnings

    give(board_result(board), as_json=as_json, show=_show, warnings=board_warnings(board))


def _moment(text: str | None) -> datetime:
    from lapwright.app.queue import moment

    return moment(datetime.now(tz=UTC)) if text is None else _time(text, "--at")


def _time(text: str, option: str) -> datetime:
    from lapwright.app.queue_shop import laboratory_zone

    try:
        read = datetime.fromisoformat(text.strip())
    except ValueError as error:
        raise CommandLineError(f"{option} is {text!r}; expected a time like 2026-05-15T09:00.") from error
    return read if read.tzinfo is not None else read.replace(tzinfo=laboratory_zone())


def _question(
    down: str | None, first: str | None, extra: str | None, fix: str | None, let_go: str | None
) -> BoardQuestion:
    from lapwright.app.queue import BoardQuestion
    from lapwright.model.board import HeldTask

    asked = BoardQuestion(first=first, let_go=let_go)
    if down is not None:
        place_id, start, end, *why = _parts(down, "--down", "PLACE,FROM,TO[,WHY]", (3, 4))
        asked = BoardQuestion(
            first=first, let_go=let_go,
            down=(place_id, _time(start, "--down"), _time(end, "--down"), why[0] if why else "out of use"),
        )  # fmt: skip
    if extra is not None:
        start, end, people = _parts(extra, "--extra", "FROM,TO,PEOPLE", (3, 3))
        if not people.isdigit() or int(people) < 1:
            raise CommandLineError(f"--extra names {people!r} people; expected 1 or more.")
        hours = (_time(start, "--extra"), _time(end, "--extra"), int(people))
        asked = BoardQuestion(first=asked.first, let_go=asked.let_go, down=asked.down, extra=hours)
    if fix is not None:
        task_id, place_id, start = _parts(fix, "--fix", "TASK,PLACE,TIME", (3, 3))
        held = HeldTask(task_id=task_id, place_id=place_id, start=_time(start, "--fix").timestamp())
        asked = BoardQuestion(first=asked.first, let_go=asked.let_go, down=asked.down, extra=asked.extra, fix=held)
    return asked


def _parts(text: str, option: str, form: str, counts: tuple[int, int]) -> list[str]:
    parts = [part.strip() for part in text.split(",")]
    if not counts[0] <= len(parts) <= counts[1]:
        raise CommandLineError(f"{option} is {text!r}; expected {form}.")
    return parts


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table

    head = "Proposal" if result["is_proposal"] else "Schedule in force"
    rows = [
        [
            one["order"], _clock(one["planned"]), _clock(one["due"]), f"{one['late_h']:.1f}" if one["late_h"] else "–",
            _clock(one["sure_80"]), _clock(one["sure_90"]), _percent(one["chance_of_date"]),
        ]
        for one in result["orders"]
    ]  # fmt: skip
    headings = ("order", "planned", "due", "late, h", "80 % by", "90 % by", "chance of date")
    print_table(headings, rows, title=f"{head}, as of {_clock(result['at'])}", numbers=(3, 6))
    for one in result["orders"]:
        for reason in one["reasons"]:
            print_line(f"{one['order']}: {reason}")
    rows = [
        [one["place"], _clock(one["start"]), _clock(one["end"]), one["task"], one["changeover"]]
        for one in result["tasks"]
    ]
    print_table(("place", "from", "to", "task", "before it"), rows)
    if result["search"] is not None:
        for aim in result["search"]["aims"]:
            print_line(f"{aim['aim']}: {aim['value']:g} {aim['unit']}, at best {aim['bound']:g} {aim['unit']}")
    for change in result["changes"]:
        print_line(f"{change['kind']}: {change['task']}")


def _show_place(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    print_line(f"{result['place']}: {result['kind']}, {result['positions']} at once.")


def _show_hours(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    for one in result["week"]:
        print_line(f"{one['day']}: {one['from_h']:g} to {one['to_h']:g} h, {one['people']} there")


def _clock(text: str | None) -> str:
    from lapwright.app.queue_words import clock

    return "–" if text is None else clock(datetime.fromisoformat(text))


def _percent(chance: float | None) -> str:
    return "–" if chance is None else f"{100.0 * chance:.0f} %"
