"""Monte Carlo against drawing alone, a gauge study against statsmodels, charts against plain NumPy, in one run."""

import math
import time
import warnings

import numpy as np
import pandas as pd
from scipy.signal import lfilter
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from lapwright.metrology.control_charts import cusum_chart, ewma_chart, individuals_chart
from lapwright.metrology.expression import model_from_text, value_of
from lapwright.metrology.gauge_study import crossed_study
from lapwright.metrology.monte_carlo import monte_carlo
from lapwright.metrology.propagation import model_budget
from lapwright.metrology.run_rules import ALL_RULES
from lapwright.metrology.uncertainty import Contribution

TRIALS, POINTS, RUNS = 1_000_000, 1_000_000, 3
SHAPES = ("normal",) * 5 + ("rectangular",) * 5 + ("arcsine", "triangular")


def rows():
    """A budget of twelve inputs, a study of 10⁵ readings, three charts of 10⁶ points."""
    return [*_monte_carlo(), *_study(), *_charts()]


def _monte_carlo():
    names = [f"x{i}" for i in range(12)]
    lines = tuple(
        Contribution(name=name, value=1.0 + i, standard_uncertainty=0.01, distribution=shape)
        for i, (name, shape) in enumerate(zip(names, SHAPES, strict=True))
    )
    model = model_from_text("x0 * x1 / x2 + x3 - x4 * (x5 + x6) + sqrt(x7) + x8 * x9 - x10 / x11", names=names)
    _, budget = model_budget(model, lines)
    ours = _seconds(
        lambda: monte_carlo(
            lambda values: value_of(model, values), budget, generator=np.random.default_rng(1), trials=TRIALS
        )
    )
    return [_row("Monte Carlo, 12 inputs, intervals included; reference: drawing the numbers", ours, _seconds(_draw), f"{TRIALS} trials")]  # fmt: skip


def _draw():
    """The same twelve inputs drawn by NumPy in one go each."""
    generator = np.random.default_rng(1)
    for shape in SHAPES:
        if shape == "normal":
            generator.normal(1.0, 0.01, TRIALS)
        elif shape == "rectangular":
            generator.uniform(0.98, 1.02, TRIALS)
        elif shape == "triangular":
            generator.triangular(0.98, 1.0, 1.02, TRIALS)
        else:
            1.0 + 0.01 * np.sin(generator.uniform(0.0, 2.0 * math.pi, TRIALS))


def _study():
    generator = np.random.default_rng(2)
    part, operator = np.repeat(np.arange(20), 5000), np.tile(np.repeat(np.arange(5), 1000), 20)
    value = (
        generator.normal(0, 2.0, 20)[part] + generator.normal(0, 0.5, 5)[operator] + generator.normal(0, 0.3, 100_000)
    )
    frame = pd.DataFrame({"y": value, "part": part, "operator": operator})
    ours = _seconds(lambda: crossed_study(value, part=part, operator=operator))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        reference = _seconds(lambda: anova_lm(ols("y ~ C(part) * C(operator)", frame).fit()), runs=1)
    return [_row("gauge study with intervals; reference: statsmodels' analysis of variance", ours, reference,
                 "100000 readings: 20 parts x 5 operators x 1000")]  # fmt: skip


def _charts():
    value = np.random.default_rng(3).normal(10.0, 1.0, POINTS)
    plain = _seconds(lambda: np.flatnonzero(np.abs(value - value.mean()) > 3 * np.abs(np.diff(value)).mean() / 1.128))
    filtered = _seconds(lambda: lfilter([0.2], [1.0, -0.8], value))
    size = f"{POINTS} points, best of {RUNS}"
    return [
        _row("individuals, one rule; reference: bare numpy", _seconds(lambda: individuals_chart(value)), plain, size),
        _row("individuals, all five rules; reference: bare numpy, one rule",
             _seconds(lambda: individuals_chart(value, rules=ALL_RULES)), plain, size),
        _row("EWMA; reference: scipy's filter alone",
             _seconds(lambda: ewma_chart(value, weight=0.2, target=10.0, sigma=1.0)), filtered, size),
        _row("CUSUM, both sides; reference: scipy's filter alone",
             _seconds(lambda: cusum_chart(value, target=10.0, sigma=1.0)), filtered, size),
    ]  # fmt: skip


def _seconds(call, *, runs=RUNS):
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


def _row(name, ours, reference, conditions):
    return {"name": name, "ours_s": ours, "reference_s": reference, "ratio": ours / reference, "conditions": conditions}
