"""Removal rates learned from the lab's own runs: what the next run will show, how surely, and why.

The library's Preston rate with its band is the belief before any run. Runs then speak for their own combination of
material, abrasive and plate, and more faintly for those that share a part of it. With no runs the answer is the
library's; the more runs, the more it is the lab's own. An outlying run is set aside and named; a second one to the same
side on the same plate is taken as a shift. Left out: temperature, acidity, feed, the first minutes of a polish.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import CannotAnswer, OutOfValidRange
from lapwright.library import Library, Process, Trust
from lapwright.metrology.distributions import student_t_quantile
from lapwright.process.learning_effects import RunConditions, effects_of, starting_rate
from lapwright.process.learning_filter import Spreads, usual_spreads
from lapwright.process.learning_fit import LearnedProcess, PastRun, RunCheck, expected_rate, learned_process
from lapwright.process.learning_reasons import RatePart, believed_exponents, rate_origin, rate_parts
from lapwright.process.removal import RateInterval

#: Runs of a combination from which its rate counts as the lab's own.
OWN_RUNS = 2

__all__ = [
    "LearnedProcess", "PastRun", "RateModel", "RatePart", "RatePrediction", "RunCheck", "RunConditions", "drawn_rates",
    "predict_rate", "rate_interval", "rate_model", "where_last_run",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class RatePrediction:
    """The rate of the next run: Student's t of its logarithm, and why.

    `median` [m/s], `log_deviation` the scale of the t [1] with its `degrees_of_freedom`; `level_deviation` is the part
    of it that runs can still take away, `run_spread` the scatter that stays. `runs` and `lots` count the lab's own runs
    of this combination and their abrasive lots; `row_id` names the library row behind it, "" without one; `trust` is
    "own" from two runs on. `origin` says it in a sentence, `parts` as factors on the library's rate `library_rate`
    [m/s]. `exponents` of pressure and of speed are those believed [1].
    """

    median: float
    log_deviation: float
    degrees_of_freedom: float
    level_deviation: float
    run_spread: float
    runs: int
    lots: int
    row_id: str
    trust: Trust
    origin: str
    library_rate: float
    exponents: tuple[float, float]
    parts: tuple[RatePart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RateModel:
    """The library and what the lab's runs have taught beyond it, lap and polish apart."""

    library: Library
    learned: Mapping[Process, LearnedProcess]


def rate_model(library: Library, runs: Sequence[PastRun] = (), *, spreads: Spreads | None = None) -> RateModel:
    """The library's rates with everything that past runs say about them.

    Parameters
    ----------
    library : Library
        Starting values.
    runs : sequence of PastRun
        In the order they were worked; none at all is an answer, too.
    spreads : Spreads, optional
        Guesses of the spreads between which the runs choose; the usual ones when not given.

    Returns
    -------
    RateModel

    Raises
    ------
    NotFound
        A material, abrasive or plate the library does not hold.

    Examples
    --------
    >>> from lapwright.library import load
    >>> where = RunConditions(material="LiTaO3", abrasive="sic-jis1000", plate="cast-iron", pressure=10e3, speed=0.5)
    >>> runs = [PastRun(name=str(k), conditions=where, removal_rate=4e-6 / 60) for k in range(5)]
    >>> prediction = predict_rate(rate_model(load(), runs), where)
    >>> round(prediction.median * 60e6, 1), prediction.runs, prediction.trust
    (4.0, 5, 'own')
    """
    chosen = usual_spreads() if spreads is None else spreads
    begun = [(run, starting_rate(library, run.conditions)) for run in runs]
    learned: dict[Process, LearnedProcess] = {}
    for process in dict.fromkeys(abrasive.process for abrasive in library.abrasives):
        mine = [(run, from_library) for run, from_library in begun if from_library.process == process]
        learned[process] = learned_process(library, mine, chosen)
    return RateModel(library=library, learned=MappingProxyType(learned))


