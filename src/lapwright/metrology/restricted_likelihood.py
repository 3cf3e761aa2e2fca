"""Variance components by restricted maximum likelihood (REML), for studies whose groups differ in size.

Readings are condensed to the means of their innermost cells first, so that the work grows with the number of cells,
not of readings. Variances are held at zero or more: one that wants to go below stays at zero and is named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import DidNotConverge, OutOfValidRange

Array = NDArray[np.float64]
Codes = NDArray[np.intp]

MOST_CELLS = 1500  # the work grows with the third power
_STEPS = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class RestrictedComponents:
    """Variances by level, `residual` last, with standard errors (None where one is held at zero)."""

    components: dict[str, float]
    standard_errors: dict[str, float | None]
    at_zero: tuple[str, ...]


def restricted_components(
    value: Array, *, levels: Sequence[tuple[str, Codes]], crossed: bool = False
) -> RestrictedComponents:
    r"""Variance components of random levels, nested in each other or crossed, by restricted likelihood.

    Parameters
    ----------
    value : float array, shape (n,) [unit of the values]
        Readings.
    levels : sequence of (name, int array of shape (n,))
        Codes of each level. Nested: from the outermost, codes count inside the level above. Crossed: each level alone
        and their combination, named ``interaction``.
    crossed : bool
        Whether the levels are crossed.

    Returns
    -------
    RestrictedComponents

    Raises
    ------
    OutOfValidRange
        More cells than can be handled, or no cell that was read twice.
    DidNotConverge
        The likelihood has no maximum that can be found.

    Notes
    -----
    With cell means :math:`m \sim N(\mu 1, W)`, :math:`W = \sum_k \sigma_k^2 A_k + \sigma^2 \mathrm{diag}(1/n_c)`:

    .. math:: -2\ell = (n - C)\ln\sigma^2 + S_w/\sigma^2 + \ln|W| + \ln(1^T W^{-1} 1) + m^T P m

    maximised with its exact gradient. For equal cells and estimates above zero this is the analysis of variance.
    Standard errors from the expected information.

    References
    ----------
    .. [1] H. D. Patterson, R. Thompson, Biometrika 58 (1971) 545. Key ``patterson1971``.

    Examples
    --------
    >>> day = np.repeat([0, 1, 2], [3, 2, 3])
    >>> found = restricted_components(np.array([1.0, 1.2, 1.1, 2.0, 2.1, 3.0, 3.2, 3.1]), levels=(("day", day),))
    >>> round(found.components["residual"], 3), round(found.components["day"], 2)
    (0.009, 1.0)
    """
    names, groups, cell = _groupings(levels, crossed=crossed)
    counts = np.bincount(cell)
    _need_cells(counts, value.size)
    scale = float(value.std()) or 1.0
    centred = (value - value.mean()) / scale
    means = np.bincount(cell, weights=centred) / counts
    within = centred - means[cell]
    problem = _Problem(
        means=means,
        parts=[(group[:, None] == group[None, :]).astype(np.float64) for group in groups] + [np.diag(1.0 / counts)],
        within=float(within @ within),
        within_degrees=value.size - counts.size,
    )
    found = _maximum(problem, len(names) + 1)
    labels = [*names, "residual"]
    information = problem.information(found)
    free = np.flatnonzero(found > 1e-10)
    errors = dict.fromkeys(labels, None) | _errors(information, free, labels, scale)
    return RestrictedComponents(
        components={label: float(one) * scale**2 for label, one in zip(labels, found, strict=True)},
        standard_errors=errors,
        at_zero=tuple(labels[k] for k in range(len(labels)) if k not in free),
    )


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Problem:
    means: Array
    parts: list[Array]
    within: float
    within_degrees: int

    def loss_and_slope(self, variances: Array) -> tuple[float, Array]:
        """Minus twice the restricted log-likelihood, and its gradient."""
        residual = max(float(variances[-1]), 1e-300)
        projection, log_volume = self._projection(variances)
        fitted = projection @ self.means
        loss = self.within_degrees * np.log(residual) + self.within / residual + log_volume + self.means @ fitted
        slope = np.array([np.sum(projection * part) - fitted @ part @ fitted for part in self.parts])
        slope[-1] += self.within_degrees / residual - self.within / residual**2
        return float(loss), slope

    def information(self, variances: Array) -> Array:
        projection, _ = self._projection(variances)
        seen = [projection @ part for part in self.parts]
        table = np.array([[0.5 * np.sum(one * other.T) for other in seen] for one in seen])
        table[-1, -1] += 0.5 * self.within_degrees / float(variances[-1]) ** 2
        return table

    def _projection(self, variances: Array) -> tuple[Array, float]:
        spread = sum(
            (one * part for one, part in zip(variances, self.parts, strict=True)), np.zeros_like(self.parts[0])
        )
        root = np.linalg.cholesky(spread)
        inverse = np.linalg.inv(spread)
        ones = inverse.sum(axis=1)
        total = float(ones.sum())
        return inverse - np.outer(ones, ones) / total, float(2.0 * np.log(np.diag(root)).sum() + np.log(total))


def _groupings(levels: Sequence[tuple[str, Codes]], *, crossed: bool) -> tuple[list[str], list[Codes], Codes]:
    """Names, the group of each cell at each level, and the cell of each reading."""
    all_codes = np.stack([codes for _, codes in levels])
    combined, cell = np.unique(all_codes, axis=1, return_inverse=True)
    names = [name for name, _ in levels]
    if crossed:
        groups = [*combined, np.arange(combined.shape[1])]
        return [*names, "interaction"], groups, cell.reshape(-1)
    groups = [
        np.unique(combined[: level + 1], axis=1, return_inverse=True)[1].reshape(-1) for level in range(len(names))
    ]
    return names, groups, cell.reshape(-1)


def _need_cells(counts: NDArray[np.intp], readings: int) -> None:
    if counts.size > MOST_CELLS:
        advice = "Leave out whole parts until all cells are equal; equal cells have no such bound."
        raise OutOfValidRange("number of unequal cells", counts.size, f"at most {MOST_CELLS}", advice)
    if readings == counts.size:
        raise OutOfValidRange("number of repeats", 1, "at least 2 in some cell", "Read some of them again.")


def _maximum(problem: _Problem, count: int) -> Array:
    from scipy.optimize import minimize

    start = np.full(count, 1.0 / count)
    start[-1] = max(problem.within / problem.within_degrees, 1e-6)
    bounds = [(0.0, None)] * (count - 1) + [(1e-14, None)]
    found = minimize(problem.loss_and_slope, start, jac=True, bounds=bounds, method="L-BFGS-B",
                     options={"maxiter": _STEPS, "ftol": 1e-15, "gtol": 1e-9})  # fmt: skip
    slope = problem.loss_and_slope(found.x)[1]
    free = found.x > 1e-10
    if np.max(np.abs(slope[free] * found.x[free]), initial=0.0) > 1e-3:
        raise DidNotConverge("The restricted likelihood", steps=int(found.nit), last=float(np.max(np.abs(slope))))
    return np.asarray(found.x, dtype=np.float64)


def _errors(information: Array, free: NDArray[np.intp], labels: list[str], scale: float) -> dict[str, float | None]:
    table = np.linalg.pinv(information[np.ix_(free, free)])
    return {labels[k]: float(np.sqrt(max(0.0, table[i, i]))) * scale**2 for i, k in enumerate(free)}
