"""What commands share that give work to many cores or hosts: their options, and the bar that shows how far they are."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

WorkersOption = Annotated[
    int | None, typer.Option("--workers", min=1, max=1024, help="Processes on this machine; one a core unless given.")
]
SchedulerOption = Annotated[
    str | None, typer.Option("--scheduler", metavar="ADDRESS", help="Dask scheduler whose workers do it.")
]
ResumeOption = Annotated[
    Path | None,
    typer.Option("--resume", metavar="FILE", help="Keep finished parts here, and go on from those kept before."),
]


@contextmanager
def shown_progress(what: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on standard error, told of the parts finished and of all of them."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn, TimeRemainingColumn

    columns = (
        TextColumn(what), BarColumn(), TextColumn("{task.completed}/{task.total}"), TimeElapsedColumn(),
        TimeRemainingColumn(),
    )  # fmt: skip
    with Progress(*columns, console=Console(stderr=True)) as progress:
        bar = progress.add_task("", total=None)
        yield lambda done, of: progress.update(bar, completed=done, total=of)
