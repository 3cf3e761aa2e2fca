"""Least-squares fits that keep the digits the data have: scaled columns, orthogonal factors, one refinement.

Plain powers of x are nearly alike and lose every digit at degree ten; a polynomial is therefore fitted in x scaled to
−1 … 1 and turned back at the end. A fit that the data cannot carry is refused, not answered.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, ShapeMismatch

Array = NDArray[np.float64]

_LEAST_INDEPENDENT = 1e-12  # smallest over largest singular value of the scaled columns


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Coefficients with their standard deviations, residual standard deviation, R², F (None without a constant)."""

    coefficients: Array
    deviations: Array
    residual_deviation: float
    degrees_of_freedom: int
    r_squared: float
    f: float | None
    residuals: Array


def linear_fit(columns: Array, response: Array, *, with_constant: bool = True) -> Fit:
    """Least squares of a response on columns.

    Parameters
    ----------
    columns : float array, shape (n, p) [unit of each column]
        One column for each term.
    response : float array, shape (n,) [unit of the values]
        What is explained.
    with_constant : bool
        Whether a constant is fitted, too; it is then the first coefficient.

    Returns
    -------
    Fit

    Raises
    ------
    ShapeMismatch
        Columns and response differ in length.
    OutOfValidRange
        Fewer points than terms, a value that is not finite, or a column that follows from the others.

    Notes
    -----
    With a constant the columns are centred, which takes the largest common part out before anything is squared.

    References
    ----------
    .. [1] NIST Statistical Reference Datasets, linear regression. Key ``nist_strd``.

    Examples
    --------
    >>> fit = linear_fit(np.array([[0.0], [1.0], [2.0], [3.0]]), np.array([1.0, 3.0, 5.0, 7.1]))
    >>> fit.coefficients.round(3).tolist()
    [0.98, 2.03]
    """
    _need_fit(columns, response, columns.shape[1] + with_constant)
    middle = columns.mean(axis=0) if with_constant else np.zeros(columns.shape[1])
    shift = float(response.mean()) if with_constant else 0.0
    slopes, inverse, residuals = _solved(columns - middle, response - shift)
    degrees = response.size - columns.shape[1] - with_constant
    variance = float(residuals @ residuals) / degrees if degrees else math.nan
    covariance = variance * inverse
    coefficients, deviations = slopes, np.sqrt(np.diag(covariance))
    if with_constant:
        constant = shift - float(middle @ slopes)
        at_zero = math.sqrt(variance / response.size + float(middle @ covariance @ middle))
        coefficients = np.concatenate(([constant], coefficients))
        deviations = np.concatenate(([at_zero], deviations))
    return _fit(coefficients, deviations, residuals, response - shift, degrees, columns.shape[1], tested=with_constant)


