"""Learned rates, predictions and backtests as dictionaries: every number with its unit in the field's name."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from lapwright.formats.json_line import warning_dict
from lapwright.library import Process
from lapwright.process.learning import RateModel, RatePrediction, RunConditions, rate_interval
from lapwright.process.learning_backtest import Backtest, BacktestLine
from lapwright.process.learning_effects import starting_rate
from lapwright.process.learning_fit import LearnedProcess
from lapwright.process.learning_reasons import RatePart
from lapwright.process.pad_life import PadLife
from lapwright.process.run_corrections import SuggestedChange
from lapwright.process.wedge_transfer import WedgeTransfer

#: Factor from the library's rate beyond which a run is asked about; a band reaches 10 at most.
DOUBTFUL = 100.0


def prediction_dict(conditions: RunConditions, prediction: RatePrediction, *, coverage: float) -> dict[str, Any]:
    """A predicted rate with its interval, its reasons and what it was asked for."""
    bounds = rate_interval(prediction, coverage=coverage)
    return {
        **conditions_dict(conditions),
        "rate_um_per_min": _rate(prediction.median),
        "rate_low_um_per_min": _rate(bounds.low),
        "rate_high_um_per_min": _rate(bounds.high),
        "coverage": coverage,
        "log_deviation": prediction.log_deviation,
        "degrees_of_freedom": prediction.degrees_of_freedom,
        "run_spread_percent": 100.0 * prediction.run_spread,
        "level_deviation_percent": 100.0 * prediction.level_deviation,
        "runs": prediction.runs,
        "lots": prediction.lots,
        "library_rate_um_per_min": _rate(prediction.library_rate),
        "pressure_exponent": prediction.exponents[0],
        "speed_exponent": prediction.exponents[1],
        "factors": [part_dict(part) for part in prediction.parts],
        "trust": prediction.trust,
        "origin": prediction.origin,
    }


def conditions_dict(conditions: RunConditions) -> dict[str, Any]:
    """What a run is worked with."""
    return {
        "material": conditions.material,
        "abrasive": conditions.abrasive,
        "plate": conditions.plate,
        "pressure_kpa": conditions.pressure / 1e3,
        "speed_m_per_s": conditions.speed,
        "station": conditions.station,
        "plate_piece": conditions.plate_piece,
        "abrasive_lot": conditions.abrasive_lot,
        "pad_age_h": _hours(conditions.pad_age),
        "slurry_age_h": _hours(conditions.slurry_age),
    }


def part_dict(part: RatePart) -> dict[str, Any]:
    """One reason for a rate, as a factor on the library's."""
    return {"name": part.name, "factor": part.factor, "low": part.low, "high": part.high}


def learned_dict(learned: Mapping[Process, LearnedProcess]) -> dict[str, Any]:
    """What the runs of each process have settled: the spreads, the outlying runs and the shifts."""
    return {
        process: {
            "runs": len(one.checks),
            "run_spread_percent": 100.0 * float(one.belief.weight @ one.spreads.scatter),
            "wander_percent_per_run": 100.0 * float(one.belief.weight @ one.spreads.wander),
            "lot_spread_percent": 100.0 * float(one.belief.weight @ one.spreads.lots),
            "outlying": [check.run.name for check in one.checks if check.note == "outlying"],
            "shifts": [check.run.name for check in one.checks if check.note == "shift"],
        }
        for process, one in learned.items()
        if one.checks
    }


def backtest_dict(found: Backtest) -> dict[str, Any]:
    """How well a history was predicted, and every run of it."""
    return {
        "n": found.n,
        "median_absolute_error_percent": 100.0 * found.median_error,
        "coverage_90": found.coverage,
        "last_rate_error_percent": None if found.last_error is None else 100.0 * found.last_error,
        "library_error_percent": 100.0 * found.library_error,
        "runs": [_line(line) for line in found.lines],
    }


def doubtful_runs(model: RateModel) -> list[dict[str, Any]]:
    """A warning for each run whose rate is so far from the library's that a unit may have slipped."""
    found = []
    for learned in model.learned.values():
        for check in learned.checks:
            start = starting_rate(model.library, check.run.conditions)
            ratio = check.run.removal_rate / start.rate
            if start.is_known and not 1.0 / DOUBTFUL < ratio < DOUBTFUL:
                sentence = (
                    f"{check.run.name}: {_rate(check.run.removal_rate):.3g} µm/min is {ratio:.2g} times what the "
                    f"library says ({_rate(start.rate):.3g} µm/min). Look at its unit, its pressure and its time."
                )
                found.append(warning_dict("rates.doubtful", sentence, run=check.run.name))
    return found


def pad_life_dict(life: PadLife) -> dict[str, Any]:
    """What is left of a pad."""
    return {
        "share_percent": 100.0 * life.share,
        "share_low_percent": 100.0 * life.share_low,
        "share_high_percent": 100.0 * life.share_high,
        "time_left_h": _hours(life.time_left),
        "time_left_low_h": _hours(life.time_left_low),
        "time_left_high_h": _hours(life.time_left_high),
        "give_up_percent": 100.0 * life.give_up,
        "piece_runs": life.runs,
        "advice": life.advice,
        "sentence": life.sentence,
    }


def change_dict(change: SuggestedChange) -> dict[str, Any]:
    """A change suggested from run to run."""
    return {
        "runs": change.runs,
        "miss_um": change.miss * 1e6,
        "miss_deviation_um": change.miss_deviation * 1e6,
        "change_um": change.change * 1e6,
        "wanted_um": change.wanted * 1e6,
        "is_shortened": change.is_shortened,
        "is_worth_it": change.is_worth_it,
        "sentence": change.sentence,
    }


def jig_wedges_dict(jig_id: str, wafers: Sequence[str], transfer: WedgeTransfer | None, why: str) -> dict[str, Any]:
    """What becomes of predicted wedges on one jig."""
    if transfer is None:
        return {"jig": jig_id, "wafers": list(wafers), "share_percent": None, "tilt_um": None, "sentence": why}
    azimuth = transfer.tilt.azimuth
    return {
        "jig": jig_id,
        "wafers": list(wafers),
        "share_percent": 100.0 * transfer.share,
        "share_expanded_uncertainty_percent": 200.0 * transfer.share_uncertainty,
        "tilt_um": transfer.tilt.amount * 1e6,
        "tilt_expanded_uncertainty_um": 2e6 * transfer.tilt_uncertainty,
        "tilt_azimuth_deg": None if azimuth is None else math.degrees(azimuth) % 360.0,
        "scatter_um": transfer.scatter * 1e6,
        "is_tilted": transfer.is_tilted,
        "sentence": transfer.sentence,
    }


# ----------------------------------------------------------------------------------------------------------------------


def _line(line: BacktestLine) -> dict[str, Any]:
    return {
        "run": line.name,
        "earlier": line.earlier,
        "predicted_um_per_min": _rate(line.predicted),
        "low_um_per_min": _rate(line.low),
        "high_um_per_min": _rate(line.high),
        "rate_um_per_min": _rate(line.removal_rate),
        "last_rate_um_per_min": None if line.last_rate is None else _rate(line.last_rate),
        "library_rate_um_per_min": _rate(line.library_rate),
        "note": line.note,
    }


def _rate(value: float) -> float:
    return value * 60e6


def _hours(value: float | None) -> float | None:
    return None if value is None else value / 3600.0
