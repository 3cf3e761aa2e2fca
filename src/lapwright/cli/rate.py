"""`lapwright rate`: removal rates learned from finished runs, predicted for the next one, and put to the test."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import DataOption, open_records
from lapwright.errors import CommandLineError

if TYPE_CHECKING:
    from lapwright.process.learning import RateModel, RunConditions

app = typer.Typer(
    help="Removal rates learned from finished runs, and predicted for the next.",
    no_args_is_help=True,
    add_completion=False,
)

RunsArgument = Annotated[Path | None, typer.Argument(metavar="RUNS.csv", help="Table of finished runs.")]
RecordsOption = Annotated[bool, typer.Option("--from-records", help="Take the finished runs of the records.")]
LibraryOption = Annotated[
    Path | None, typer.Option("--library", metavar="FILE", help="Rows of your own for the process library (TOML).")
]
CoverageOption = Annotated[float, typer.Option(min=0.01, max=0.999, help="Chance that the interval holds the run.")]


@app.command("fit")
def fit(
    runs: RunsArgument = None,
    *,
    from_records: RecordsOption = False,
    library: LibraryOption = None,
    coverage: CoverageOption = 0.9,
    data: DataOption = None,
    as_json: JsonOption = False,
) -> None:
    """What finished runs teach: the rate of each combination now, the spreads, outlying runs and shifts."""
    from lapwright.formats.rate_results import doubtful_runs, learned_dict, prediction_dict
    from lapwright.process.learning import predict_rate

    model = _model(runs, from_records=from_records, library=library, data=data, needed=True)
    latest = _latest(model)
    result = {
        **_origin(runs, from_records=from_records),
        "n_runs": sum(len(one.checks) for one in model.learned.values()),
        "combinations": [prediction_dict(one, predict_rate(model, one), coverage=coverage) for one in latest],
        "processes": learned_dict(model.learned),
    }
    give(result, as_json=as_json, show=_show_fit, warnings=doubtful_runs(model))


@app.command("predict")
def predict(  # noqa: PLR0913  one parameter for each option
    runs: RunsArgument = None,
    *,
    material: Annotated[str, typer.Option(help="Material, by its name in the library.")],
    abrasive: Annotated[str, typer.Option(help="Abrasive, likewise.")],
    plate: Annotated[str, typer.Option(help="Plate or pad, likewise.")],
    pressure_kpa: Annotated[float, typer.Option(help="Mean pressure on the piece.")],
    speed_m_per_s: Annotated[float, typer.Option(help="Mean sliding speed.")],
    station: Annotated[str | None, typer.Option(help="Station; that of the last such run when not given.")] = None,
    plate_piece: Annotated[str | None, typer.Option(help="The very plate or pad, likewise.")] = None,
    abrasive_lot: Annotated[str | None, typer.Option(help="Lot of the abrasive, likewise.")] = None,
    pad_age_h: Annotated[float | None, typer.Option(help="Hours worked since new or dressed.")] = None,
    slurry_age_h: Annotated[float | None, typer.Option(help="Hours since the charge was put on.")] = None,
    from_records: RecordsOption = False,
    library: LibraryOption = None,
    coverage: CoverageOption = 0.9,
    data: DataOption = None,
    as_json: JsonOption = False,
) -> None:
    """The rate of the next run with its interval, and why; from the library alone when there are no runs."""
    from lapwright.formats.rate_results import pad_life_dict, prediction_dict
    from lapwright.process.learning import RunConditions, predict_rate, where_last_run
    from lapwright.process.pad_life import pad_life

    model = _model(runs, from_records=from_records, library=library, data=data)
    asked = RunConditions(
        material=model.library.material(material).material_id,
        abrasive=abrasive,
        plate=plate,
        pressure=1e3 * pressure_kpa,
        speed=speed_m_per_s,
        station=station,
        plate_piece=plate_piece,
        abrasive_lot=abrasive_lot,
        pad_age=_seconds(pad_age_h),
        slurry_age=_seconds(slurry_age_h),
    )
    conditions = where_last_run(model, asked)
    result = prediction_dict(conditions, predict_rate(model, conditions), coverage=coverage)
    result["pad"] = None if conditions.pad_age is None else pad_life_dict(pad_life(model, conditions))
    give(result, as_json=as_json, show=_show_prediction)


@app.command("backtest")
def backtest(
    runs: RunsArgument = None,
    *,
    earlier: Annotated[
        int, typer.Option(min=0, help="Leave out runs with fewer earlier runs of the same combination.")
    ] = 0,
    from_records: RecordsOption = False,
    library: LibraryOption = None,
    data: DataOption = None,
    as_json: JsonOption = False,
) -> None:
    """Every run of a history against its prediction from the runs before it."""
    from lapwright.formats.rate_results import backtest_dict, doubtful_runs
    from lapwright.process.learning_backtest import backtest as walked

    model = _model(runs, from_records=from_records, library=library, data=data, needed=True)
    result = {**_origin(runs, from_records=from_records), **backtest_dict(walked(model, earlier=earlier))}
    give(result, as_json=as_json, show=_show_backtest, warnings=doubtful_runs(model))


@app.command("corrections")
def corrections(*, data: DataOption = None, as_json: JsonOption = False) -> None:
    """What the recorded runs suggest to change: the allowance of each station's stops, the tilt of each jig."""
    from lapwright.app.learning import stop_corrections
    from lapwright.app.wedge_history import jig_wedges
    from lapwright.formats.rate_results import change_dict, jig_wedges_dict

    open_records(data)
    result = {
        "stops": [{"station": one.station_id, **change_dict(one.suggested)} for one in stop_corrections()],
        "jigs": [jig_wedges_dict(one.jig_id, one.wafers, one.transfer, one.why) for one in jig_wedges()],
    }
    give(result, as_json=as_json, show=_show_corrections)


