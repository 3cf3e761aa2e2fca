"""Use cases: rates learned from a file of runs or from the records, and what the next run is to be changed by."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from lapwright.errors import BadInput, Fault, NotFound

if TYPE_CHECKING:
    from lapwright.app.run_history import PlannedRun, RunHistory
    from lapwright.formats.rate_runs import RunTable
    from lapwright.library import Library
    from lapwright.process.learning import PastRun, RateModel, RatePrediction
    from lapwright.process.run_corrections import SuggestedChange

LARGEST_STEP = 3.0e-6  # m; largest change of an allowance from one run to the next; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedStop:
    """What the last stops at a station say of the allowance for run-down: the change to the preset, never made by it.

    `preset` is the next one with the change in it [m], None where the stage has none.
    """

    station_id: str
    suggested: SuggestedChange
    preset: float | None


def runs_of_file(path: Path, library: Library) -> RunTable:
    """The runs of a file. Raises `FileFormatError` and `BadInput`, what the library does not know among the faults."""
    from lapwright.formats.rate_runs import read_runs

    table = read_runs(path)
    faults = [
        Fault(sentence=f"Row {row}, {field}: {error}", row=row, field=field, code="rates.unknown")
        for run, row in zip(table.runs, table.rows, strict=True)
        for field, look_up in (
            ("material", library.material), ("abrasive", library.abrasive), ("plate", library.plate),
        )
        for error in [_refused(look_up, getattr(run.conditions, field))]
        if error is not None
    ]  # fmt: skip
    if faults:
        raise BadInput(faults[:100], subject=table.name, total=len(faults))
    return table


def model_of(runs: Path | None, *, from_records: bool, library_file: Path | None = None) -> RateModel:
    """The rates that a file, the records, or neither teach on top of the library."""
    from lapwright.library import load
    from lapwright.process.learning import rate_model as taught

    library = load(library_file)
    if from_records:
        return rate_model(library)
    return taught(library, () if runs is None else runs_of_file(runs, library).runs)


def rate_model(library: Library | None = None) -> RateModel:
    """The rates that all finished runs of the records teach on top of the library."""
    from lapwright.library import load

    chosen = load() if library is None else library
    return _taught(history(chosen).runs, _Once(chosen))


def history(library: Library) -> RunHistory:
    """The finished runs of the records, and those that teach nothing with the reason."""
    from lapwright.app.run_history import run_history

    return run_history(library)


def next_rate(material: str, planned_run: PlannedRun, *, model: RateModel | None = None) -> RatePrediction:
    """The rate to expect of a run to come, on the plate and with the lot that stand on its station now.

    Raises `CannotAnswer` where neither the library nor a run says anything.
    """
    from lapwright.app.run_history import conditions_now
    from lapwright.process.learning import predict_rate

    known = rate_model() if model is None else model
    return predict_rate(known, conditions_now(known.library, material=material, planned_run=planned_run))


def learned_stop(station_id: str, *, allowance: float, preset: float | None) -> LearnedStop:
    """What the stops at a station say: how far they went beyond their presets, less the allowance made for it.

    The answer is a suggestion with its reason; the preset stays as it is until a person dials in another.
    """
    from lapwright.library import load
    from lapwright.process.run_corrections import suggested_change

    misses = [one.beyond - allowance for one in history(load()).misses if one.station_id == station_id]
    found = suggested_change(misses, largest_step=LARGEST_STEP)
    return LearnedStop(
        station_id=station_id,
        suggested=found,
        preset=None if preset is None else preset + found.change,
    )


# ----------------------------------------------------------------------------------------------------------------------


class _Once:
    """A library that counts as equal only to itself, so that what it teaches can be kept."""

    def __init__(self, library: Library) -> None:
        self.library = library

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Once) and other.library is self.library

    def __hash__(self) -> int:
        return id(self.library)


@lru_cache(maxsize=2)
def _taught(runs: tuple[PastRun, ...], once: _Once) -> RateModel:
    from lapwright.process.learning import rate_model as taught

    return taught(once.library, runs)


def _refused(look_up: object, name: str) -> str | None:
    try:
        look_up(name)  # type: ignore[operator]
    except NotFound as error:
        return str(error)
    return None
