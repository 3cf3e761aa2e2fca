"""What a gauge is worth: repeatability and reproducibility from a crossed or a nested study.

Crossed: every operator measures every part equally often; analysis of variance with the interaction kept or dropped
by its test, or the average-and-range method. Nested: each level only inside the one above. Unequal cells are refused
with the cell named. A variance estimate below zero is reported as it comes out, and as zero where it is used.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault, OutOfValidRange
from lapwright.metrology.distributions import f_tail

Array = NDArray[np.float64]
Codes = NDArray[np.intp]

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

    `components` are those used; `full_components` those of the model with interaction, before anything is dropped.
    """

    method: str
    anova: tuple[AnovaRow, ...]
    components: StudyComponents
    full_components: StudyComponents | None
    repeatability: float
    reproducibility: float
    gauge: float
    part: float
    total: float
    share_of_total: float
    share_of_tolerance: float | None
    distinct_categories: float
    notes: tuple[str, ...]


def crossed_study(value: Array, *, part: Codes, operator: Codes, tolerance: float | None = None) -> CrossedStudy:
    """Crossed gauge study by analysis of variance, parts and operators both random.

    Parameters
    ----------
    value : float array, shape (n,) [unit of the values]
        Readings.
    part : int array, shape (n,)
        Which part each reading is of, from 0.
    operator : int array, shape (n,)
        Who took it, from 0.
    tolerance : float or None [unit of the values]
        Width of the tolerance the gauge is judged against.

    Returns
    -------
    CrossedStudy

    Raises
    ------
    BadInput
        A part that an operator did not measure as often as the others; every such cell is named.
    OutOfValidRange
        Fewer than two parts, operators or repeats.

    Notes
    -----
    With p parts, o operators, r repeats and mean squares MSP, MSO, MSPO, MSE: repeatability MSE, interaction
    (MSPO − MSE)/r, operator (MSO − MSPO)/(p r), part (MSP − MSPO)/(o r). When the interaction's chance is above 0.25
    it is pooled with the repeatability and takes MSPO's place [1]_.

    References
    ----------
    .. [1] D. C. Montgomery, Design and Analysis of Experiments, example 13.1, tables 13.2 to 13.4.

    Examples
    --------
    >>> part = np.repeat([0, 1, 2], 4)
    >>> operator = np.tile([0, 0, 1, 1], 3)
    >>> value = np.array([1.0, 1.1, 1.0, 1.1, 2.0, 2.1, 2.0, 2.1, 3.0, 3.1, 3.0, 3.1])
    >>> round(crossed_study(value, part=part, operator=operator).repeatability, 4)
    0.0612
    """
    cells, sums, squares = _cells(value, part, operator)
    parts, operators = cells.shape
    repeats = int(cells[0, 0])
    full = _crossed_anova(sums, squares, repeats)
    pooled = full[2].p is not None and full[2].p > DROP_INTERACTION_ABOVE
    full_components = _crossed_components(full, parts, operators, repeats)
    notes = list(_negative_notes(full_components))
    anova, components = full, full_components
    if pooled:
        anova = _without_interaction(full)
        components = _crossed_components(anova, parts, operators, repeats)
        notes.append(f"The interaction cannot be told from repeatability (chance {full[2].p:.2f}); the two are pooled.")
        notes += [note for note in _negative_notes(components) if note not in notes]
    method = "analysis of variance, interaction pooled" if pooled else "analysis of variance with interaction"
    return _study(method, anova, components, full_components, tolerance, tuple(notes))


def range_study(
    value: Array, *, part: Codes, operator: Codes, factors: tuple[float, float, float], tolerance: float | None = None
) -> CrossedStudy:
    """Crossed gauge study by averages and ranges, the hand method.

    Parameters
    ----------
    value, part, operator
        As for `crossed_study`.
    factors : three floats [1]
        K1, K2, K3: one over the expected range of as many values as repeats, operators and parts. `range_factor`
        gives them.
    tolerance : float or None [unit of the values]
        Width of the tolerance the gauge is judged against.

    Returns
    -------
    CrossedStudy
        Without an analysis of variance.

    Notes
    -----
    EV = R̄ K1; AV = √((x̄diff K2)² − EV²/(p r)), zero when that is negative; PV = Rp K3 [1]_.

    References
    ----------
    .. [1] Automotive MSA reference manual, 4th ed. 2010, chapter III (formulas from memory).

    Examples
    --------
    >>> part, operator = np.repeat([0, 1], 4), np.tile([0, 0, 1, 1], 2)
    >>> value = np.array([1.0, 1.1, 1.0, 1.1, 2.0, 2.1, 2.0, 2.1])
    >>> round(range_study(value, part=part, operator=operator, factors=(0.8862, 0.7071, 0.7071)).repeatability, 5)
    0.08862
    """
    cells, _, _ = _cells(value, part, operator)
    repeats = int(cells[0, 0])
    order = np.lexsort((operator, part))
    grouped = value[order].reshape(*cells.shape, repeats)
    equipment = float(np.ptp(grouped, axis=2).mean()) * factors[0]
    between = float(np.ptp(grouped.mean(axis=(0, 2)))) * factors[1]
    operator_variance = between**2 - equipment**2 / (cells.shape[0] * repeats)
    notes = () if operator_variance >= 0.0 else ("The operators' variance comes out below zero and is taken as zero.",)
    components = StudyComponents(
        part=(float(np.ptp(grouped.mean(axis=(1, 2)))) * factors[2]) ** 2,
        operator=operator_variance,
        interaction=0.0,
        repeatability=equipment**2,
    )
    return _study("averages and ranges", (), components, None, tolerance, notes)