def predict_rate(model: RateModel, conditions: RunConditions, *, with_parts: bool = True) -> RatePrediction:
    """The rate that the next run will show under given conditions.

    Parameters
    ----------
    model : RateModel
        Library and past runs.
    conditions : RunConditions
        What the run is to be worked with; it may be a combination never run.
    with_parts : bool
        Work out the reasons, too; a search over thousands of settings can do without.

    Returns
    -------
    RatePrediction

    Raises
    ------
    NotFound
        A material, abrasive or plate the library does not hold.
    CannotAnswer
        No row of the library, none to carry over, and no run of one's own.

    Notes
    -----
    The interval holds the next run, not the mean of many: run-to-run scatter is in it.

    Examples
    --------
    >>> from lapwright.library import load
    >>> where = RunConditions(material="LiTaO3", abrasive="sic-jis1000", plate="cast-iron", pressure=10e3, speed=0.5)
    >>> round(predict_rate(rate_model(load()), where).median * 60e6, 2)
    5.13
    """
    from_library = starting_rate(model.library, conditions)
    learned = model.learned[from_library.process]
    own = learned.own.get(conditions.combination)
    runs, lots, all_runs = (0, 0, 0) if own is None else (own.runs, own.lots, own.all_runs)
    if not from_library.is_known and not runs:
        raise CannotAnswer(
            f"The library has no removal rate for {conditions.material} with {conditions.abrasive} on "
            f"{conditions.plate}, none to carry over, and no run of it is known. Log a first run."
        )
    effects = effects_of(model.library, conditions, from_library)
    found = expected_rate(learned, effects, from_library)
    return RatePrediction(
        median=math.exp(found.mean),
        log_deviation=found.scale,
        degrees_of_freedom=found.degrees_of_freedom,
        level_deviation=found.level,
        run_spread=found.scatter,
        runs=runs,
        lots=lots,
        row_id=from_library.prior.row_id,
        trust="own" if runs >= OWN_RUNS else from_library.prior.trust,
        origin=rate_origin(from_library, runs=runs, lots=lots, others=len(learned.checks) - all_runs),
        library_rate=from_library.rate,
        exponents=believed_exponents(learned, effects),
        parts=rate_parts(learned, effects) if with_parts else (),
    )


def where_last_run(model: RateModel, conditions: RunConditions) -> RunConditions:
    """Conditions with station, plate and abrasive lot of the last run of the same combination, where none are named.

    Parameters
    ----------
    model : RateModel
        Library and past runs.
    conditions : RunConditions
        What the run is to be worked with.

    Returns
    -------
    RunConditions
        As given when there is no such run.
    """
    process = model.library.abrasive(conditions.abrasive).process
    own = model.learned[process].own.get(conditions.combination)
    if own is None:
        return conditions
    last = own.last_conditions
    return replace(
        conditions,
        station=conditions.station or last.station,
        plate_piece=conditions.plate_piece or last.plate_piece,
        abrasive_lot=conditions.abrasive_lot or last.abrasive_lot,
    )


def rate_interval(prediction: RatePrediction, *, coverage: float = 0.95) -> RateInterval:
    r"""The interval that holds the rate of the next run.

    Parameters
    ----------
    prediction : RatePrediction
        Of the run.
    coverage : float [1]
        Chance that the run falls inside, between 0 and 1.

    Returns
    -------
    RateInterval

    Raises
    ------
    OutOfValidRange
        `coverage` not inside (0, 1).

    Notes
    -----
    .. math:: r = \tilde r \exp(\pm t_{\nu, (1+c)/2}\, s)

    Examples
    --------
    >>> from lapwright.library import load
    >>> where = RunConditions(material="Si", abrasive="al2o3-9", plate="cast-iron", pressure=10e3, speed=0.5)
    >>> found = rate_interval(predict_rate(rate_model(load()), where), coverage=0.9)
    >>> found.low < found.median < found.high
    True
    """
    if not 0.0 < coverage < 1.0:
        raise OutOfValidRange("coverage", coverage, "more than 0 and less than 1")
    reach = student_t_quantile(0.5 + coverage / 2.0, prediction.degrees_of_freedom)
    spread = math.exp(reach * prediction.log_deviation)
    return RateInterval(
        median=prediction.median, low=prediction.median / spread, high=prediction.median * spread, coverage=coverage
    )


def drawn_rates(prediction: RatePrediction, *, generator: np.random.Generator, draws: int) -> NDArray[np.float64]:
    """Rates drawn from a prediction, one for each imagined run.

    Parameters
    ----------
    prediction : RatePrediction
        Of the run.
    generator : numpy Generator
        Seeded by the caller.
    draws : int
        How many.

    Returns
    -------
    float array, shape (draws,) [m/s]

    Examples
    --------
    >>> from lapwright.library import load
    >>> where = RunConditions(material="Si", abrasive="al2o3-9", plate="cast-iron", pressure=10e3, speed=0.5)
    >>> drawn_rates(predict_rate(rate_model(load()), where), generator=np.random.default_rng(1), draws=3).shape
    (3,)
    """
    drawn = generator.standard_t(prediction.degrees_of_freedom, draws)
    return np.asarray(prediction.median * np.exp(prediction.log_deviation * drawn), dtype=np.float64)
