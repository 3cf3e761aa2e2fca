"""From readings to thickness, TTV, wedge, dome, saddle, suspect sites, and the uncertainty of each.

TTV, minimum and maximum are those of the site means, with nothing taken out: a wedge counts in full. The wedge comes
from the plane alone, over the full diameter; the dome from plane and x2 + y2, extrapolated to the full radius, above
zero when the middle is thicker. Nothing is dropped, clipped or filled in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.metrology.outliers import Outlier, repeat_outliers, surface_outliers
from lapwright.metrology.outlines import extent, furthest_reach
from lapwright.metrology.range_bias import range_noise_bias, range_weights
from lapwright.metrology.surface_fit import Surface, SurfaceFit, fitted_surface, steepest_slope
from lapwright.metrology.thickness_notices import condition_notices, form_notices, gauge_notices, outlier_notices
from lapwright.metrology.thickness_sites import Notice, SiteMeans, site_means
from lapwright.metrology.thickness_uncertainty import Scatter, weighted_sum_budget
from lapwright.metrology.uncertainty import Budget, CombinedUncertainty, Contribution, combined_uncertainty
from lapwright.model.readings import Conditions, Gauge, ThicknessSet
from lapwright.model.wafer import WORKED_FRAME, Frame, Outline, ThicknessMap, Wedge

_AT_CENTRE = 0.02  # of the reach: a site this close to the centre is the centre


@dataclass(frozen=True, slots=True, kw_only=True)
class Saddle:
    """A saddle: how much the rim rises above the middle along its thick ridge [m], and the ridge's azimuth [rad].

    The azimuth lies from 0 to pi: a ridge has two ends. A quarter turn away the rim lies as much below the middle.
    """

    amount: float
    azimuth: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ThicknessResult:
    """What a set of readings says about one piece. SI; None where the readings cannot say, with a warning why.

    `ttv` is raw; `ttv_noise_bias` is what noise alone has added to it on average; `ttv_corrected` is the difference,
    which may be negative on a flat wafer. `ttv_uncertainty` holds for `ttv_corrected`. `residual_rms` is what plane
    and dome leave, over its degrees of freedom. `repeat_deviation` is that of a single reading; `scatter` is the one
    used, from repeats, gauge or residuals; `repeats` counts the readings at each site of `sites`.
    """

    piece: str
    n_sites: int
    n_readings: int
    mean: float
    centre: float | None
    minimum: float
    maximum: float
    ttv: float
    ttv_noise_bias: float | None
    ttv_corrected: float | None
    repeat_deviation: float | None
    repeat_degrees_of_freedom: int
    scatter: Scatter | None
    repeats: tuple[int, ...]
    wedge: Wedge | None
    wedge_angle: float | None
    wedge_vector: tuple[float, float] | None
    dome: float | None
    saddle: Saddle | None
    residual_rms: float | None
    residual_degrees_of_freedom: int
    outliers: tuple[Outlier, ...]
    sites: ThicknessMap
    mean_uncertainty: CombinedUncertainty | None
    ttv_uncertainty: CombinedUncertainty | None
    wedge_uncertainty: CombinedUncertainty | None
    dome_uncertainty: CombinedUncertainty | None
    saddle_uncertainty: CombinedUncertainty | None
    mean_budget: Budget | None
    ttv_budget: Budget | None
    wedge_budget: Budget | None
    zero_drift: float | None
    conditions: Conditions
    warnings: tuple[Notice, ...]


def thickness_statistics(
    readings: ThicknessSet,
    *,
    outline: Outline,
    edge_exclusion: float = 0.0,
    gauge: Gauge | None = None,
    allowed_drift: float | None = None,
    frame: Frame = WORKED_FRAME,
    further_contributions: tuple[Contribution, ...] = (),
    largest_dome: float = 3e-6,
) -> ThicknessResult:
    """Thickness, TTV, wedge, dome and saddle of one piece from its readings, each with its uncertainty.

    Parameters
    ----------
    readings : ThicknessSet
        All readings in the order taken, repeats included; NaN where one is missing. Lengths in m.
    outline : Round, Rectangle or Polygon
        Lengths in m.
    edge_exclusion : float [m]
        Sites inside it do not count and are named.
    gauge : Gauge, optional
        Accuracy limit, local error, resolution, repeatability.
    allowed_drift : float, optional [m]
        Largest change of zero over the set that is corrected; the gauge's limit unless given.
    frame : Frame
        How the set was taken; only carried on to the map of sites.
    further_contributions : tuple of Contribution
        Further uncertainties common to the whole set, such as that of its temperature.
    largest_dome : float [m]
        Largest deviation of the centre inside a single ring that is taken for a dome and not for dust.

    Returns
    -------
    ThicknessResult

    Raises
    ------
    BadInput
        Sites off the piece or without a place, labels used twice, thickness not above zero; all of them listed.
    SetVoid
        The zero moved by more than allowed.
    TooFewSites
        Fewer than three sites.

    Notes
    -----
    The gauge's limit is common to all readings of a set: undiminished in the mean, cancelling in TTV, wedge and dome.
    Its local error differs from site to site and enters all of them. Expanded uncertainties are for 95 %, with the
    coverage factor from effective degrees of freedom. Where neither repeats nor the gauge say how far readings
    scatter, the scatter is taken from the residuals about plane and dome, which hold real form as well; the noise
    bias of TTV is then not given. The azimuth of the wedge is None when the wedge is below its expanded uncertainty.
    The mean is that of the sites, not of the whole face: how well the sites stand for the face is not included.

    References
    ----------
    .. [1] SEMI MF533, thickness and thickness variation (from memory). Key ``semi_mf533``.
    .. [2] JCGM 100:2008. Key ``jcgm100``.

    Examples
    --------
    >>> from lapwright.model.wafer import Round
    >>> x, y = np.array([0.0, 0.045, 0.0, -0.045, 0.0]), np.array([0.0, 0.0, 0.045, 0.0, -0.045])
    >>> taken = ThicknessSet(piece="w1", labels=("C", "A1", "A2", "A3", "A4"), x=x, y=y, site=np.arange(5),
    ...                      thickness=5e-4 + 1e-4 * x)
    >>> result = thickness_statistics(taken, outline=Round(diameter=0.1))
    >>> round(result.ttv * 1e6, 6), round(result.wedge.amount * 1e6, 6), round(result.wedge.azimuth, 6)
    (9.0, 10.0, 0.0)
    """
    sites = site_means(
        readings, outline=outline, edge_exclusion=edge_exclusion, gauge=gauge, allowed_drift=allowed_drift
    )
    found = _Found(sites=sites, outline=outline, gauge=gauge, further_contributions=further_contributions)
    notices = [*sites.warnings, *condition_notices(readings.conditions), *gauge_notices(gauge, found.scatter)]
    mean_budget, mean_uncertainty = found.uncertainty(np.full(found.count, 1.0 / found.count), found.mean)
    ttv_budget, ttv_uncertainty = found.uncertainty(range_weights(sites.thickness), found.ttv)
    wedge, wedge_vector, wedge_budget, wedge_uncertainty = _wedge(found)
    dome, dome_uncertainty = _dome(found)
    saddle, saddle_uncertainty = _saddle(found)
    outliers = _outliers(found, largest_dome)
    centre = _centre(found)
    notices += form_notices(has_wedge=wedge is not None, has_dome=dome is not None, has_centre=centre is not None)
    notices += outlier_notices(outliers, spare_sites=found.count - 3)
    bias = _ttv_noise_bias(found)
    form = found.form
    return ThicknessResult(
        piece=readings.piece,
        n_sites=found.count,
        n_readings=int(sites.repeats.sum()),
        mean=found.mean,
        centre=centre,
        minimum=float(sites.thickness.min()),
        maximum=float(sites.thickness.max()),
        ttv=found.ttv,
        ttv_noise_bias=bias,
        ttv_corrected=None if bias is None else found.ttv - bias,
        repeat_deviation=sites.repeat_deviation,
        repeat_degrees_of_freedom=sites.repeat_degrees_of_freedom,
        scatter=found.scatter,
        repeats=tuple(int(m) for m in sites.repeats),
        wedge=wedge,
        wedge_angle=None if found.plane is None else math.atan(steepest_slope(found.plane).rise / found.reach),
        wedge_vector=wedge_vector,
        dome=dome,
        saddle=saddle,
        residual_rms=form.residual_rms if form is not None else None,
        residual_degrees_of_freedom=max(0, form.degrees_of_freedom) if form is not None else 0,
        outliers=outliers,
        sites=ThicknessMap(x=sites.x, y=sites.y, thickness=sites.thickness, labels=sites.labels, frame=frame),
        mean_uncertainty=mean_uncertainty,
        ttv_uncertainty=ttv_uncertainty,
        wedge_uncertainty=wedge_uncertainty,
        dome_uncertainty=dome_uncertainty,
        saddle_uncertainty=saddle_uncertainty,
        mean_budget=mean_budget,
        ttv_budget=ttv_budget,
        wedge_budget=wedge_budget,
        zero_drift=sites.zero_drift,
        conditions=readings.conditions,
        warnings=tuple(notices),
    )


# ----------------------------------------------------------------------------------------------------------------------


class _Found:
    """Site means with the surfaces through them and the scatter of a reading: what every result is made from."""

    def __init__(
        self,
        *,
        sites: SiteMeans,
        outline: Outline,
        gauge: Gauge | None,
        further_contributions: tuple[Contribution, ...],
    ) -> None:
        self.sites = sites
        self.outline = outline
        self.gauge = gauge
        self.further_contributions = further_contributions
        self.reach = furthest_reach(outline)
        self.count = len(sites.labels)
        self.mean = float(sites.thickness[0] + np.mean(sites.thickness - sites.thickness[0]))
        self.ttv = float(np.ptp(sites.thickness))
        self.plane = self._fit("plane")
        self.with_dome = self._fit("dome")
        self.with_saddle = self._fit("saddle")
        self.form = self.with_dome if self.with_dome is not None else self.plane
        self.scatter = _scatter(sites, gauge, self.form)

    def _fit(self, surface: Surface) -> SurfaceFit | None:
        sites = self.sites
        return fitted_surface(sites.x, sites.y, sites.thickness, surface=surface, reach=self.reach)

    def uncertainty(
        self, weights: NDArray[np.float64], value: float
    ) -> tuple[Budget | None, CombinedUncertainty | None]:
        """Budget and combined uncertainty of a weighted sum of the site means."""
        budget = weighted_sum_budget(
            weights,
            sites=self.sites,
            gauge=self.gauge,
            scatter=self.scatter,
            further_contributions=self.further_contributions,
        )
        return budget, None if budget is None else combined_uncertainty(budget, value=value)


def _scatter(sites: SiteMeans, gauge: Gauge | None, form: SurfaceFit | None) -> Scatter | None:
    deviation = sites.repeat_deviation
    if deviation is not None:
        degrees = float(sites.repeat_degrees_of_freedom)
        return Scatter(deviation=deviation, degrees_of_freedom=degrees, source="repeats")
    if gauge is not None and gauge.repeatability is not None:
        return Scatter(deviation=gauge.repeatability, degrees_of_freedom=math.inf, source="gauge")
    rms = form.residual_rms if form is not None else None
    if form is None or rms is None:
        return None
    return Scatter(deviation=rms, degrees_of_freedom=float(form.degrees_of_freedom), source="residual")


def _wedge(
    found: _Found,
) -> tuple[Wedge | None, tuple[float, float] | None, Budget | None, CombinedUncertainty | None]:
    """Wedge of the plane over the full width along its steepest line: W = D sqrt(a2 + b2), azimuth atan2(b, a)."""
    if found.plane is None:
        return None, None, None, None
    slope = steepest_slope(found.plane)
    width = extent(found.outline, azimuth=slope.azimuth) / found.reach
    amount = slope.rise * width
    budget, uncertainty = found.uncertainty(width * slope.weights, amount)
    unsure = amount == 0.0 or (uncertainty is not None and amount < uncertainty.expanded_uncertainty)
    wedge = Wedge(amount=amount, azimuth=None if unsure else slope.azimuth)
    return wedge, (amount * math.cos(slope.azimuth), amount * math.sin(slope.azimuth)), budget, uncertainty


def _dome(found: _Found) -> tuple[float | None, CombinedUncertainty | None]:
    if found.with_dome is None:
        return None, None
    dome = -float(found.with_dome.coefficients[3])
    _, uncertainty = found.uncertainty(-found.with_dome.weights[3], dome)
    return dome, uncertainty


def _saddle(found: _Found) -> tuple[Saddle | None, CombinedUncertainty | None]:
    if found.with_saddle is None:
        return None, None
    along, across = float(found.with_saddle.coefficients[4]), float(found.with_saddle.coefficients[5])
    amount, twice = math.hypot(along, across), math.atan2(across, along)
    weights = math.cos(twice) * found.with_saddle.weights[4] + math.sin(twice) * found.with_saddle.weights[5]
    _, uncertainty = found.uncertainty(weights, amount)
    unsure = amount == 0.0 or (uncertainty is not None and amount < uncertainty.expanded_uncertainty)
    return Saddle(amount=amount, azimuth=None if unsure else (twice / 2.0) % math.pi), uncertainty


def _centre(found: _Found) -> float | None:
    distance = np.hypot(found.sites.x, found.sites.y)
    nearest = int(np.argmin(distance))
    return float(found.sites.thickness[nearest]) if distance[nearest] <= _AT_CENTRE * found.reach else None


def _ttv_noise_bias(found: _Found) -> float | None:
    scatter = found.scatter
    if scatter is None or scatter.source == "residual":
        return None
    sites = found.sites
    return range_noise_bias(
        sites.x,
        sites.y,
        sites.thickness,
        noise=scatter.deviation / np.sqrt(sites.repeats),
        degrees_of_freedom=scatter.degrees_of_freedom,
        reach=found.reach,
    )


def _outliers(found: _Found, largest_dome: float) -> tuple[Outlier, ...]:
    sites, scatter = found.sites, found.scatter
    known = scatter is not None and scatter.source != "residual"
    off_surface = surface_outliers(
        sites.labels,
        sites.x,
        sites.y,
        sites.thickness,
        noise=scatter.deviation / np.sqrt(sites.repeats) if scatter is not None and known else None,
        degrees_of_freedom=scatter.degrees_of_freedom if scatter is not None and known else math.inf,
        reach=found.reach,
        largest_dome=largest_dome,
    )
    return off_surface + repeat_outliers(sites.labels, repeats=sites.repeats, variances=sites.repeat_variances)