def nested_components(
    value: Array, levels: Sequence[tuple[str, Codes]]
) -> tuple[dict[str, float], tuple[AnovaRow, ...]]:
    """Variance components of a balanced nested study, outermost level first, `residual` last.

    Parameters
    ----------
    value : float array, shape (n,) [unit of the values]
        Readings.
    levels : sequence of (name, int array of shape (n,))
        Codes of each level, from the outermost; codes count inside the level above.

    Returns
    -------
    (dict, tuple of AnovaRow)
        Variances by level, negative where they come out so, and the analysis of variance.

    Raises
    ------
    BadInput
        Unequal numbers of readings inside a level, with the group named.

    Notes
    -----
    The mean square of a level less that of the level below, divided by the number of readings in one group of the
    level [1]_.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, section 3.5.1.4.

    Examples
    --------
    >>> wafer = np.repeat([0, 1], 4)
    >>> day = np.tile([0, 0, 1, 1], 2)
    >>> value = np.array([1.0, 1.2, 1.1, 1.3, 2.0, 2.2, 2.1, 2.3])
    >>> components, _ = nested_components(value, (("wafer", wafer), ("day", day)))
    >>> round(components["residual"], 3)
    0.02
    """
    means, group = [np.full(1, value.mean())], np.zeros(value.size, dtype=np.intp)
    parents, sizes, names = [], [value.size], []
    for name, codes in levels:
        combined, inner = np.unique(np.stack((group, codes)), axis=1, return_inverse=True)
        inner = inner.reshape(-1)
        counts = np.bincount(inner)
        _need_equal(name, counts, combined[1])
        means.append(np.bincount(inner, weights=value) / counts)
        parents.append(combined[0])
        sizes.append(int(counts[0]))
        names.append(name)
        group = inner
    return _nested_table(value, means, parents, sizes, names, group)


def range_factor(count: int) -> float:
    """One over the expected range d2 of so many standard normal values.

    Parameters
    ----------
    count : int
        Number of values, at least 2.

    Returns
    -------
    float [1]

    Notes
    -----
    d2(n) = ∫ 1 − Φ(x)ⁿ − (1 − Φ(x))ⁿ dx [1]_.

    References
    ----------
    .. [1] L. H. C. Tippett, Biometrika 17 (1925) 364-387, doi:10.1093/biomet/17.3-4.364 (from memory).

    Examples
    --------
    >>> round(range_factor(2), 4)
    0.8862
    """
    if count < 2:
        raise OutOfValidRange("count", count, "at least 2")
    x = np.linspace(-9.0, 9.0, 3601)
    below = 0.5 * np.vectorize(math.erfc)(-x / math.sqrt(2.0))
    return float(1.0 / np.trapezoid(1.0 - below**count - (1.0 - below) ** count, x))


# ----------------------------------------------------------------------------------------------------------------------


def _cells(value: Array, part: Codes, operator: Codes) -> tuple[NDArray[np.intp], Array, float]:
    parts, operators = int(part.max()) + 1, int(operator.max()) + 1
    for name, count in (("number of parts", parts), ("number of operators", operators)):
        if count < 2:
            raise OutOfValidRange(name, count, "at least 2")
    place = part * operators + operator
    cells = np.bincount(place, minlength=parts * operators).reshape(parts, operators)
    usual = int(np.bincount(cells.ravel()).argmax())
    faults = [
        Fault(sentence=f"Part {row + 1}, operator {column + 1}: {cells[row, column]} readings; expected {usual}.")
        for row, column in np.argwhere(cells != usual)
    ]
    if faults:
        raise BadInput(faults, subject="The study")
    if usual < 2:
        raise OutOfValidRange("number of repeats", usual, "at least 2", "Let each operator read each part again.")
    centred = value - value.mean()
    sums = np.bincount(place, weights=centred, minlength=parts * operators).reshape(parts, operators)
    return cells, np.asarray(sums, dtype=np.float64), float(centred @ centred)


