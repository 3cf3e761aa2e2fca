"""The bond between wafer and carrier, from three thickness maps, and the wafer that it will give.

The adhesive at a site is stack less wafer less carrier. A wafer lapped parallel to the back of its carrier ends thin
where bond and carrier together are thick: t = T - (s - w) + mean(s - w). So the prediction needs no carrier map, and
what is common to all readings of a set cancels in it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault, TooFewSites
from lapwright.metrology.frames import nearest_sites, transformed
from lapwright.metrology.outliers import Outlier, surface_outliers
from lapwright.metrology.range_bias import range_noise_bias, range_weights
from lapwright.metrology.surface_fit import fitted_surface, steepest_slope
from lapwright.metrology.thickness import ThicknessResult
from lapwright.metrology.thickness_sites import Notice
from lapwright.metrology.uncertainty import (
    Budget,
    CombinedUncertainty,
    Contribution,
    combined_uncertainty,
    rectangular_uncertainty,
)
from lapwright.model.readings import Gauge
from lapwright.model.wafer import WORKED_FRAME, Frame, ThicknessMap, Wedge

_LEAST_SITES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class MapUncertainty:
    """How well the sites of one map are known: standard uncertainties in m.

    `site` differs from site to site (scatter of the mean, local error); `common` is shared by all sites of the map
    (accuracy limit, zero) and None when unknown. Maps taken with the same `gauge` share their common error.
    """

    site: float
    degrees_of_freedom: float = math.inf
    common: float | None = None
    gauge: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BondUncertainties:
    """How well the three maps are known."""

    wafer: MapUncertainty
    carrier: MapUncertainty
    stack: MapUncertainty


@dataclass(frozen=True, slots=True, kw_only=True)
class BondFrames:
    """How each of the three maps was taken, relative to the frame of the result."""

    wafer: Frame
    carrier: Frame
    stack: Frame


@dataclass(frozen=True, slots=True, kw_only=True)
class BondResult:
    """The adhesive map and what it means, and the predicted wafer. SI, in the wafer frame, looking at the worked face.

    `predicted_deviation` is the finished thickness less its mean at each site. `predicted_ttv` is raw;
    `predicted_ttv_noise_bias` is what noise has added to it. None where the uncertainties of the maps are unknown.
    `stack`, `wafer` and `carrier` are the three maps at the common sites; `uncertainties` is how well they are known.
    """

    bond: ThicknessMap
    stack: ThicknessMap
    wafer: ThicknessMap
    carrier: ThicknessMap
    uncertainties: BondUncertainties | None
    mean: float
    minimum: float
    maximum: float
    range: float
    wedge: Wedge | None
    suspects: tuple[Outlier, ...]
    site_uncertainty: CombinedUncertainty | None
    mean_uncertainty: CombinedUncertainty | None
    wedge_uncertainty: CombinedUncertainty | None
    predicted_deviation: ThicknessMap
    predicted: ThicknessMap | None
    predicted_ttv: float
    predicted_ttv_noise_bias: float | None
    predicted_ttv_uncertainty: CombinedUncertainty | None
    predicted_wedge: Wedge | None
    predicted_wedge_uncertainty: CombinedUncertainty | None
    frame: Frame
    frames: BondFrames
    warnings: tuple[Notice, ...]


def map_uncertainty(result: ThicknessResult, *, gauge: Gauge | None) -> MapUncertainty | None:
    """How well the sites of a measured map are known, for use in a bond line; None when the scatter is unknown.

    Parameters
    ----------
    result : ThicknessResult
        The statistics of the set.
    gauge : Gauge or None
        The gauge that took it.

    Returns
    -------
    MapUncertainty or None

    Notes
    -----
    Repeat scatter over the root of the repeats, with the local error of the gauge (rectangular) added in squares; the
    degrees of freedom are those of the two together.

    Examples
    --------
    >>> from lapwright.metrology.thickness import thickness_statistics
    >>> from lapwright.model.readings import ThicknessSet
    >>> from lapwright.model.wafer import Round
    >>> drop = Gauge(gauge_id="g", name="drop gauge", limit=1e-6, repeatability=4e-7)
    >>> taken = ThicknessSet(piece="w", labels=("a", "b", "c"), x=np.array([0.0, 0.01, 0.0]),
    ...                      y=np.array([0.0, 0.0, 0.01]), site=np.array([0, 1, 2]), thickness=np.full(3, 5e-4))
    >>> found = thickness_statistics(taken, outline=Round(diameter=0.05), gauge=drop)
    >>> map_uncertainty(found, gauge=drop).site
    4e-07
    """
    if result.scatter is None:
        return None
    mean_of_inverse = float(np.mean(1.0 / np.array(result.repeats)))
    lines = [
        Contribution(
            name="repeat scatter",
            standard_uncertainty=result.scatter.deviation * math.sqrt(mean_of_inverse),
            degrees_of_freedom=result.scatter.degrees_of_freedom,
        )
    ]
    if gauge is not None and gauge.local is not None:
        lines.append(Contribution(name="local error", standard_uncertainty=rectangular_uncertainty(gauge.local)))
    together = combined_uncertainty(Budget(contributions=tuple(lines)), value=0.0)
    return MapUncertainty(
        site=together.standard_uncertainty,
        degrees_of_freedom=together.degrees_of_freedom,
        common=None if gauge is None else rectangular_uncertainty(gauge.limit),
        gauge=None if gauge is None else gauge.gauge_id,
    )


def bond_line(
    wafer: ThicknessMap,
    carrier: ThicknessMap,
    stack: ThicknessMap,
    *,
    diameter: float,
    uncertainties: BondUncertainties | None = None,
    target_thickness: float | None = None,
    site_tolerance: float = 0.2e-3,
) -> BondResult:
    r"""Adhesive thickness at every site of the stack, and the wafer that lapping parallel to the carrier will give.

    Parameters
    ----------
    wafer, carrier, stack : ThicknessMap
        Thickness before bonding and of the bonded stack, each in the frame it names. Lengths in m; NaN is not
        measured.
    diameter : float [m]
        Of the wafer; wedges are over it.
    uncertainties : BondUncertainties, optional
        How well the three maps are known.
    target_thickness : float, optional [m]
        Finished mean thickness T; without it only deviations from the mean are predicted.
    site_tolerance : float [m]
        How far apart two sites may lie and still be the same.

    Returns
    -------
    BondResult

    Raises
    ------
    BadInput
        Sites of the stack that wafer or carrier do not have after the frames are brought together; or a stack thinner
        than wafer and carrier together.
    TooFewSites
        Fewer than three sites measured in all three maps.

    Notes
    -----
    .. math:: b_i = s_i - w_i - c_i, \quad t_i = T - (s_i - w_i) + \overline{s - w}

    The finished wafer's wedge is minus the wedge of bond and carrier together: a thick bond gives a thin wafer. A
    common error of a gauge used for all three maps enters the mean bond once, not three times; it cancels in range,
    wedge and prediction.

    Examples
    --------
    >>> x, y = np.array([0.0, 0.02, 0.0, -0.02, 0.0]), np.array([0.0, 0.0, 0.02, 0.0, -0.02])
    >>> def measured(thickness):
    ...     return ThicknessMap(x=x.copy(), y=y.copy(), thickness=thickness)
    >>> result = bond_line(measured(np.full(5, 500e-6)), measured(np.full(5, 1000e-6)),
    ...                    measured(1505e-6 + 1e-4 * x), diameter=0.05)
    >>> round(result.mean * 1e6, 3), round(result.wedge.amount * 1e6, 3), round(result.wedge.azimuth, 3)
    (5.0, 5.0, 0.0)
    >>> round(abs(result.predicted_wedge.azimuth), 4)  # the wafer comes out thick on the other side
    3.1416
    """
    frames = BondFrames(wafer=wafer.frame, carrier=carrier.frame, stack=stack.frame)
    common = _common_sites(transformed(wafer), transformed(carrier), transformed(stack), site_tolerance)
    bond = common.stack - common.wafer - common.carrier
    rise = common.stack - common.wafer
    deviation = np.mean(rise) - rise
    reach = diameter / 2
    count = len(bond)
    mean_uncertainty = _uncertainty(uncertainties, _BOND, np.full(count, 1.0 / count), float(np.mean(bond)))
    notices = [*common.notices, *_sign_notices(common.labels, bond, mean_uncertainty)]
    if uncertainties is None:
        notices.append(("bond.uncertainty_unknown", "How well the three maps are known was not given."))
    wedge, wedge_uncertainty = _wedge(common, bond, reach, uncertainties, _BOND)
    if wedge is None:
        notices.append(("bond.wedge_not_carried", "The common sites lie on one line; they carry no wedge."))
    predicted_wedge, predicted_wedge_uncertainty = _wedge(common, deviation, reach, uncertainties, _PREDICTION)
    predicted_ttv = float(np.ptp(deviation))
    return BondResult(
        bond=_on_sites(common, bond),
        stack=_on_sites(common, common.stack),
        wafer=_on_sites(common, common.wafer),
        carrier=_on_sites(common, common.carrier),
        uncertainties=uncertainties,
        mean=float(np.mean(bond)),
        minimum=float(bond.min()),
        maximum=float(bond.max()),
        range=float(np.ptp(bond)),
        wedge=wedge,
        suspects=_suspects(common, bond, reach, uncertainties),
        site_uncertainty=_uncertainty(uncertainties, _BOND, np.eye(1, count)[0], float(np.mean(bond))),
        mean_uncertainty=mean_uncertainty,
        wedge_uncertainty=wedge_uncertainty,
        predicted_deviation=_on_sites(common, deviation),
        predicted=None if target_thickness is None else _on_sites(common, target_thickness + deviation),
        predicted_ttv=predicted_ttv,
        predicted_ttv_noise_bias=_noise_bias(common, deviation, reach, uncertainties),
        predicted_ttv_uncertainty=_uncertainty(uncertainties, _PREDICTION, range_weights(deviation), predicted_ttv),
        predicted_wedge=predicted_wedge,
        predicted_wedge_uncertainty=predicted_wedge_uncertainty,
        frame=WORKED_FRAME,
        frames=frames,
        warnings=tuple(notices),
    )


# ----------------------------------------------------------------------------------------------------------------------

_Sign = Literal["stack", "wafer", "carrier"]
_BOND: dict[_Sign, float] = {"stack": 1.0, "wafer": -1.0, "carrier": -1.0}
_PREDICTION: dict[_Sign, float] = {"stack": -1.0, "wafer": 1.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class _CommonSites:
    """The three maps at the sites of the stack that all of them measured, in the wafer frame."""

    labels: tuple[str, ...]
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    wafer: NDArray[np.float64]
    carrier: NDArray[np.float64]
    stack: NDArray[np.float64]
    notices: tuple[Notice, ...]


def _common_sites(wafer: ThicknessMap, carrier: ThicknessMap, stack: ThicknessMap, tolerance: float) -> _CommonSites:
    labels = stack.labels or tuple(str(i + 1) for i in range(len(stack.x)))
    faults: list[Fault] = []
    partner_w = _partners(stack, wafer, labels, tolerance, "wafer", faults)
    partner_c = _partners(stack, carrier, labels, tolerance, "carrier", faults)
    if faults:
        raise BadInput(faults, subject="The three maps")
    thickness = np.vstack((stack.thickness, wafer.thickness[partner_w], carrier.thickness[partner_c]))
    measured = np.all(np.isfinite(thickness), axis=0)
    if int(measured.sum()) < _LEAST_SITES:
        raise TooFewSites("A bond line", measured=int(measured.sum()), needed=_LEAST_SITES)
    missing = [label for label, has in zip(labels, measured, strict=True) if not has]
    notices = [("bond.sites_missing", f"Not measured in all three maps: {', '.join(missing)}.")] if missing else []
    return _CommonSites(
        labels=tuple(label for label, has in zip(labels, measured, strict=True) if has),
        x=stack.x[measured],
        y=stack.y[measured],
        stack=thickness[0, measured],
        wafer=thickness[1, measured],
        carrier=thickness[2, measured],
        notices=tuple(notices),
    )


def _partners(
    stack: ThicknessMap,
    other: ThicknessMap,
    labels: tuple[str, ...],
    tolerance: float,
    name: str,
    faults: list[Fault],
) -> NDArray[np.intp]:
    """Index of the nearest site of another map for each site of the stack."""
    nearest, distance = nearest_sites(stack, other)
    for i, label in enumerate(labels):
        away = float(distance[i])
        if away > tolerance:
            faults.append(
                Fault(
                    sentence=f"Site {label!r} of the stack has no partner in the map of the {name}: the nearest lies "
                    f"{1e3 * away:.2f} mm away (allowed {1e3 * tolerance:.2f} mm). Check which face the {name} was "
                    "seen from and how far it was turned, or read the same sites.",
                    field=label,
                )
            )
    return nearest


def _sign_notices(
    labels: tuple[str, ...], bond: NDArray[np.float64], mean_uncertainty: CombinedUncertainty | None
) -> list[Notice]:
    """Refuse a stack thinner than what is in it; tell of single sites that are."""
    mean = float(np.mean(bond))
    doubt = mean_uncertainty.expanded_uncertainty if mean_uncertainty is not None else 0.0
    if mean < -doubt:
        sentence = (
            f"The stack is {-1e6 * mean:.2f} µm thinner on average than wafer and carrier together; expected some "
            "micrometres thicker. Check which map is which, their units, and the zero of the gauge."
        )
        raise BadInput((Fault(sentence=sentence, field="stack"),))
    below = [label for label, thickness in zip(labels, bond, strict=True) if thickness < 0.0]
    if not below:
        return []
    sentence = (
        f"Stack thinner than wafer and carrier together at {', '.join(below)}: a bond cannot be less than nothing. "
        "Read those sites again in all three maps."
    )
    return [("bond.negative", sentence)]


def _uncertainty(
    uncertainties: BondUncertainties | None, signs: dict[_Sign, float], weights: NDArray[np.float64], value: float
) -> CombinedUncertainty | None:
    """Uncertainty of a weighted sum over sites of a signed sum of maps; None when a part that matters is unknown."""
    if uncertainties is None:
        return None
    maps = [(getattr(uncertainties, name), sign) for name, sign in signs.items()]
    total, root = float(np.sum(weights)), math.sqrt(float(np.sum(weights**2)))
    lines = [
        Contribution(
            name="sites",
            standard_uncertainty=known.site,
            sensitivity=sign * root,
            degrees_of_freedom=known.degrees_of_freedom,
        )
        for known, sign in maps
    ]
    if abs(total) <= 1e-9 * root:
        return combined_uncertainty(Budget(contributions=tuple(lines)), value=value)
    if any(known.common is None for known, _ in maps):
        return None
    lines += [
        Contribution(name="common", standard_uncertainty=known.common, sensitivity=sign * total) for known, sign in maps
    ]
    budget = Budget(contributions=tuple(lines), correlation=_shared([known for known, _ in maps]))
    return combined_uncertainty(budget, value=value)


def _shared(maps: list[MapUncertainty]) -> tuple[tuple[float, ...], ...]:
    """Correlation: site errors stand alone, common errors of maps taken with one gauge are one and the same."""
    count = len(maps)
    correlation = np.eye(2 * count)
    for i, first in enumerate(maps):
        for j, second in enumerate(maps):
            if first.gauge is not None and first.gauge == second.gauge:
                correlation[count + i, count + j] = 1.0
    return tuple(tuple(float(r) for r in row) for row in correlation)


def _wedge(
    common: _CommonSites,
    values: NDArray[np.float64],
    reach: float,
    uncertainties: BondUncertainties | None,
    signs: dict[_Sign, float],
) -> tuple[Wedge | None, CombinedUncertainty | None]:
    fit = fitted_surface(common.x, common.y, values, surface="plane", reach=reach)
    if fit is None:
        return None, None
    slope = steepest_slope(fit)
    amount = 2.0 * slope.rise
    uncertainty = _uncertainty(uncertainties, signs, 2.0 * slope.weights, amount)
    unsure = amount == 0.0 or (uncertainty is not None and amount < uncertainty.expanded_uncertainty)
    return Wedge(amount=amount, azimuth=None if unsure else slope.azimuth), uncertainty


def _site_noise(uncertainties: BondUncertainties | None, signs: dict[_Sign, float]) -> tuple[float, float] | None:
    """Standard uncertainty of one site of a signed sum of maps from what differs from site to site, and its degrees."""
    difference = _uncertainty(uncertainties, signs, np.array([1.0, -1.0]), 0.0)
    if difference is None:
        return None
    return difference.standard_uncertainty / math.sqrt(2.0), difference.degrees_of_freedom


def _suspects(
    common: _CommonSites, bond: NDArray[np.float64], reach: float, uncertainties: BondUncertainties | None
) -> tuple[Outlier, ...]:
    noise = _site_noise(uncertainties, _BOND)
    return surface_outliers(
        common.labels,
        common.x,
        common.y,
        bond,
        noise=None if noise is None else np.full(len(bond), noise[0]),
        degrees_of_freedom=math.inf if noise is None else noise[1],
        reach=reach,
    )


def _noise_bias(
    common: _CommonSites, deviation: NDArray[np.float64], reach: float, uncertainties: BondUncertainties | None
) -> float | None:
    noise = _site_noise(uncertainties, _PREDICTION)
    if noise is None:
        return None
    return range_noise_bias(
        common.x,
        common.y,
        deviation,
        noise=np.full(len(deviation), noise[0]),
        degrees_of_freedom=noise[1],
        reach=reach,
    )


def _on_sites(common: _CommonSites, values: NDArray[np.float64]) -> ThicknessMap:
    return ThicknessMap(x=common.x, y=common.y, thickness=values, labels=common.labels, frame=WORKED_FRAME)
