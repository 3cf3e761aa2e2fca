"""Use cases that need no records: a gauge study, a chart, a capability or a budget from a file.

Values keep the unit of their column. Nothing here loads the database.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from lapwright.errors import BadInput, Fault
from lapwright.formats.budget_toml import BudgetFile, read_budget
from lapwright.formats.table_csv import Columns, codes_of, heading_unit, read_columns
from lapwright.metrology.capability import CapabilityStudy, capability_study
from lapwright.metrology.gauge_checks import (
    BiasStudy,
    GaugeComparison,
    TrendStudy,
    bias_study,
    gauge_comparison,
    trend_study,
)
from lapwright.metrology.gauge_study import CrossedStudy, Interaction, crossed_study, range_study
from lapwright.metrology.monte_carlo import (
    DrawnResult,
    adaptive_monte_carlo,
    is_first_order_enough,
    linear_model,
    monte_carlo,
)
from lapwright.metrology.nested_study import NestedStudy, nested_study
from lapwright.metrology.propagation import SecondOrder, contribution_shares, model_budget, second_order_uncertainty
from lapwright.metrology.uncertainty import Budget, CombinedUncertainty, combined_uncertainty
from lapwright.units import find_unit, to_unit

StudyMethod = Literal["anova", "ranges"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyFile:
    """A crossed study of a file: the result, how many parts, operators and readings, and the unit (None unstated)."""

    study: CrossedStudy
    n_readings: int
    n_parts: int
    n_operators: int
    mean: float
    unit: str | None
    tolerance: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetAnswer:
    """A budget worked out: to first order, with second-order terms (None where they do not apply), and by draws."""

    file: BudgetFile
    budget: Budget
    combined: CombinedUncertainty
    shares: tuple[float, ...]
    second_order: SecondOrder | None
    drawn: DrawnResult
    first_order_enough: bool
    seed: int


def study_of_file(
    path: Path, *, part: str, operator: str, value: str, tolerance: float | None = None,
    method: StudyMethod = "anova", interaction: Interaction = "auto",
) -> StudyFile:  # fmt: skip
    """Crossed gauge study of a table; `tolerance` in m, turned into the unit of the column (µm when it states none).

    Raises `FileFormatError`, `BadInput` with every fault, and as `crossed_study` and `range_study` do.
    """
    table = read_columns(path, numbers=(value,), names=(part, operator))
    unit = heading_unit(value)
    width = None if tolerance is None else to_unit(tolerance, unit or find_unit("µm", "length"))
    values, parts, operators = table.numbers[value], codes_of(table.names[part]), codes_of(table.names[operator])
    if method == "ranges":
        study = range_study(values, part=parts, operator=operators, tolerance=width)
    else:
        study = crossed_study(values, part=parts, operator=operators, tolerance=width, interaction=interaction)
    return StudyFile(
        study=study,
        n_readings=values.size,
        n_parts=int(parts.max()) + 1,
        n_operators=int(operators.max()) + 1,
        mean=float(values.mean()),
        unit=unit.symbol if unit else None,
        tolerance=width,
    )


def nested_of_file(path: Path, *, levels: Sequence[str], value: str) -> NestedStudy:
    """Variance components of a nested table, `levels` from the outermost.

    Raises `FileFormatError`, `BadInput` with every fault, and as `nested_study` does.
    """
    wrong = [name for name in levels if name == "residual" or list(levels).count(name) > 1 or not name]
    if wrong or not levels:
        raise BadInput([Fault(sentence="Name each level once, from the outermost, and none 'residual'.",
                              field="--levels", code="table.levels")])  # fmt: skip
    table = read_columns(path, numbers=(value,), names=tuple(levels))
    return nested_study(table.numbers[value], levels=[(name, codes_of(table.names[name])) for name in levels])


def capability_of_file(
    path: Path, *, value: str, lower: float | None, upper: float | None, target: float | None,
    gauge_deviation: float | None,
) -> CapabilityStudy:  # fmt: skip
    """Capability of the values of a column, limits in its unit.

    Raises `FileFormatError`, `BadInput` with every fault, and as `capability_study` does.
    """
    table = read_columns(path, numbers=(value,))
    return capability_study(
        table.numbers[value], lower=lower, upper=upper, target=target, gauge_deviation=gauge_deviation
    )


def bias_of_file(path: Path, *, value: str, reference: float, reference_uncertainty: float) -> BiasStudy:
    """Bias of repeats on one reference. Raises `FileFormatError`, `BadInput`, and as `bias_study` does."""
    table = read_columns(path, numbers=(value,))
    return bias_study(table.numbers[value], reference=reference, reference_uncertainty=reference_uncertainty)


def trend_of_file(path: Path, *, value: str, along: str, minus: str | None = None) -> TrendStudy:
    """Trend of a column along another; with `minus` of its difference from that column (linearity: the reference).

    Raises `FileFormatError`, `BadInput` with every fault, and as `trend_study` does.
    """
    table = read_columns(path, numbers=tuple(dict.fromkeys(filter(None, (value, along, minus)))))
    values = table.numbers[value] - (table.numbers[minus] if minus else 0.0)
    return trend_study(table.numbers[along], values)


def comparison_of_file(
    path: Path, *, first: str, second: str, uncertainties: tuple[float, float] | None
) -> GaugeComparison:
    """Two gauges on the same sites. Raises `FileFormatError`, `BadInput`, and as `gauge_comparison` does."""
    table = read_columns(path, numbers=(first, second))
    return gauge_comparison(table.numbers[first], table.numbers[second], uncertainties=uncertainties)


def columns_of_file(path: Path, *, numbers: Sequence[str], names: Sequence[str] = ()) -> Columns:
    """Columns of a table. Raises `FileFormatError`, and `BadInput` with every fault."""
    return read_columns(path, numbers=numbers, names=names)


def budget_of_file(
    path: Path, *, trials: int | None = None, seed: int | None = None, probability: float | None = None
) -> BudgetAnswer:
    """An uncertainty budget worked out; what is given overrides the file.

    Raises `FileFormatError`, `BadInput` with every fault, and `OutOfValidRange` where the model has no value.
    """
    from lapwright.metrology.expression import value_of

    file = read_budget(path)
    wanted = file.probability if probability is None else probability
    used_seed = file.seed if seed is None else seed
    if file.model is None:
        value, budget = file.value or 0.0, Budget(contributions=file.contributions, correlation=file.correlation)
        deviation = linear_model(budget)
        model = lambda values: value + deviation(values)  # noqa: E731  one of two models, each a line
    else:
        tree = file.model
        value, budget = model_budget(tree, file.contributions, correlation=file.correlation)
        model = lambda values: value_of(tree, values)  # noqa: E731
    generator = np.random.default_rng(used_seed)
    count = file.trials if trials is None else trials
    if count is None:
        drawn = adaptive_monte_carlo(model, budget, generator=generator, probability=wanted, digits=file.digits)
    else:
        drawn = monte_carlo(model, budget, generator=generator, trials=count, probability=wanted)
    combined = combined_uncertainty(budget, value=value, probability=wanted)
    independent = file.model is not None and file.correlation is None
    return BudgetAnswer(
        file=file,
        budget=budget,
        combined=combined,
        shares=contribution_shares(budget),
        second_order=second_order_uncertainty(file.model, file.contributions) if independent and file.model else None,
        drawn=drawn,
        first_order_enough=is_first_order_enough(combined, drawn),
        seed=used_seed,
    )
