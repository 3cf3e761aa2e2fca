"""Variance components of nested studies: days in wafers, repeats in days; and of studies given by means and deviations.

Equal groups by analysis of variance, estimates below zero left as they come out; unequal groups by restricted
likelihood. Crossed studies: `gauge_study`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.metrology.component_intervals import (
    ComponentInterval,
    difference_interval,
    mean_square_interval,
    satterthwaite_interval,
)
from lapwright.metrology.gauge_study import AnovaRow, anova_rows
from lapwright.metrology.restricted_likelihood import restricted_components

Array = NDArray[np.float64]
Codes = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class NestedStudy:
    """A nested study: variances by level, outermost first and `residual` last, negative where they come out so."""

    method: str
    components: dict[str, float]
    intervals: dict[str, ComponentInterval]
    anova: tuple[AnovaRow, ...]
    mean: float
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelDeviation:
    """Pooled standard deviation at one level of a study, its degrees of freedom, and the level's own variance.

    `component` is what this level adds beyond the levels below it; negative where it comes out so.
    """

    name: str
    deviation: float
    degrees_of_freedom: int
    component: float


def nested_study(value: Array, *, levels: Sequence[tuple[str, Codes]], probability: float = 0.95) -> NestedStudy:
    """Variance components of a nested study.

    Parameters
    ----------
    value : float array, shape (n,) [unit of the values]
        Readings.
    levels : sequence of (name, int array of shape (n,))
        Codes of each level, from the outermost; codes count inside the level above.
    probability : float [1]
        Of the intervals of the variances.

    Returns
    -------
    NestedStudy

    Raises
    ------
    OutOfValidRange
        A level with one group only, no repeats in the innermost group, or a value that is not finite.
    DidNotConverge
        Unequal groups from which restricted likelihood finds no answer.

    Notes
    -----
    The mean square of a level less that of the level below, divided by the number of readings in one group of the
    level [1]_. One level is a one-way analysis of variance. Values are shifted to their mean first, which keeps the
    digits that the data have.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, section 3.5.1.4. Key ``nist_handbook``.

    Examples
    --------
    >>> wafer = np.repeat([0, 1], 4)
    >>> day = np.tile([0, 0, 1, 1], 2)
    >>> value = np.array([1.0, 1.2, 1.1, 1.3, 2.0, 2.2, 2.1, 2.3])
    >>> round(nested_study(value, levels=(("wafer", wafer), ("day", day))).components["residual"], 3)
    0.02
    """
    _need_values(value, levels)
    groups, parents = _nested_groups(levels)
    counts = [np.bincount(group) for group in groups]
    if any(np.ptp(count) > 0 for count in counts):
        return _unequal_study(value, levels, probability)
    names = [name for name, _ in levels]
    rows, sizes = _nested_table(value, groups, parents, counts, names)
    components = {
        name: (rows[level].mean_square - rows[level + 1].mean_square) / sizes[level] for level, name in enumerate(names)
    }
    intervals = {
        name: difference_interval(_square(rows[level]), _square(rows[level + 1]), count=sizes[level],
                                  probability=probability)
        for level, name in enumerate(names)
    }  # fmt: skip
    components["residual"] = rows[-1].mean_square
    intervals["residual"] = mean_square_interval(*_square(rows[-1]), probability=probability)
    notes = tuple(f"The variance of {name} comes out below zero ({variance:.4g}); taken as zero where it is used."
                  for name, variance in components.items() if variance < 0.0)  # fmt: skip
    return NestedStudy(
        method="analysis of variance",
        components=components,
        intervals=intervals,
        anova=rows,
        mean=float(value.mean()),
        notes=notes,
    )


def pooled_deviation(deviations: Array, degrees_of_freedom: Array) -> tuple[float, float]:
    r"""One standard deviation from several, and its degrees of freedom.

    Parameters
    ----------
    deviations : float array, shape (n,) [unit of the values]
        Standard deviations of the same scatter.
    degrees_of_freedom : float array, shape (n,) [1]
        Of each.

    Returns
    -------
    (float, float)

    Raises
    ------
    ShapeMismatch
        The two arrays differ in shape.

    Notes
    -----
    .. math:: s^2 = \sum \nu_i s_i^2 \Big/ \sum \nu_i

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, section 2.4.4.4. Key ``nist_handbook``.

    Examples
    --------
    >>> pooled_deviation(np.array([3.0, 4.0]), np.array([1.0, 1.0]))
    (3.5355339059327378, 2.0)
    """
    if deviations.shape != degrees_of_freedom.shape:
        raise ShapeMismatch(deviations=deviations.shape, degrees_of_freedom=degrees_of_freedom.shape)
    total = float(degrees_of_freedom.sum())
    return math.sqrt(float((degrees_of_freedom * deviations**2).sum()) / total), total


def summarised_study(
    average: Array, deviation: Array, *, repeats: int, levels: Sequence[tuple[str, Codes]]
) -> tuple[LevelDeviation, ...]:
    """Levels of a nested study of which each row is the mean and standard deviation of a few repeats.

    Parameters
    ----------
    average, deviation : float arrays, shape (n,) [unit of the values]
        Mean and standard deviation of the repeats behind each row.
    repeats : int [1]
        Repeats behind each row.
    levels : sequence of (name, int array of shape (n,))
        Groups from the outermost; the first holds what is not to be compared (wafers), rows in the last are the
        innermost means (days).

    Returns
    -------
    tuple of LevelDeviation
        Repeats first, then the scatter of rows in the innermost groups, and so on outwards; one fewer than levels
        plus one, since the outermost groups are not compared.

    Raises
    ------
    OutOfValidRange
        Groups that hold unequal numbers, or only one, of the level below.

    Notes
    -----
    Each level's standard deviation is that of the means below, pooled over groups; its own variance is that less the
    variance of the level below over the number of means [1]_.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, section 2.6.1. Key ``nist_handbook``.

    Examples
    --------
    >>> found = summarised_study(np.array([1.0, 1.2, 2.0, 2.2]), np.full(4, 0.1), repeats=5,
    ...                          levels=(("wafer", np.array([0, 0, 1, 1])),))
    >>> [(one.name, round(one.deviation, 4), one.degrees_of_freedom) for one in found]
    [('repeats', 0.1, 16), ('within wafer', 0.1414, 2)]
    """
    below = math.sqrt(float((deviation**2).mean()))
    found = [LevelDeviation(name="repeats", deviation=below, degrees_of_freedom=average.size * (repeats - 1),
                            component=below**2)]  # fmt: skip
    means, count, outer = average, repeats, [codes for _, codes in levels]
    for depth in range(len(levels), 0, -1):
        combined, inner = np.unique(np.stack(outer[:depth]), axis=1, return_inverse=True)
        inner = inner.reshape(-1)
        sizes = np.bincount(inner)
        if np.ptp(sizes) > 0 or sizes[0] < 2:
            raise OutOfValidRange(f"means in one group of {levels[depth - 1][0]}", int(sizes.min()), "equal, 2 or more")
        centres = np.bincount(inner, weights=means) / sizes
        above = math.sqrt(float(((means - centres[inner]) ** 2).sum()) / (means.size - centres.size))
        found.append(LevelDeviation(name=f"within {levels[depth - 1][0]}", deviation=above,
                                    degrees_of_freedom=means.size - centres.size,
                                    component=above**2 - below**2 / count))  # fmt: skip
        means, count, below, outer = centres, int(sizes[0]), above, list(combined)
    return tuple(found)


# ----------------------------------------------------------------------------------------------------------------------


def _need_values(value: Array, levels: Sequence[tuple[str, Codes]]) -> None:
    if not levels:
        raise OutOfValidRange("number of levels", 0, "at least 1")
    if not np.all(np.isfinite(value)):
        raise OutOfValidRange("a reading", math.nan, "a finite number", "Leave out readings that were not taken.")
    name, codes = levels[0]
    if value.size < 3 or np.all(codes == codes[0]):
        raise OutOfValidRange(f"number of groups of {name}", min(value.size, 1), "at least 2, with repeats in them")


def _nested_groups(levels: Sequence[tuple[str, Codes]]) -> tuple[list[Codes], list[Codes]]:
    """The group of each reading at each level, and the parent of each group."""
    group = np.zeros(levels[0][1].size, dtype=np.intp)
    groups, parents = [], []
    for _, codes in levels:
        width = int(codes.max()) + 1
        keys, inner = np.unique(group * width + codes, return_inverse=True)
        groups.append(inner)
        parents.append(keys // width)
        group = inner
    return groups, parents


def _nested_table(
    value: Array, groups: list[Codes], parents: list[Codes], counts: list[NDArray[np.intp]], names: list[str]
) -> tuple[tuple[AnovaRow, ...], list[int]]:
    centred = value - value.mean()
    above = np.array([centred.mean()])
    squares, degrees, sizes = [], [], []
    for group, parent, count in zip(groups, parents, counts, strict=True):
        means = np.bincount(group, weights=centred) / count
        step = means - above[parent]
        sizes.append(int(count[0]))
        squares.append(sizes[-1] * float(step @ step))
        degrees.append(means.size - above.size)
        above = means
    residual = centred - above[groups[-1]]
    squares.append(float(residual @ residual))
    degrees.append(value.size - above.size)
    for name, df in zip([*names, "repeats"], degrees, strict=True):
        if df < 1:
            raise OutOfValidRange(f"degrees of freedom of {name}", df, "at least 1", "Read more of them.")
    return anova_rows([*names, "residual"], degrees, squares, [*range(1, len(degrees)), None]), sizes


def _square(row: AnovaRow) -> tuple[float, float]:
    return row.mean_square, row.degrees_of_freedom


def _unequal_study(value: Array, levels: Sequence[tuple[str, Codes]], probability: float) -> NestedStudy:
    found = restricted_components(value, levels=levels)
    notes = [
        "The groups hold unequal numbers of readings: no analysis of variance; variances by restricted likelihood.",
        *(f"The variance of {name} comes out at its bound of zero." for name in found.at_zero),
    ]
    return NestedStudy(
        method="restricted likelihood",
        components=found.components,
        intervals={
            name: satterthwaite_interval(found.components[name], error, probability=probability)
            for name, error in found.standard_errors.items()
        },
        anova=(),
        mean=float(value.mean()),
        notes=tuple(notes),
    )
