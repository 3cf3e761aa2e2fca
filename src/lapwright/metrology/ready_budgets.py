"""Ready-made uncertainty budgets of the quantities that the shop measures, before or without a set of readings.

Each takes what is known of gauge and method and gives a `Budget` whose lines can be printed, ranked and drawn. Limits
are half-widths (±) with every place inside equally likely; repeat scatter is a standard deviation. A set of readings
has its own budgets (`thickness`, `bond_line`, `roughness_uncertainty`); these here serve planning and method papers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault, OutOfValidRange
from lapwright.metrology.uncertainty import Budget, Contribution, rectangular_uncertainty
from lapwright.model.readings import Gauge


def thickness_budget(
    gauge: Gauge,
    *,
    repeats: int = 1,
    degrees_of_freedom: float = math.inf,
    expansion: float = 0.0,
    temperature_reach: float = 0.0,
    bow_lift: float = 0.0,
    sinking: float = 0.0,
) -> Budget:
    """Budget of one thickness: calibration, resolution, repeats, temperature, bow lift, probe force.

    Parameters
    ----------
    gauge : Gauge
        Its limit, resolution, local error and repeatability.
    repeats : int [1]
        Readings averaged.
    degrees_of_freedom : float [1]
        Of the gauge's repeatability.
    expansion : float [m/K]
        How much the reading moves with temperature: expansion of piece and gauge frame together.
    temperature_reach : float [K]
        Largest difference from the temperature of calibration, ±.
    bow_lift : float [m]
        How high a bowed piece may stand off its rest, 0 to this.
    sinking : float [m]
        Largest difference in how far the probe sinks into piece and zero face, ±; see `probe_sinking`.

    Returns
    -------
    Budget

    Raises
    ------
    BadInput
        A gauge whose repeatability is not known.
    OutOfValidRange
        Fewer than one repeat, or a negative half-width.

    Notes
    -----
    A lift of 0 to h always adds; as an error of a reading that is not corrected it is taken as ± h about nought.

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.7 and 5.1.2. Key ``jcgm100``.

    Examples
    --------
    >>> gauge = Gauge(gauge_id="g", name="g", limit=1e-6, resolution=1e-7, repeatability=3e-7)
    >>> [(line.name, round(abs(line.effect) * 1e6, 3)) for line in thickness_budget(gauge, repeats=9).contributions]
    [('accuracy limit of the gauge', 0.577), ('repeat scatter', 0.1), ('resolution', 0.029)]
    """
    lines = [
        _limit("accuracy limit of the gauge", gauge.limit),
        *_reading_lines(gauge, repeats, degrees_of_freedom),
        _limit("temperature", temperature_reach, sensitivity=expansion),
        _limit("lift of a bowed piece", bow_lift),
        _limit("sinking of the probe", sinking),
    ]
    return _budget(lines)


def bond_line_budget(
    gauges: tuple[Gauge, Gauge, Gauge],
    *,
    repeats: tuple[int, int, int] = (1, 1, 1),
    degrees_of_freedom: float = math.inf,
) -> Budget:
    """Budget of the adhesive at one site: stack less wafer less carrier.

    Parameters
    ----------
    gauges : three Gauges
        What stack, wafer and carrier were read with.
    repeats : three ints [1]
        Readings averaged in each.
    degrees_of_freedom : float [1]
        Of each gauge's repeatability.

    Returns
    -------
    Budget

    Raises
    ------
    BadInput
        A gauge whose repeatability is not known.
    OutOfValidRange
        Fewer than one repeat.

    Notes
    -----
    The limit of a gauge that took several of the three enters once, with the sum of +1, −1, −1: with one gauge for
    all it enters once, not three times.

    Examples
    --------
    >>> gauge = Gauge(gauge_id="g", name="g", limit=1e-6, repeatability=3e-7)
    >>> budget = bond_line_budget((gauge, gauge, gauge))
    >>> [(line.name, line.sensitivity) for line in budget.contributions][0]
    ('accuracy limit of g', -1.0)
    """
    signs: dict[str, float] = {}
    known = {gauge.gauge_id: gauge for gauge in gauges}
    for gauge, sign in zip(gauges, (1.0, -1.0, -1.0), strict=True):
        signs[gauge.gauge_id] = signs.get(gauge.gauge_id, 0.0) + sign
    lines = [_limit(f"accuracy limit of {known[key].name}", known[key].limit, sensitivity=sign)
             for key, sign in signs.items()]  # fmt: skip
    for what, gauge, count, sign in zip(("stack", "wafer", "carrier"), gauges, repeats, (1.0, -1.0, -1.0), strict=True):
        lines += _reading_lines(gauge, count, degrees_of_freedom, sensitivity=sign, of=what)
    return _budget(lines)


def ttv_budget(gauge: Gauge, *, repeats: int = 1, degrees_of_freedom: float = math.inf) -> Budget:
    """Budget of a TTV: the difference between two sites of one set.

    Parameters
    ----------
    gauge : Gauge
        Its local error, resolution and repeatability; its limit is common to both sites and drops out.
    repeats : int [1]
        Readings averaged at each site.
    degrees_of_freedom : float [1]
        Of the gauge's repeatability.

    Returns
    -------
    Budget

    Raises
    ------
    BadInput
        A gauge whose repeatability is not known.
    OutOfValidRange
        Fewer than one repeat.

    Notes
    -----
    The noise bias of a range is an offset, not part of this budget: `range_bias`.

    Examples
    --------
    >>> gauge = Gauge(gauge_id="g", name="g", limit=1e-6, repeatability=3e-7)
    >>> [(line.name, round(line.effect * 1e6, 4)) for line in ttv_budget(gauge, repeats=2).contributions]
    [('repeat scatter', 0.3)]
    """
    return _budget(_reading_lines(gauge, repeats, degrees_of_freedom, sensitivity=math.sqrt(2.0)))


def wedge_budget(
    gauge: Gauge, *, x: NDArray[np.float64], y: NDArray[np.float64], diameter: float, repeats: int = 1,
    degrees_of_freedom: float = math.inf,
) -> Budget:  # fmt: skip
    r"""Budget of a wedge from a plane through sites, in the direction in which the sites hold it least.

    Parameters
    ----------
    gauge : Gauge
        Its local error, resolution and repeatability.
    x, y : float arrays, shape (n,) [m]
        Sites.
    diameter : float [m]
        Full diameter that the wedge is stated over.
    repeats : int [1]
        Readings averaged at each site.
    degrees_of_freedom : float [1]
        Of the gauge's repeatability.

    Returns
    -------
    Budget

    Raises
    ------
    OutOfValidRange
        Sites on one line, or fewer than one repeat.
    BadInput
        A gauge whose repeatability is not known.

    Notes
    -----
    Sensitivity :math:`D / \sqrt{\lambda}` with λ the smaller eigenvalue of the scatter of the sites about their middle.

    Examples
    --------
    >>> gauge = Gauge(gauge_id="g", name="g", limit=1e-6, repeatability=3e-7)
    >>> ring = np.arange(8) * np.pi / 4
    >>> budget = wedge_budget(gauge, x=0.04 * np.cos(ring), y=0.04 * np.sin(ring), diameter=0.1)
    >>> round(budget.contributions[0].effect * 1e6, 3)
    0.375
    """
    places = np.stack((x - x.mean(), y - y.mean()))
    least = float(np.linalg.eigvalsh(places @ places.T)[0])
    if not least > 1e-12 * float(np.sum(places**2)):
        raise OutOfValidRange("spread of the sites across their line", least, "above zero", "Add a site off the line.")
    return _budget(_reading_lines(gauge, repeats, degrees_of_freedom, sensitivity=diameter / math.sqrt(least)))


def removal_budget(
    before: Gauge, after: Gauge, *, removal: float, repeats: int = 1, scale: float = 0.0,
    degrees_of_freedom: float = math.inf,
) -> Budget:  # fmt: skip
    """Budget of a removal: thickness before less thickness after.

    Parameters
    ----------
    before, after : Gauge
        What the two were read with; the limit of one gauge used for both drops out.
    removal : float [m]
        What was taken off, for the error of the gauge's scale.
    repeats : int [1]
        Readings averaged in each.
    scale : float [1]
        Relative limit (±) of the gauge's scale.
    degrees_of_freedom : float [1]
        Of each gauge's repeatability.

    Returns
    -------
    Budget

    Raises
    ------
    BadInput
        A gauge whose repeatability is not known.
    OutOfValidRange
        Fewer than one repeat, or a negative half-width.

    Examples
    --------
    >>> gauge = Gauge(gauge_id="g", name="g", limit=1e-6, repeatability=3e-7)
    >>> [line.name for line in removal_budget(gauge, gauge, removal=4e-4, scale=1e-4).contributions]
    ['scale of the gauge', 'repeat scatter, before', 'repeat scatter, after']
    """
    lines = [_limit("scale of the gauge", scale, sensitivity=removal)]
    if before.gauge_id != after.gauge_id:
        lines += [_limit(f"accuracy limit of {before.name}", before.limit),
                  _limit(f"accuracy limit of {after.name}", after.limit, sensitivity=-1.0)]  # fmt: skip
    lines += _reading_lines(before, repeats, degrees_of_freedom, of="before")
    lines += _reading_lines(after, repeats, degrees_of_freedom, sensitivity=-1.0, of="after")
    return _budget(lines)


def flatness_budget(
    *, fringe_height: float, fringes: float, fringe_noise: float, reference_flatness: float = 0.0,
    wavelength_reach: float = 0.0, incidence: float = 0.0, incidence_reach: float = 0.0,
) -> Budget:  # fmt: skip
    r"""Budget of a flatness read from fringes.

    Parameters
    ----------
    fringe_height : float [m]
        Height per fringe.
    fringes : float [1]
        Flatness in fringes.
    fringe_noise : float [1]
        Standard deviation with which the place of a fringe is read, in fringes; it enters at both ends.
    reference_flatness : float [m]
        Largest departure (±) of the reference flat.
    wavelength_reach : float [1]
        Relative limit (±) of the wavelength.
    incidence : float [rad]
        Angle of incidence from the normal.
    incidence_reach : float [rad]
        Limit (±) of the angle.

    Returns
    -------
    Budget

    Raises
    ------
    OutOfValidRange
        A negative half-width.

    Notes
    -----
    Height :math:`h = N \lambda/(2\cos\theta)`: relative errors :math:`d\lambda/\lambda` and
    :math:`\tan\theta\,d\theta`.

    Examples
    --------
    >>> budget = flatness_budget(fringe_height=316.4e-9, fringes=0.5, fringe_noise=0.05, reference_flatness=30e-9)
    >>> [(line.name, round(line.effect * 1e9, 1)) for line in budget.contributions]
    [('reference flat', 17.3), ('reading of the fringes', 22.4)]
    """
    height = fringe_height * fringes
    lines = [
        _limit("reference flat", reference_flatness),
        _limit("wavelength", wavelength_reach, sensitivity=height),
        _limit("angle of incidence", incidence_reach, sensitivity=height * math.tan(incidence)),
        Contribution(name="reading of the fringes", standard_uncertainty=fringe_noise,
                     sensitivity=math.sqrt(2.0) * fringe_height),
    ]  # fmt: skip
    return _budget(lines)


def roughness_budget(lines: Sequence[float], *, scale: float = 0.0, noise: float = 0.0) -> Budget:
    r"""Budget of a mean roughness over several lines on one face.

    Parameters
    ----------
    lines : sequence of float [m]
        Ra or Rq of each line, at least two.
    scale : float [1]
        Relative limit (±) of the height scale.
    noise : float [m]
        Roughness that the instrument shows on a perfect face; what it adds is not corrected here but allowed for.

    Returns
    -------
    Budget

    Raises
    ------
    OutOfValidRange
        Fewer than two lines, or a negative half-width.

    Notes
    -----
    Noise adds in squares: a mean R rises by :math:`R - \sqrt{R^2 - n^2}`, taken as a half-width; the whole of R when
    the noise is as large as the roughness.

    Examples
    --------
    >>> budget = roughness_budget([1.0e-9, 1.1e-9, 0.9e-9, 1.0e-9], scale=0.05, noise=0.2e-9)
    >>> [(line.name, round(line.effect * 1e9, 4)) for line in budget.contributions]
    [('from line to line', 0.0408), ('height scale', 0.0289), ('noise of the instrument', 0.0117)]
    """
    values = np.asarray(lines, dtype=np.float64)
    if values.size < 2:
        raise OutOfValidRange("number of lines", values.size, "at least 2")
    mean = float(values.mean())
    added = mean - math.sqrt(max(0.0, mean**2 - noise**2))
    return _budget([
        Contribution(name="from line to line", value=mean, distribution="student",
                     standard_uncertainty=float(values.std(ddof=1)) / math.sqrt(values.size),
                     degrees_of_freedom=float(values.size - 1)),
        _limit("height scale", scale, sensitivity=mean),
        _limit("noise of the instrument", added),
    ])  # fmt: skip


def probe_sinking(*, force: float, tip_radius: float, contact_modulus: float) -> float:
    r"""How far a ball-ended probe sinks into a flat face.

    Parameters
    ----------
    force : float [N]
        Force of the probe.
    tip_radius : float [m]
        Radius of its tip.
    contact_modulus : float [Pa]
        Of tip and face together: 1/E* = (1 − ν₁²)/E₁ + (1 − ν₂²)/E₂.

    Returns
    -------
    float [m]

    Raises
    ------
    OutOfValidRange
        A negative force, or a radius or modulus not above zero.

    Notes
    -----
    .. math:: \delta = \left(\frac{9 F^2}{16 R E^{*2}}\right)^{1/3}

    Elastic, dry, smooth; a real tip sinks a little more through its roughness.

    References
    ----------
    .. [1] H. Hertz, J. reine angew. Math. 92 (1881) 156; closed form. Key ``hertz1881``.

    Examples
    --------
    >>> round(probe_sinking(force=1.0, tip_radius=1.5e-3, contact_modulus=1.0e11) * 1e9)
    335
    """
    for name, value in (("tip_radius", tip_radius), ("contact_modulus", contact_modulus)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero")
    if not force >= 0.0:
        raise OutOfValidRange("force", force, "zero or more")
    return math.cbrt(9.0 * force**2 / (16.0 * tip_radius * contact_modulus**2))


# ----------------------------------------------------------------------------------------------------------------------


def _limit(name: str, half_width: float, *, sensitivity: float = 1.0) -> Contribution:
    return Contribution(
        name=name,
        standard_uncertainty=rectangular_uncertainty(half_width),
        sensitivity=sensitivity,
        distribution="rectangular",
        quoted=half_width,
    )


def _reading_lines(
    gauge: Gauge, repeats: int, degrees_of_freedom: float, *, sensitivity: float = 1.0, of: str = ""
) -> list[Contribution]:
    """Local error, scatter over the root of the repeats, and the resolution, which repeats do not average."""
    if repeats < 1:
        raise OutOfValidRange("repeats", repeats, "at least 1")
    if gauge.repeatability is None:
        sentence = f"The repeatability of {gauge.name} is not known; find it by a gauge study, or state it."
        raise BadInput([Fault(sentence=sentence, field="repeatability", unit="m")])
    tail = f", {of}" if of else ""
    scatter = gauge.repeatability
    lines = [_limit(f"local error of the gauge{tail}", gauge.local or 0.0, sensitivity=sensitivity)]
    lines.append(
        Contribution(
            name=f"repeat scatter{tail}",
            standard_uncertainty=scatter / math.sqrt(repeats),
            sensitivity=sensitivity,
            degrees_of_freedom=degrees_of_freedom,
            distribution="student",
        )
    )
    lines.append(_limit(f"resolution{tail}", gauge.resolution / 2.0, sensitivity=sensitivity))
    return lines


def _budget(lines: Sequence[Contribution]) -> Budget:
    return Budget(contributions=tuple(line for line in lines if line.effect != 0.0))
