"""Uncertainty, Monte Carlo and decision rules against the worked examples of the JCGM guides."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from lapwright.formats.budget_toml import BudgetFile, read_budget
from lapwright.metrology.expression import value_of
from lapwright.metrology.monte_carlo import DrawnResult, linear_model, monte_carlo
from lapwright.metrology.propagation import model_budget, second_order_uncertainty
from lapwright.metrology.ready_budgets import probe_sinking
from lapwright.metrology.uncertainty import (
    Budget,
    CombinedUncertainty,
    Contribution,
    combined_uncertainty,
)
from lapwright.model.order import Limit
from lapwright.process.decisions import chance_inside
from lapwright.testing.published_check import Check

TRIALS = 400_000


def uncertainty_checks(data: Path) -> Iterator[Check]:
    """JCGM 100 H.1 and H.2, JCGM 101 clause 9, JCGM 106 clause 7, Hertz."""
    yield from _end_gauge(data)
    _, found = worked(read_budget(data / "jcgm100_h2.toml"))
    yield _check("jcgm100", "H.2 resistance", 127.732, found.value, 5.5)
    yield _check("jcgm100", "H.2 its standard uncertainty", 0.071, found.standard_uncertainty, 2.5)
    yield from _drawn(data)
    for clause, lower, upper, value, uncertainty, published in (
        ("7.3.3 example 1", None, -5.40, -5.47, 0.05, 0.92),
        ("7.3.3 example 2", 490.0, None, 509.7, 8.6, 0.99),
        ("7.4", 12.5, 16.3, 13.6, 1.8, 0.66),
    ):
        limit = Limit(quantity="thickness", lower=lower, upper=upper)
        yield _check(
            "jcgm106", f"{clause}, chance to conform", published, chance_inside(limit, value, uncertainty), 2.0
        )
    contact = 115.384615e9  # 210 GPa and 0.3 on both sides
    sunk = probe_sinking(force=10.0, tip_radius=5e-3, contact_modulus=contact)
    yield _check("hertz1881", "approach of a ball of 5 mm at 10 N, µm", 0.945407, sunk * 1e6, 6.0)


def worked(file: BudgetFile, *, probability: float | None = None) -> tuple[Budget, CombinedUncertainty]:
    """A budget file to first order."""
    assert file.model is not None
    value, budget = model_budget(file.model, file.contributions, correlation=file.correlation)
    return budget, combined_uncertainty(budget, value=value, probability=probability or file.probability)


def drawn(file: BudgetFile, *, seed: int = 1, probability: float | None = None) -> DrawnResult:
    """A budget file by Monte Carlo."""
    budget, _ = worked(file)
    model = file.model
    assert model is not None
    return monte_carlo(
        lambda values: value_of(model, values), budget, generator=np.random.default_rng(seed), trials=TRIALS,
        probability=probability or file.probability,
    )  # fmt: skip


def squares(x: float, correlation: float = 0.0) -> tuple[BudgetFile, DrawnResult]:
    """JCGM 101, 9.4: the sum of two squares with a standard uncertainty of 0.005 each."""
    from lapwright.formats.budget_toml import budget_from_dict

    inputs = [{"name": name, "value": value, "unit": "1", "standard_uncertainty": 0.005}
              for name, value in (("one", x), ("other", 0.0))]  # fmt: skip
    content = {"unit": "1", "model": "one ** 2 + other ** 2", "input": inputs}
    if correlation:
        content["correlation"] = [{"between": ["one", "other"], "coefficient": correlation}]
    file = budget_from_dict(content, name="9.4")
    return file, drawn(file)


# ----------------------------------------------------------------------------------------------------------------------


def _check(key: str, what: str, published: float, computed: float, needed: float) -> Check:
    return Check(key=key, what=what, published=published, computed=computed, needed=needed)


def _end_gauge(data: Path) -> Iterator[Check]:
    file = read_budget(data / "jcgm100_h1.toml")
    budget, found = worked(file)
    assert file.model is not None
    second = second_order_uncertainty(file.model, file.contributions)
    with_degrees = {line.name: abs(line.effect) for line in budget.contributions}
    for what, published, computed, needed in (
        ("length, nm", 50000838.0, found.value, 9.0),
        ("standard, nm", 25.0, with_degrees["standard"], 10.0),
        ("difference of expansions, nm", 2.9, with_degrees["expansion_difference"], 2.0),
        ("difference of temperatures, nm", 16.6, with_degrees["temperature_difference"], 3.0),
        ("combined, nm", 32.0, found.standard_uncertainty, 1.9),
        ("effective degrees of freedom", 16.7, found.degrees_of_freedom, 2.5),
        ("coverage factor, 99 %", 2.92, found.coverage_factor, 3.0),
        ("U, 99 %, nm (printed from the rounded 32)", 93.0, found.expanded_uncertainty, 2.0),
        ("combined with second-order terms, nm", 34.0, second.standard_uncertainty, 2.0),
    ):
        yield _check("jcgm100", f"H.1 {what}", published, computed, needed)


def _drawn(data: Path) -> Iterator[Check]:
    for clause, kind, deviations, published, spread in (
        ("9.2.2 four normal", "normal", (1.0, 1.0, 1.0, 1.0), 3.92, 2.0),
        ("9.2.3 four rectangular", "rectangular", (1.0, 1.0, 1.0, 1.0), 3.88, 2.0),
        ("9.2.4 one of ten times the width", "rectangular", (1.0, 1.0, 1.0, 10.0), 17.0, 10.1),
    ):
        lines = tuple(Contribution(name=f"x{place}", standard_uncertainty=one, distribution=kind)  # type: ignore[arg-type]
                      for place, one in enumerate(deviations))  # fmt: skip
        budget = Budget(contributions=lines)
        found = monte_carlo(linear_model(budget), budget, generator=np.random.default_rng(1), trials=TRIALS)
        yield _check("jcgm101", f"{clause}, standard uncertainty", spread, found.standard_uncertainty, 2.0)
        yield _check("jcgm101", f"{clause}, upper end, 95 %", published, found.symmetric[1], 2.0)
    mass = drawn(read_budget(data / "jcgm101_9_3.toml"))
    yield _check("jcgm101", "9.3 mass, mg", 1.2341, mass.mean, 3.5)
    yield _check("jcgm101", "9.3 standard uncertainty, mg", 0.0754, mass.standard_uncertainty, 2.0)
    block = drawn(read_budget(data / "jcgm101_9_5.toml"))
    yield _check("jcgm101", "9.5 gauge block, standard uncertainty, nm", 36.0, block.standard_uncertainty, 1.8)
    yield _check("jcgm101", "9.5 shortest 99 % interval, low end less 50 mm, nm", 745.0, block.shortest[0] - 5e7, 2.6)
    yield _check("jcgm101", "9.5 shortest 99 % interval, high end less 50 mm, nm", 932.0, block.shortest[1] - 5e7, 2.6)
    for x, published, spread in ((0.0, 50.0, 50.0), (0.010, 150.0, 112.0), (0.050, 2551.0, 502.0)):
        _, found = squares(x)
        yield _check("jcgm101", f"9.4 at {x:g}, mean, 1e-6", published, found.mean * 1e6, 2.0)
        yield _check("jcgm101", f"9.4 at {x:g}, u, 1e-6", spread, found.standard_uncertainty * 1e6, 2.0)