def _crossed_anova(sums: Array, total: float, repeats: int) -> tuple[AnovaRow, ...]:
    parts, operators = sums.shape
    ss_part = float((sums.sum(axis=1) ** 2).sum()) / (operators * repeats)
    ss_operator = float((sums.sum(axis=0) ** 2).sum()) / (parts * repeats)
    ss_cells = float((sums**2).sum()) / repeats
    squares = (ss_part, ss_operator, ss_cells - ss_part - ss_operator, total - ss_cells)
    degrees = (parts - 1, operators - 1, (parts - 1) * (operators - 1), parts * operators * (repeats - 1))
    against = (2, 2, 3, None)
    return _rows(("part", "operator", "interaction", "repeatability"), degrees, squares, against)


def _without_interaction(full: tuple[AnovaRow, ...]) -> tuple[AnovaRow, ...]:
    part, operator, interaction, repeatability = full
    degrees = (
        part.degrees_of_freedom,
        operator.degrees_of_freedom,
        interaction.degrees_of_freedom + repeatability.degrees_of_freedom,
    )
    squares = (part.sum_of_squares, operator.sum_of_squares, interaction.sum_of_squares + repeatability.sum_of_squares)
    return _rows(("part", "operator", "repeatability"), degrees, squares, (2, 2, None))


def _rows(
    sources: Sequence[str], degrees: Sequence[int], squares: Sequence[float], against: Sequence[int | None]
) -> tuple[AnovaRow, ...]:
    means = [square / df for square, df in zip(squares, degrees, strict=True)]
    rows = []
    for source, df, square, mean, other in zip(sources, degrees, squares, means, against, strict=True):
        ratio = mean / means[other] if other is not None and means[other] > 0.0 else None
        chance = f_tail(ratio, df, degrees[other]) if ratio is not None and other is not None else None
        rows.append(
            AnovaRow(source=source, degrees_of_freedom=df, sum_of_squares=square, mean_square=mean, f=ratio, p=chance)
        )
    return tuple(rows)


def _crossed_components(rows: tuple[AnovaRow, ...], parts: int, operators: int, repeats: int) -> StudyComponents:
    mean = {row.source: row.mean_square for row in rows}
    below = mean.get("interaction", mean["repeatability"])
    return StudyComponents(
        part=(mean["part"] - below) / (operators * repeats),
        operator=(mean["operator"] - below) / (parts * repeats),
        interaction=(mean["interaction"] - mean["repeatability"]) / repeats if "interaction" in mean else 0.0,
        repeatability=mean["repeatability"],
    )


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


def _study(
    method: str,
    anova: tuple[AnovaRow, ...],
    components: StudyComponents,
    full: StudyComponents | None,
    tolerance: float | None,
    notes: tuple[str, ...],
) -> CrossedStudy:
    reproducibility = max(0.0, components.operator) + max(0.0, components.interaction)
    gauge = components.repeatability + reproducibility
    part = max(0.0, components.part)
    total = math.sqrt(gauge + part)
    return CrossedStudy(
        method=method,
        anova=anova,
        components=components,
        full_components=full,
        repeatability=math.sqrt(components.repeatability),
        reproducibility=math.sqrt(reproducibility),
        gauge=math.sqrt(gauge),
        part=math.sqrt(part),
        total=total,
        share_of_total=math.sqrt(gauge) / total if total > 0.0 else 0.0,
        share_of_tolerance=SPREAD_FACTOR * math.sqrt(gauge) / tolerance if tolerance else None,
        distinct_categories=DISTINCT_FACTOR * math.sqrt(part / gauge) if gauge > 0.0 else math.inf,
        notes=notes,
    )


def _need_equal(name: str, counts: NDArray[np.intp], codes: NDArray[np.intp]) -> None:
    usual = int(np.bincount(counts).argmax())
    faults = [
        Fault(sentence=f"Level {name!r}, group {codes[place]}: {counts[place]} readings; expected {usual}.", field=name)
        for place in np.flatnonzero(counts != usual)
    ]
    if faults:
        raise BadInput(faults, subject="The study")


def _nested_table(
    value: Array, means: list[Array], parents: list[NDArray[np.intp]], sizes: list[int], names: list[str], group: Codes
) -> tuple[dict[str, float], tuple[AnovaRow, ...]]:
    squares, degrees = [], []
    for level, parent in enumerate(parents):
        squares.append(sizes[level + 1] * float(((means[level + 1] - means[level][parent]) ** 2).sum()))
        degrees.append(means[level + 1].size - means[level].size)
    squares.append(float(((value - means[-1][group]) ** 2).sum()))
    degrees.append(value.size - means[-1].size)
    against: list[int | None] = [*range(1, len(degrees)), None]
    rows = _rows([*names, "residual"], degrees, squares, against)
    components = {
        name: (rows[level].mean_square - rows[level + 1].mean_square) / sizes[level + 1]
        for level, name in enumerate(names)
    }
    components["residual"] = rows[-1].mean_square
    return components, rows
