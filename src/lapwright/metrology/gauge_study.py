"""What a gauge is worth: repeatability and reproducibility from a crossed study.

Every operator measures every part. With equal cells by analysis of variance, the interaction kept or dropped by its
test, or by averages and ranges; with unequal cells by restricted likelihood, which needs no balance. A variance
estimate below zero is reported as it comes out, and as zero where it is used. Nested studies: `nested_study`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault, OutOfValidRange
from lapwright.metrology.component_intervals import (
    ComponentInterval,
    difference_interval,
    mean_square_interval,
    satterthwaite_interval,
    sum_interval,
)
from lapwright.metrology.distributions import f_tail
from lapwright.metrology.restricted_likelihood import restricted_components

Array = NDArray[np.float64]
Codes = NDArray[np.intp]
Interaction = Literal["auto", "keep", "drop"]

DROP_INTERACTION_ABOVE = 0.25  # chance level, automotive MSA reference manual, 4th ed. 2010, ch. III (from memory)
DISTINCT_FACTOR = 1.41  # categories told apart per ratio of part to gauge (same manual; rounded there from √2)
SPREAD_FACTOR = 6.0  # study variation counts six standard deviations (same manual, 4th ed.)


@dataclass(frozen=True, slots=True, kw_only=True)
class AnovaRow:
    """One line of an analysis of variance. F and its chance are None where there is nothing to test against."""

    source: str
    degrees_of_freedom: int
    sum_of_squares: float
    mean_square: float
    f: float | None
    p: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyComponents:
    """Variances of a crossed study, in the square of the unit of the values; negative where they come out so."""

    part: float
    operator: float
    interaction: float
    repeatability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossedStudy:
    """A crossed study. Standard deviations in the unit of the values, shares from 0 to 1.

    `anova` is the table with interaction, `used_anova` the one that the components rest on. `components` are those
    used; `full_components` those of the model with interaction, before anything is dropped. `intervals` belong to
    `components`, and one to the gauge as a whole. `distinct_categories` is not cut to a whole number.
    """

    method: str
    anova: tuple[AnovaRow, ...]
    used_anova: tuple[AnovaRow, ...]
    components: StudyComponents
    full_components: StudyComponents | None
    intervals: dict[str, ComponentInterval]
    repeatability: float
    reproducibility: float
    gauge: float
    part: float
    total: float
    share_of_total: float
    share_of_tolerance: float | None
    distinct_categories: float
    levels_in_tolerance: float | None
    notes: tuple[str, ...]


def crossed_study(
    value: Array, *, part: Codes, operator: Codes, tolerance: float | None = None, interaction: Interaction = "auto",
    probability: float = 0.95,
) -> CrossedStudy:  # fmt: skip
    """Crossed gauge study, parts and operators both random.

    Parameters
    ----------
    value : float array, shape (n,) [unit of the values]
        Readings.
    part : int array, shape (n,)
        Which part each reading is of, from 0.
    operator : int array, shape (n,)
        Who took it, from 0.
    tolerance : float, optional [unit of the values]
        Width of the tolerance the gauge is judged against.
    interaction : "auto", "keep" or "drop"
        Whether the interaction stays in the model; "auto" drops it when its chance is above 0.25.
    probability : float [1]
        Of the intervals of the variances.

    Returns
    -------
    CrossedStudy
        Without an analysis of variance when the cells are unequal.

    Raises
    ------
    OutOfValidRange
        Fewer than two parts or operators, no repeats at all, a value that is not finite, or a tolerance not above 0.
    DidNotConverge
        Unequal cells from which restricted likelihood finds no answer.

    Notes
    -----
    With p parts, o operators, r repeats and mean squares MSP, MSO, MSPO, MSE: repeatability MSE, interaction
    (MSPO − MSE)/r, operator (MSO − MSPO)/(p r), part (MSP − MSPO)/(o r). A dropped interaction is pooled with the
    repeatability and takes MSPO's place [1]_. Intervals: `component_intervals`. Unequal cells:
    `restricted_likelihood`, with Satterthwaite's intervals.

    References
    ----------
    .. [1] D. C. Montgomery, Design and Analysis of Experiments, example 13.1, tables 13.2 to 13.4. Key
       ``montgomery_grr``.

    Examples
    --------
    >>> part = np.repeat([0, 1, 2], 4)
    >>> operator = np.tile([0, 0, 1, 1], 3)
    >>> value = np.array([1.0, 1.1, 1.0, 1.1, 2.0, 2.1, 2.0, 2.1, 3.0, 3.1, 3.0, 3.1])
    >>> round(crossed_study(value, part=part, operator=operator).repeatability, 4)
    0.0612
    """
    cells = _cell_counts(value, part, operator, tolerance)
    if np.ptp(cells) > 0:
        return _unequal_study(value, part, operator, tolerance, probability)
    full = _crossed_anova(value, part, operator, cells)
    full_components = _crossed_components(full, cells)
    notes = list(_negative_notes(full_components))
    chance = full[2].p
    pooled = interaction == "drop" or (interaction == "auto" and chance is not None and chance > DROP_INTERACTION_ABOVE)
    used, components = full, full_components
    if pooled:
        used = _without_interaction(full)
        components = _crossed_components(used, cells)
        reason = "as asked" if interaction == "drop" else f"chance {chance:.2f}"
        notes.append(f"The interaction cannot be told from repeatability ({reason}); the two are pooled.")
        notes += [note for note in _negative_notes(components) if note not in notes]
    method = "analysis of variance, interaction pooled" if pooled else "analysis of variance with interaction"
    found = _study(method, components, tolerance, tuple(notes))
    intervals = _crossed_intervals(used, cells, probability)
    return replace(found, anova=full, used_anova=used, full_components=full_components, intervals=intervals)


def range_study(
    value: Array, *, part: Codes, operator: Codes, factors: tuple[float, float, float] | None = None,
    tolerance: float | None = None,
) -> CrossedStudy:  # fmt: skip
    """Crossed gauge study by averages and ranges, the hand method.

    Parameters
    ----------
    value : float array, shape (n,) [unit of the values]
        Readings.
    part, operator : int arrays, shape (n,)
        Which part, and who took it, from 0.
    factors : three floats, optional [1]
        K1, K2, K3. When None: K1 = 1/d2(repeats), and K2, K3 from the range of one group of operators or parts.
    tolerance : float, optional [unit of the values]
        Width of the tolerance the gauge is judged against.

    Returns
    -------
    CrossedStudy
        Without an analysis of variance and without intervals.

    Raises
    ------
    BadInput
        A part that an operator did not measure as often as the others; every such cell is named.
    OutOfValidRange
        As for `crossed_study`.

    Notes
    -----
    EV = R̄ K1; AV = √((x̄diff K2)² − EV²/(p r)), zero when that is negative; PV = Rp K3 [1]_. K2 and K3 are
    1/d2* of one group, d2* = √(d2² + d3²) [2]_.

    References
    ----------
    .. [1] Automotive MSA reference manual, 4th ed. 2010, chapter III (formulas from memory). Key ``msa2010``.
    .. [2] A. J. Duncan, Quality Control and Industrial Statistics, table of d2* (from memory). Key ``duncan``.

    Examples
    --------
    >>> part, operator = np.repeat([0, 1], 4), np.tile([0, 0, 1, 1], 2)
    >>> value = np.array([1.0, 1.1, 1.0, 1.1, 2.0, 2.1, 2.0, 2.1])
    >>> round(range_study(value, part=part, operator=operator).repeatability, 5)
    0.08862
    """
    cells = _cell_counts(value, part, operator, tolerance)
    _need_equal_cells(cells)
    repeats = int(cells[0, 0])
    first, second, third = factors or _range_factors(repeats, *cells.shape[::-1])
    grouped = value[np.lexsort((operator, part))].reshape(*cells.shape, repeats)
    equipment = float(np.ptp(grouped, axis=2).mean()) * first
    between = float(np.ptp(grouped.mean(axis=(0, 2)))) * second
    operator_variance = between**2 - equipment**2 / (cells.shape[0] * repeats)
    notes = () if operator_variance >= 0.0 else ("The operators' variance comes out below zero and is taken as zero.",)
    components = StudyComponents(
        part=(float(np.ptp(grouped.mean(axis=(1, 2)))) * third) ** 2,
        operator=operator_variance,
        interaction=0.0,
        repeatability=equipment**2,
    )
    return _study("averages and ranges", components, tolerance, notes)


def anova_rows(
    sources: Sequence[str], degrees: Sequence[int], squares: Sequence[float], against: Sequence[int | None]
) -> tuple[AnovaRow, ...]:
    """Lines of an analysis of variance from sums of squares, each tested against another line.

    Parameters
    ----------
    sources : sequence of str
        Names of the lines.
    degrees : sequence of int [1]
        Degrees of freedom of each.
    squares : sequence of float [square of the unit of the values]
        Sum of squares of each.
    against : sequence of int, optional [1]
        Which line each mean square is divided by; None for no test.

    Returns
    -------
    tuple of AnovaRow

    Examples
    --------
    >>> rows = anova_rows(("day", "residual"), (1, 4), (8.0, 8.0), (1, None))
    >>> rows[0].f, round(rows[0].p, 4)
    (4.0, 0.1161)
    """
    means = [square / df if df else math.nan for square, df in zip(squares, degrees, strict=True)]
    rows = []
    for source, df, square, mean, other in zip(sources, degrees, squares, means, against, strict=True):
        ratio = mean / means[other] if other is not None and means[other] > 0.0 else None
        chance = f_tail(ratio, df, degrees[other]) if ratio is not None and other is not None else None
        rows.append(
            AnovaRow(source=source, degrees_of_freedom=df, sum_of_squares=square, mean_square=mean, f=ratio, p=chance)
        )
    return tuple(rows)


# ----------------------------------------------------------------------------------------------------------------------


def _cell_counts(value: Array, part: Codes, operator: Codes, tolerance: float | None) -> NDArray[np.intp]:
    if not np.all(np.isfinite(value)):
        raise OutOfValidRange("a reading", math.nan, "a finite number", "Leave out readings that were not taken.")
    if tolerance is not None and not tolerance > 0.0:
        raise OutOfValidRange("tolerance", tolerance, "more than zero")
    parts, operators = int(part.max(initial=-1)) + 1, int(operator.max(initial=-1)) + 1
    for name, count in (("number of parts", parts), ("number of operators", operators)):
        if count < 2:
            raise OutOfValidRange(name, count, "at least 2")
    cells = np.bincount(part * operators + operator, minlength=parts * operators).reshape(parts, operators)
    if cells.max() < 2:
        advice = "Let each operator read each part again."
        raise OutOfValidRange("number of repeats", int(cells.max()), "at least 2", advice)
    return cells


def _need_equal_cells(cells: NDArray[np.intp]) -> None:
    usual = int(np.bincount(cells.ravel()).argmax())
    faults = [
        Fault(sentence=f"Part {row + 1}, operator {column + 1}: {cells[row, column]} readings; expected {usual}.")
        for row, column in np.argwhere(cells != usual)
    ]
    if faults:
        raise BadInput(faults, subject="The study")


def _range_factors(repeats: int, operators: int, parts: int) -> tuple[float, float, float]:
    from lapwright.metrology.control_charts import range_factors

    several, one, another = range_factors(repeats), range_factors(operators), range_factors(parts)
    return 1.0 / several.d2, 1.0 / math.hypot(one.d2, one.d3), 1.0 / math.hypot(another.d2, another.d3)


def _crossed_anova(value: Array, part: Codes, operator: Codes, cells: NDArray[np.intp]) -> tuple[AnovaRow, ...]:
    """Sums of squares of deviations from means, each taken in a second pass, so that nothing large cancels."""
    parts, operators = cells.shape
    repeats = int(cells[0, 0])
    place = part * operators + operator
    centred = value - value.mean()
    means = np.bincount(place, weights=centred, minlength=cells.size) / repeats
    residual = centred - means[place]
    table = means.reshape(cells.shape)
    table = table - table.mean()
    by_part, by_operator = table.mean(axis=1), table.mean(axis=0)
    mixed = table - by_part[:, None] - by_operator[None, :]
    squares = (
        operators * repeats * float(by_part @ by_part),
        parts * repeats * float(by_operator @ by_operator),
        repeats * float((mixed**2).sum()),
        float(residual @ residual),
    )
    degrees = (parts - 1, operators - 1, (parts - 1) * (operators - 1), parts * operators * (repeats - 1))
    return anova_rows(("part", "operator", "interaction", "repeatability"), degrees, squares, (2, 2, 3, None))


def _without_interaction(full: tuple[AnovaRow, ...]) -> tuple[AnovaRow, ...]:
    part, operator, interaction, repeatability = full
    degrees = (
        part.degrees_of_freedom,
        operator.degrees_of_freedom,
        interaction.degrees_of_freedom + repeatability.degrees_of_freedom,
    )
    squares = (part.sum_of_squares, operator.sum_of_squares, interaction.sum_of_squares + repeatability.sum_of_squares)
    return anova_rows(("part", "operator", "repeatability"), degrees, squares, (2, 2, None))


def _crossed_components(rows: tuple[AnovaRow, ...], cells: NDArray[np.intp]) -> StudyComponents:
    parts, operators = cells.shape
    repeats = int(cells[0, 0])
    mean = {row.source: row.mean_square for row in rows}
    below = mean.get("interaction", mean["repeatability"])
    return StudyComponents(
        part=(mean["part"] - below) / (operators * repeats),
        operator=(mean["operator"] - below) / (parts * repeats),
        interaction=(mean["interaction"] - mean["repeatability"]) / repeats if "interaction" in mean else 0.0,
        repeatability=mean["repeatability"],
    )


def _crossed_intervals(
    rows: tuple[AnovaRow, ...], cells: NDArray[np.intp], probability: float
) -> dict[str, ComponentInterval]:
    parts, operators = cells.shape
    repeats = int(cells[0, 0])
    mean = {row.source: (row.mean_square, row.degrees_of_freedom) for row in rows}
    error = mean["repeatability"]
    below = mean.get("interaction", error)
    weights = [(1.0 / (parts * repeats), mean["operator"])]
    if "interaction" in mean:
        weights += [((parts - 1) / (parts * repeats), below), ((repeats - 1) / repeats, error)]
    else:
        weights.append((1.0 - 1.0 / (parts * repeats), error))
    found = {
        "repeatability": mean_square_interval(*error, probability=probability),
        "part": difference_interval(mean["part"], below, count=operators * repeats, probability=probability),
        "operator": difference_interval(mean["operator"], below, count=parts * repeats, probability=probability),
        "gauge": sum_interval(weights, probability=probability),
    }
    if "interaction" in mean:
        found["interaction"] = difference_interval(below, error, count=repeats, probability=probability)
    return found


def _unequal_study(
    value: Array, part: Codes, operator: Codes, tolerance: float | None, probability: float
) -> CrossedStudy:
    found = restricted_components(value, levels=(("part", part), ("operator", operator)), crossed=True)
    variances = found.components
    components = StudyComponents(
        part=variances["part"],
        operator=variances["operator"],
        interaction=variances["interaction"],
        repeatability=variances["residual"],
    )
    errors = {("repeatability" if name == "residual" else name): error for name, error in found.standard_errors.items()}
    intervals = {
        name: satterthwaite_interval(getattr(components, name), error, probability=probability)
        for name, error in errors.items()
    }
    notes = [
        "The cells hold unequal numbers of readings: no analysis of variance; variances by restricted likelihood.",
        *(f"The variance of the {name} comes out at its bound of zero." for name in found.at_zero),
    ]
    return replace(_study("restricted likelihood", components, tolerance, tuple(notes)), intervals=intervals)


def _negative_notes(components: StudyComponents) -> list[str]:
    return [
        f"The variance of the {name} comes out below zero ({variance:.4g}) and is taken as zero."
        for name, variance in (
            ("parts", components.part),
            ("operators", components.operator),
            ("interaction", components.interaction),
        )
        if variance < 0.0
    ]


def _study(method: str, components: StudyComponents, tolerance: float | None, notes: tuple[str, ...]) -> CrossedStudy:
    reproducibility = max(0.0, components.operator) + max(0.0, components.interaction)
    gauge = components.repeatability + reproducibility
    part = max(0.0, components.part)
    total = math.sqrt(gauge + part)
    spread = SPREAD_FACTOR * math.sqrt(gauge)
    return CrossedStudy(
        method=method,
        anova=(),
        used_anova=(),
        components=components,
        full_components=None,
        intervals={},
        repeatability=math.sqrt(components.repeatability),
        reproducibility=math.sqrt(reproducibility),
        gauge=math.sqrt(gauge),
        part=math.sqrt(part),
        total=total,
        share_of_total=math.sqrt(gauge) / total if total > 0.0 else 0.0,
        share_of_tolerance=spread / tolerance if tolerance else None,
        distinct_categories=DISTINCT_FACTOR * math.sqrt(part / gauge) if gauge > 0.0 else math.inf,
        levels_in_tolerance=DISTINCT_FACTOR * tolerance / spread if tolerance and spread > 0.0 else None,
        notes=notes,
    )
