"""`lapwright reprocess`: records computed anew by this version, and compared with what was recorded."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, open_records, signed
from lapwright.cli.working import ResumeOption, SchedulerOption, WorkersOption, shown_progress
from lapwright.errors import BadInput, Fault

app = typer.Typer(add_completion=False)

MOST_SHOWN = 20


class Kind(StrEnum):
    """What is computed anew."""

    FRINGES = "fringes"
    PROFILES = "profiles"
    SETS = "sets"
    RUNS = "runs"


@app.command()
def reprocess(  # noqa: PLR0913  one parameter for each option
    kind: Annotated[Kind, typer.Argument(help="Pictures of fringes, profiles, thickness sets, or recorded runs.")],
    *,
    tolerance: Annotated[
        float, typer.Option(min=0.0, max=1.0, help="Difference, relative or in SI, up to which numbers are equal.")
    ] = 1e-12,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Write what differs into a CSV file.")
    ] = None,
    record: Annotated[
        bool, typer.Option("--record", help="Record the faces that changed once more, beside the old ones.")
    ] = False,
    workers: WorkersOption = None,
    scheduler: SchedulerOption = None,
    resume: ResumeOption = None,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "reprocessed",
    as_json: JsonOption = False,
) -> None:
    """Compute all records of a kind anew and compare; nothing is written to the records unless asked."""
    from lapwright.app.reprocessing import record_changed
    from lapwright.app.reprocessing import reprocess as compute_anew
    from lapwright.app.workers import Finished, open_workers
    from lapwright.formats.reprocessed import reprocessed_csv, reprocessed_dict

    settings = open_records(data)
    with shown_progress(f"{kind.value}") as progress:
        report = compute_anew(
            kind.value,
            open_workers(workers, scheduler),
            tolerance=tolerance,
            finished=None if resume is None else Finished(resume),
            progress=progress,
        )
    if record:
        report = record_changed(report, **signed(settings, by, reason))
    if out is not None:
        _write(out, reprocessed_csv(report))
    give(reprocessed_dict(report), as_json=as_json, show=_show)


# ----------------------------------------------------------------------------------------------------------------------


def _write(file: Path, text: str) -> None:
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        sentence = f"The differences cannot be written to {file}: {error.strerror}. Name another file."
        raise BadInput([Fault(sentence=sentence, field="out")]) from error


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table

    if not result["records"] and not result["left_out"]:
        print_line(f"There are no {result['kind']} on record.")
        return
    print_line(f"{result['records']} {result['kind']} computed anew by version {result['version']}.")
    apart = f"largest difference {result['largest_difference']:.1e}, relative or in SI"
    print_line(f"{result['numbers']} numbers compared; {apart}.")
    if result["changed"]:
        rows = [
            (str(one["record"]), one["piece"], one["name"], _figure(one["told"]), _figure(one["found"]))
            for one in result["changed"][:MOST_SHOWN]
        ]
        print_table(("record", "piece", "number", "recorded", "now"), rows, numbers=(0, 3, 4))
        if len(result["changed"]) > MOST_SHOWN:
            print_line(f"... and {len(result['changed']) - MOST_SHOWN} more; --out FILE writes all.")
    for one in result["refused"]:
        print_line(f"- {one['record']}, {one['piece']}: {one['sentence']}")
    if result["left_out"]:
        print_line(f"{len(result['left_out'])} left out; the first: {result['left_out'][0]['sentence']}")
    if result["recorded"]:
        print_line(f"Recorded once more as {', '.join(map(str, result['recorded']))}.")
    print_line("All come out as recorded." if result["agrees"] else "They do NOT all come out as recorded.")


def _figure(value: float | None) -> str:
    return "–" if value is None else f"{value:.9g}".replace("-", "\u2212")
