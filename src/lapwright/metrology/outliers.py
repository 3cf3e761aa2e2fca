"""Sites that do not fit the rest: dust, a misread digit, repeats that disagree. Named, never dropped."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.metrology.distributions import f_tail, student_t_quantile
from lapwright.metrology.surface_fit import SurfaceFit, fitted_surface

#: Chance that a faultless set has any site named: by its place off the surface, and by repeats that disagree.
#: Together below 2 in 100.
FALSE_ALARM_SURFACE = 0.01
FALSE_ALARM_REPEATS = 0.005
#: The same against the scatter of the other sites about the surface, which holds real form as well.
FALSE_ALARM_FORM = 0.04
#: A site with more leverage than this decides alone about a term: the centre inside a single ring decides the dome.
_DECIDES_ALONE = 0.9
_ROUNDING = 1e-12  # m; what is less than this off is rounding of the numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlier:
    """A suspect site: its label, how far it lies off what the others say [m], and why it is named."""

    label: str
    deviation: float
    reason: str


def surface_outliers(
    labels: tuple[str, ...],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    thickness: NDArray[np.float64],
    *,
    noise: NDArray[np.float64] | None,
    degrees_of_freedom: float,
    reach: float,
    largest_dome: float = 3e-6,
) -> tuple[Outlier, ...]:
    """Sites that lie off the surface through all the others by more than noise and form explain.

    Parameters
    ----------
    labels : tuple of str, length n
        Names of the sites.
    x, y : float arrays, shape (n,) [m]
        Sites in the wafer frame.
    thickness : float array, shape (n,) [m]
        Site means, no NaN.
    noise : float array, shape (n,), or None [m]
        Standard deviation of each site mean; None when unknown.
    degrees_of_freedom : float [1]
        Of the noise.
    reach : float [m]
        Radius of the outline, or its furthest corner.
    largest_dome : float [m]
        Largest deviation of the centre inside a single ring that is taken for a dome. Common practice, no source.

    Returns
    -------
    tuple of Outlier
        The furthest off first; empty when nothing is suspect or too few sites are left to tell.

    Notes
    -----
    Each site is compared with the plane and dome through the others (leave one out). It is named when it is off by
    more than the noise allows *and* by more than the others scatter about their surface; both limits are Student t
    quantiles shared among the n sites. Where one site alone decides about the dome it is compared with the plane, and
    must be off by more than `largest_dome` too: dust under the centre and a dome look alike there.

    References
    ----------
    .. [1] R. D. Cook, S. Weisberg, Residuals and Influence in Regression, 1982, section 2.2 (externally studentised
       residuals; from memory). Key ``cook1982``.

    Examples
    --------
    >>> angle = np.arange(8) * np.pi / 4
    >>> x, y = np.append(0.0, 0.045 * np.cos(angle)), np.append(0.0, 0.045 * np.sin(angle))
    >>> thickness = np.full(9, 5e-4)
    >>> thickness[3] += 5e-6
    >>> found = surface_outliers(tuple("CABDEFGHI"), x, y, thickness, noise=np.full(9, 2e-7),
    ...                          degrees_of_freedom=18.0, reach=0.05)
    >>> [(one.label, round(one.deviation * 1e6, 2)) for one in found]
    [('D', 5.0)]
    """
    with_dome = fitted_surface(x, y, thickness, surface="dome", reach=reach)
    plane = fitted_surface(x, y, thickness, surface="plane", reach=reach)
    usual = with_dome if with_dome is not None else plane
    if usual is None or plane is None:
        return ()
    deviation, limit = _left_out(usual, noise, degrees_of_freedom)
    by_plane, plane_limit = _left_out(plane, noise, degrees_of_freedom)
    decides_dome = usual.leverage > _DECIDES_ALONE if with_dome is not None else np.zeros(len(labels), dtype=bool)
    deviation = np.where(decides_dome, by_plane, deviation)
    limit = np.where(decides_dome, np.maximum(plane_limit, largest_dome), limit)
    found = [
        Outlier(
            label=labels[i],
            deviation=float(deviation[i]),
            reason=_reason(float(deviation[i]), float(limit[i]), decides_dome=bool(decides_dome[i])),
        )
        for i in np.flatnonzero(np.abs(deviation) > np.maximum(limit, _ROUNDING))
    ]
    return tuple(sorted(found, key=lambda one: -abs(one.deviation)))


def repeat_outliers(
    labels: tuple[str, ...], *, repeats: NDArray[np.intp], variances: NDArray[np.float64]
) -> tuple[Outlier, ...]:
    """Sites whose repeats disagree more than those of all other sites.

    Parameters
    ----------
    labels : tuple of str, length n
        Names of the sites.
    repeats : int array, shape (n,) [1]
        Readings at each site.
    variances : float array, shape (n,) [m2]
        Variance of the readings at each site; NaN where there is one only.

    Returns
    -------
    tuple of Outlier
        `deviation` is the standard deviation of the repeats at that site.

    Notes
    -----
    Ratio of the variance of one site to the pooled variance of the others, against Fisher's F, shared among n sites.

    Examples
    --------
    >>> spread = np.array([0.1, 0.12, 25.0, 0.09, 0.11]) * 1e-12
    >>> [one.label for one in repeat_outliers(tuple("abcde"), repeats=np.full(5, 3), variances=spread)]
    ['c']
    """
    degrees = np.where(np.isfinite(variances), repeats - 1, 0)
    squares = np.nan_to_num(variances) * degrees
    found = []
    for i, label in enumerate(labels):
        others = int(degrees.sum() - degrees[i])
        pooled = float(squares.sum() - squares[i]) / others if others else 0.0
        if degrees[i] < 1 or others < 2 or variances[i] <= 0.0:
            continue
        chance = f_tail(float(variances[i]) / pooled, float(degrees[i]), float(others)) if pooled > 0.0 else 0.0
        if chance < FALSE_ALARM_REPEATS / len(labels):
            spread = math.sqrt(float(variances[i]))
            reason = (
                f"its repeats scatter by {1e6 * spread:.2f} µm, those of the other sites by "
                f"{1e6 * math.sqrt(pooled):.2f} µm; lift the piece, wipe it and the stand, and read the site again"
            )
            found.append(Outlier(label=label, deviation=spread, reason=reason))
    return tuple(found)


# ----------------------------------------------------------------------------------------------------------------------


def _left_out(
    fit: SurfaceFit, noise: NDArray[np.float64] | None, noise_degrees: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Deviation of each site from the surface through the others, and the largest that is still explained.

    The limit is infinite where the others cannot say.
    """
    sites, others = len(fit.residuals), fit.degrees_of_freedom - 1
    decides = fit.leverage > _DECIDES_ALONE
    if others < 1:
        return np.zeros(sites), np.full(sites, np.inf)
    freed = np.where(decides, 1.0, 1.0 - fit.leverage)
    squares = np.maximum(0.0, np.sum(fit.residuals**2) - fit.residuals**2 / freed)
    form = np.sqrt(squares / others)
    if noise is None:
        limit = form * student_t_quantile(1.0 - FALSE_ALARM_SURFACE / (2 * sites), others)
    else:
        by_noise = noise * student_t_quantile(1.0 - FALSE_ALARM_SURFACE / (2 * sites), noise_degrees)
        limit = np.maximum(by_noise, form * student_t_quantile(1.0 - FALSE_ALARM_FORM / (2 * sites), others))
    return fit.residuals / freed, np.where(decides, np.inf, limit / np.sqrt(freed))


def _reason(deviation: float, limit: float, *, decides_dome: bool) -> str:
    side = "above" if deviation > 0.0 else "below"
    off = f"reads {1e6 * abs(deviation):.2f} µm {side} what the other sites say (explained: {1e6 * limit:.2f} µm)"
    if decides_dome:
        return f"{off}; with a single ring of sites a dome looks the same: turn the piece and read it again"
    return f"{off}; dust or a misread digit: turn the piece and read it again"