# ----------------------------------------------------------------------------------------------------------------------


def _model(
    runs: Path | None, *, from_records: bool, library: Path | None, data: Path | None, needed: bool = False
) -> RateModel:
    from lapwright.app.learning import model_of

    if runs is not None and from_records:
        raise CommandLineError("Give a table of runs or --from-records, not both.")
    if needed and runs is None and not from_records:
        raise CommandLineError("Which runs? Give a table (RUNS.csv) or --from-records.")
    if from_records:
        open_records(data)
    return model_of(runs, from_records=from_records, library_file=library)


def _latest(model: RateModel) -> list[RunConditions]:
    """The conditions of the last run of each combination, in the order they were first met."""
    found: dict[tuple[str, str, str], RunConditions] = {}
    for learned in model.learned.values():
        for check in learned.checks:
            found[check.run.conditions.combination] = check.run.conditions
    return list(found.values())


def _origin(runs: Path | None, *, from_records: bool) -> dict[str, Any]:
    return {"file": None if from_records or runs is None else runs.name}


def _seconds(hours: float | None) -> float | None:
    return None if hours is None else 3600.0 * hours


def _counted(runs: int) -> str:
    return "1 run" if runs == 1 else f"{runs} runs"


def _digits(rate: float) -> str:
    """A rate with three digits that count, for polishes are a thousand times slower than laps."""
    return f"{rate:#.3g}"


def _show_fit(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    rows = [
        (
            one["material"],
            one["abrasive"],
            one["plate"],
            str(one["runs"]),
            str(one["lots"]),
            _digits(one["rate_um_per_min"]),
            f"{_digits(one['rate_low_um_per_min'])}…{_digits(one['rate_high_um_per_min'])}",
            _digits(one["library_rate_um_per_min"]),
            shown(one["pressure_exponent"]),
            shown(one["speed_exponent"]),
        )
        for one in result["combinations"]
    ]
    headings = ("material", "abrasive", "plate", "runs", "lots", "rate, µm/min", "next run", "library", "p", "v")
    print_table(headings, rows, numbers=(3, 4, 5, 6, 7, 8, 9))
    for process, one in result["processes"].items():
        print_line(
            f"{process}: {_counted(one['runs'])}; scatter {one['run_spread_percent']:.0f} % a run, lots "
            f"{one['lot_spread_percent']:.0f} %, plates wander {one['wander_percent_per_run']:.1f} % a run"
        )
        for name in one["outlying"]:
            print_line(f"Outlying, set aside: {name}. Ask why before it is believed.")
        if one["shifts"]:
            print_line(f"Shifts of the level, told by two runs each: {', '.join(one['shifts'])}.")


def _show_prediction(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table

    print_line(
        f"{_digits(result['rate_um_per_min'])} µm/min; the next run lies in {_digits(result['rate_low_um_per_min'])}…"
        f"{_digits(result['rate_high_um_per_min'])} µm/min with {result['coverage']:.0%}"
    )
    print_line(result["origin"])
    where = [f"{name} {result[key]}" for name, key in _WHERE.items() if result[key]]
    if where:
        print_line(f"For {', '.join(where)}.")
    rows = [("the library says", _digits(result["library_rate_um_per_min"]), "")]
    rows += [
        (part["name"], f"× {part['factor']:.3f}", f"{part['low']:.2f}…{part['high']:.2f}") for part in result["factors"]
    ]
    print_table(("why", "µm/min or factor", "90 %"), rows, numbers=(1, 2))
    if result["pad"]:
        print_line(result["pad"]["sentence"])


_WHERE = {"station": "station", "plate": "plate_piece", "lot": "abrasive_lot"}


def _show_backtest(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table

    rows = [
        (
            one["run"],
            str(one["earlier"]),
            _digits(one["predicted_um_per_min"]),
            f"{_digits(one['low_um_per_min'])}…{_digits(one['high_um_per_min'])}",
            _digits(one["rate_um_per_min"]),
            "" if one["note"] == "usual" else one["note"],
        )
        for one in result["runs"][-30:]
    ]
    print_table(("run", "earlier", "predicted, µm/min", "90 %", "was", ""), rows, numbers=(1, 2, 3, 4))
    print_line(f"{result['n']} runs; the last {len(rows)} are shown.")
    print_line(f"Median error {result['median_absolute_error_percent']:.1f} %.")
    if result["last_rate_error_percent"] is not None:
        print_line(f"By the last run's rate {result['last_rate_error_percent']:.1f} %.")
    print_line(f"By the library's rate {result['library_error_percent']:.1f} %.")
    print_line(f"Inside the 90 % interval: {result['coverage_90']:.0%}.")


def _show_corrections(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    for one in result["stops"]:
        print_line(f"Stops at {one['station']}: {one['sentence']}")
    for one in result["jigs"]:
        print_line(f"Jig {one['jig']}: {one['sentence']}")
    if not result["stops"] and not result["jigs"]:
        print_line("No run with a preset and no wafer read after its first cut is on record: nothing to correct.")
    print_line("Suggestions only: nothing is changed until a person sets it.")
