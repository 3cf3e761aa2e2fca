"""Why an order is late, in sentences: what each stage of the wafer that is done last waits for, and until when."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import groupby

from lapwright.app.queue import Board, OrderOutlook
from lapwright.app.queue_shop import laboratory_zone
from lapwright.process.queue_words import Wait

_TOLD = 600.0  # s; what waits less than this altogether is not told


def clock(moment: datetime) -> str:
    """A moment by the laboratory's clock, with its day."""
    return f"{moment.astimezone(laboratory_zone()):%a %d.%m. %H:%M}"


def length(seconds: float) -> str:
    """A length of time as people say it."""
    minutes = round(seconds / 60.0)
    if minutes < 60:
        return f"{minutes} min"
    hours, rest = divmod(minutes, 60)
    return f"{hours} h" if rest == 0 or hours >= 24 else f"{hours} h {rest} min"


def standing(outlook: OrderOutlook) -> str:
    """When an order is planned to be done, and how late that is."""
    said = f"Planned for {clock(outlook.planned)}"
    if outlook.due is None:
        return f"{said}; no date was promised."
    if outlook.late > 0.0:
        return f"{said}, {length(outlook.late)} after it is due ({clock(outlook.due)})."
    return f"{said}, due {clock(outlook.due)}."


def reasons(board: Board, outlook: OrderOutlook) -> tuple[str, ...]:
    """What the stages of the wafer done last wait for, the longest wait first; nothing short is told."""
    names = {task.task_id: task for task in board.tasks}
    found: list[tuple[float, str]] = []
    for task_id, group in groupby(outlook.waits, key=lambda one: one.task_id):
        waits = list(group)
        total = sum(one.length for one in waits)
        working = sum(one.length for one in waits if one.cause != "hours")
        if total < _TOLD or all(one.cause == "rest" for one in waits):
            continue
        task = names[task_id]
        wafer = task_id.partition("/")[0]
        parts = ", then ".join(_parts(board, waits))
        place = f" for {task.place_id}" if any(one.cause in ("busy", "changeover", "closed") for one in waits) else ""
        found.append((working, f"{wafer}, {task.name}: waits {length(total)}{place}: {parts}."))
    found.sort(key=lambda one: -one[0])
    return tuple(sentence for _, sentence in found)


# ----------------------------------------------------------------------------------------------------------------------


def _parts(board: Board, waits: Sequence[Wait]) -> Iterator[str]:
    """The stretches of one wait; loads of one order behind each other are one."""
    tasks = {task.task_id: task for task in board.tasks}

    def kind(wait: Wait) -> tuple[str, str, str]:
        other = tasks.get(wait.other)
        return wait.cause, "" if other is None or wait.cause != "busy" else other.order_id, wait.why

    for (cause, order_id, why), group in groupby(waits, key=kind):
        listed = list(group)
        until = clock(board.now.moment(listed[-1].end))
        if cause == "busy":
            yield f"{order_id} runs there until {until}"
        elif cause == "changeover":
            yield f"{why or 'changeover'} until {until}"
        elif cause == "closed":
            yield f"closed ({why or 'out of use'}) until {until}"
        elif cause == "kit":
            yield f"no {why} is free until {until}"
        elif cause == "hours":
            yield f"nobody is there until {until}"
        elif cause == "hands":
            yield f"all hands are bound until {until}"
        elif cause == "held":
            yield f"set by hand to {until}"
        else:
            yield f"it cools until {until}"
