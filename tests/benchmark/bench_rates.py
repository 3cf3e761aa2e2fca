"""Learning from two hundred runs, each predicted first, against fitting everything anew by least squares each time."""

import time

import numpy as np

from lapwright.library import load
from lapwright.process.learning import RunConditions, predict_rate, rate_model
from lapwright.testing.rate_campaign import Shop, lab_runs

RUNS = 3


def rows():
    """A lab of four processes with 50 runs each; and one prediction from what it learned."""
    library = load()
    past = lab_runs(library, shop=Shop(runs=50), seed=1)
    effects = dict.fromkeys(key for run in past for key in _keys(run.conditions))
    places = {key: place for place, key in enumerate(effects)}
    loadings = np.zeros((len(past), len(effects)))
    for row, run in enumerate(past):
        loadings[row, [places[key] for key in _keys(run.conditions)]] = 1.0
    values = np.log([run.removal_rate for run in past])
    model = rate_model(library, past)
    where = past[-1].conditions
    ours = _seconds(lambda: rate_model(library, past), RUNS)
    reference = _seconds(lambda: _anew(loadings, values), 1)
    asked = _seconds(lambda: [predict_rate(model, where) for _ in range(100)], RUNS) / 100.0
    once = _seconds(lambda: [_fitted(loadings, values) for _ in range(10)], RUNS) / 10.0
    return [
        _row(
            "Learning run by run, 96 guesses at once; reference: least squares anew at each run",
            ours,
            reference,
            "200 runs",
        ),
        _row("One prediction with its reasons; reference: one least-squares fit", asked, once, "200 runs"),
    ]


def _keys(conditions: RunConditions):
    """What a plain regression would take for the effects of a run."""
    return (conditions.combination, ("lot", conditions.abrasive_lot), ("plate", conditions.plate_piece))


def _anew(loadings, values):
    """A fit before every run, from the runs before it."""
    for known in range(2, values.size):
        _fitted(loadings[:known], values[:known])


def _fitted(loadings, values):
    return np.linalg.lstsq(loadings, values, rcond=None)[0]


def _seconds(work, times):
    best = np.inf
    for _ in range(times):
        begun = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - begun)
    return best


def _row(name, ours, reference, conditions):
    return {"name": name, "ours_s": ours, "reference_s": reference, "ratio": ours / reference, "conditions": conditions}