def polynomial_fit(x: Array, response: Array, *, degree: int) -> Fit:
    """Least-squares polynomial, coefficients from the constant upwards.

    Parameters
    ----------
    x : float array, shape (n,) [unit of x]
        Where.
    response : float array, shape (n,) [unit of the values]
        What is explained.
    degree : int [1]
        Highest power, from 1.

    Returns
    -------
    Fit

    Raises
    ------
    ShapeMismatch
        The two arrays differ in length.
    OutOfValidRange
        A degree below one, fewer points than terms, a value that is not finite, or too few different x.

    Notes
    -----
    Fitted in Legendre polynomials of x scaled to −1 … 1, which are nearly independent of each other.

    References
    ----------
    .. [1] NIST Statistical Reference Datasets, linear regression, sets Norris and Filip. Key ``nist_strd``.

    Examples
    --------
    >>> x = np.array([0.0, 1.0, 2.0, 3.0])
    >>> polynomial_fit(x, 1.0 + 2.0 * x**2, degree=2).coefficients.round(9).tolist()
    [1.0, 0.0, 2.0]
    """
    if degree < 1:
        raise OutOfValidRange("degree", degree, "at least 1")
    _need_fit(x[:, None] if x.ndim == 1 else x, response, degree + 1)
    low, high = float(x.min()), float(x.max())
    if np.unique(x).size <= degree:
        raise OutOfValidRange("number of different x", np.unique(x).size, f"more than the degree, {degree}")
    scaled = (2.0 * x - (high + low)) / (high - low)
    table = np.asarray(np.polynomial.legendre.legvander(scaled, degree), dtype=np.float64)
    slopes, inverse, residuals = _solved(table, response)
    degrees = response.size - degree - 1
    variance = float(residuals @ residuals) / degrees if degrees else math.nan
    turn = _powers_of_x(degree, low, high)
    return _fit(
        turn @ slopes, np.sqrt(np.diag(turn @ (variance * inverse) @ turn.T)), residuals, response - response.mean(),
        degrees, degree, tested=True,
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _need_fit(columns: Array, response: Array, terms: int) -> None:
    if columns.shape[0] != response.shape[0]:
        raise ShapeMismatch(columns=columns.shape, response=response.shape)
    if response.size < terms:
        raise OutOfValidRange("number of points", response.size, f"at least the number of terms, {terms}")
    if not (np.all(np.isfinite(columns)) and np.all(np.isfinite(response))):
        raise OutOfValidRange("a point", math.nan, "a finite number", "Leave out points that were not measured.")


def _solved(table: Array, response: Array) -> tuple[Array, Array, Array]:
    """Coefficients, (XᵀX)⁻¹ and residuals, by orthogonal factors of columns scaled to one length."""
    lengths = np.sqrt((table**2).sum(axis=0))
    if not np.all(lengths > 0.0):
        raise OutOfValidRange("spread of a column", 0.0, "above zero", "Leave out the column that never changes.")
    orthogonal, triangle = np.linalg.qr(table / lengths)
    sizes = np.linalg.svd(triangle, compute_uv=False)
    if sizes[-1] < _LEAST_INDEPENDENT * sizes[0]:
        advice = "One column follows from the others; leave it out or lower the degree."
        raise OutOfValidRange("independence of the columns", float(sizes[-1] / sizes[0]), "above 1e-12", advice)
    back = np.linalg.inv(triangle) / lengths[:, None]
    found = back @ (orthogonal.T @ response)
    wide, wide_response = table.astype(np.longdouble), response.astype(np.longdouble)
    for _ in range(2):  # refine: residuals in the widest arithmetic there is, corrections in plain
        left = np.asarray(wide_response - wide @ found.astype(np.longdouble), dtype=np.float64)
        found = found + back @ (orthogonal.T @ left)
    residuals = np.asarray(wide_response - wide @ found.astype(np.longdouble), dtype=np.float64)
    return found, back @ back.T, residuals


def _powers_of_x(degree: int, low: float, high: float) -> Array:
    """Matrix that turns coefficients of Legendre polynomials of the scaled x into those of powers of x."""
    turn = np.zeros((degree + 1, degree + 1))
    for power in range(degree + 1):
        basis = np.polynomial.Legendre.basis(power, domain=[low, high])
        plain = basis.convert(kind=np.polynomial.Polynomial, domain=[-1.0, 1.0], window=[-1.0, 1.0]).coef
        turn[: plain.size, power] = plain
    return turn


def _fit(
    coefficients: Array, deviations: Array, residuals: Array, centred: Array, degrees: int, terms: int, *, tested: bool
) -> Fit:
    left, whole = float(residuals @ residuals), float(centred @ centred)
    explained = max(0.0, whole - left)
    return Fit(
        coefficients=coefficients,
        deviations=deviations,
        residual_deviation=math.sqrt(left / degrees) if degrees else math.nan,
        degrees_of_freedom=degrees,
        r_squared=explained / whole if whole > 0.0 else math.nan,
        f=(explained / terms) / (left / degrees) if tested and degrees and left > 0.0 else None,
        residuals=residuals,
    )
