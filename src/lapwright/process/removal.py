"""Removal by Preston's law, and the rate to expect before the lab has runs of its own.

The coefficient belongs to material, abrasive and plate together. The library gives a starting value with a band; where
it holds none for a grain or a material, one is carried over from the nearest row, with a wider band and the name of
the row it came from. Left out: learning from runs, exponents other than one, ageing of grain and pad.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import CannotAnswer, OutOfValidRange
from lapwright.library import Abrasive, Library, Origin, RemovalCoefficient, Trust
from lapwright.metrology.distributions import normal_quantile

#: Run-to-run spread of one fixed recipe, as standard deviation of the logarithm (common practice: 10-20 % a day).
RUN_SPREAD = 0.15
#: A band holds about 95 % of what is met.
BAND_QUANTILE = 1.959963984540054
#: What carrying a row over to another grain or material adds to its band, as a factor (own judgement, said so).
GRAIN_BAND = 2.0
PLATE_BAND = 2.0
MATERIAL_BAND = 3.0  # ranking by eq. 1.6 holds to a factor of 3 at best
_GRAIN_REACH = 6.0  # a row is carried over to grains up to this factor away


@dataclass(frozen=True, slots=True, kw_only=True)
class CoefficientPrior:
    """What is believed of a Preston coefficient before any run: lognormal with median [1/Pa] and log deviation [1].

    `method` says in a sentence how it was found; `row_id`, `origin` and `trust` name the library row behind it.
    """

    median: float
    log_deviation: float
    method: str
    row_id: str
    origin: Origin
    trust: Trust


@dataclass(frozen=True, slots=True, kw_only=True)
class RateInterval:
    """A predicted removal rate [m/s]: median and the interval that holds the next run with the stated coverage."""

    median: float
    low: float
    high: float
    coverage: float


def preston_rate(coefficient: float, pressure: float, speed: float) -> float:
    r"""Removal rate by Preston's law.

    Parameters
    ----------
    coefficient : float [1/Pa]
        Preston coefficient of material, abrasive and plate.
    pressure : float [Pa]
        Mean pressure on the piece.
    speed : float [m/s]
        Mean sliding speed.

    Returns
    -------
    float [m/s]
        Positive.

    Notes
    -----
    .. math:: dh/dt = k_p \, p \, v

    Good to about 20 % inside the pressures and speeds the coefficient was found with.

    References
    ----------
    .. [1] F. W. Preston, J. Soc. Glass Technol. 11 (1927) 214-256 (from memory). Key ``preston1927``.

    Examples
    --------
    >>> round(preston_rate(1e-13, 20684.3, 0.5) * 60e9, 4)
    62.0529
    """
    return coefficient * pressure * speed


def preston_coefficient(removal_rate: float, pressure: float, speed: float) -> float:
    """Preston coefficient that a measured rate stands for.

    Parameters
    ----------
    removal_rate : float [m/s]
        Measured removal over time.
    pressure : float [Pa]
        More than zero.
    speed : float [m/s]
        More than zero.

    Returns
    -------
    float [1/Pa]

    Raises
    ------
    OutOfValidRange
        Pressure or speed not above zero.

    Examples
    --------
    >>> preston_coefficient(300e-9 / 60, 140e3, 1.0)
    3.571428571428572e-14
    """
    for name, value in (("pressure", pressure), ("speed", speed)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero")
    return removal_rate / (pressure * speed)


def removal_from_mass(mass: float, *, density: float, area: float) -> float:
    """Depth removed, from the mass that was lost.

    Parameters
    ----------
    mass : float [kg]
        Mass lost, zero or more.
    density : float [kg/m3]
        Of the piece.
    area : float [m2]
        Worked area.

    Returns
    -------
    float [m]

    Raises
    ------
    OutOfValidRange
        Density or area not above zero.

    References
    ----------
    .. [1] UCRL-ID-115321 (1993), doi 10.2172/10193440. Key ``ucrl115321``.

    Examples
    --------
    >>> round(removal_from_mass(12e-6, density=2329.0, area=math.pi * 0.05**2) * 1e6, 6)
    0.656027
    """
    for name, value in (("density", density), ("area", area)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero")
    return mass / (density * area)


def removal_index(youngs_modulus: float, hardness: float, toughness: float) -> float:
    r"""How fast a brittle solid laps, for ranking one material against another.

    Parameters
    ----------
    youngs_modulus : float [Pa]
        More than zero.
    hardness : float [Pa]
        More than zero.
    toughness : float [Pa m^0.5]
        More than zero.

    Returns
    -------
    float [1]
        Only ratios of two indices have a meaning.

    Notes
    -----
    .. math:: E^{5/4} / (K_{Ic} H^2)

    Rolling grains and lateral cracks. To a factor of 3 at best; not for soft crystals that deform plastically, nor
    where the abrasive is less than about 1.5 times as hard as the sample.

    References
    ----------
    .. [1] Buijs and Korpel-van Houten, Wear 166 (1993) 237-245 (exponents from memory). Key ``buijs1993``.

    Examples
    --------
    >>> silicon = removal_index(162.7e9, 11.3e9, 0.9e6)
    >>> round(removal_index(131.5e9, 7.65e9, 0.66e6) / silicon, 1)
    2.3
    """
    return float(youngs_modulus**1.25 / (toughness * hardness**2))


def prior_coefficient(library: Library, material: str, *, abrasive: Abrasive, plate: str) -> CoefficientPrior:
    """What the library lets one believe of a Preston coefficient.

    Parameters
    ----------
    library : Library
        Rows of removal coefficients and material properties.
    material : str
        Material id.
    abrasive : Abrasive
        With kind and grain.
    plate : str
        Plate or pad id.

    Returns
    -------
    CoefficientPrior
        `log_deviation` is the band as 95 %: ln(band) / 1.96.

    Raises
    ------
    CannotAnswer
        No row of this material, nor one that can be carried over to it.

    Notes
    -----
    First a row whose grain range holds the grain; else the nearest grain of the same kind within a factor of 6, rate in
    proportion to grain size; else, for lapping brittle solids, a row of another material scaled by `removal_index`.
    Each step of carrying over widens the band: grain by 2, plate by 2, material by 3 (own judgement).

    Examples
    --------
    >>> from lapwright.library import load
    >>> library = load()
    >>> prior = prior_coefficient(library, "LiTaO3", abrasive=library.abrasive("sic-jis1000"), plate="cast-iron")
    >>> prior.median, prior.row_id
    (1.71e-11, 'lt-sic1000')
    """
    own = [
        row
        for row in library.coefficients_of(material, abrasive.process)
        if row.abrasive_kind == abrasive.kind and _grain_distance(row, abrasive.grain) <= math.log(_GRAIN_REACH)
    ]
    if own:
        best = min(own, key=lambda row: (_grain_distance(row, abrasive.grain), plate not in row.plates))
        return _carried(best, abrasive, plate, factor=1.0, widened=1.0, words="")
    if abrasive.process == "lap":
        found = _from_other_material(library, material, abrasive, plate)
        if found is not None:
            return found
    raise CannotAnswer(
        f"The library has no removal rate for {material} with {abrasive.name}, and none to carry over. "
        "Add a row of your own, or a first logged run."
    )


def predicted_rate(
    prior: CoefficientPrior, pressure: float, speed: float, *, run_spread: float = RUN_SPREAD, coverage: float = 0.95
) -> RateInterval:
    r"""Rate that the next run will show, with an interval that holds it.

    Parameters
    ----------
    prior : CoefficientPrior
        Belief about the coefficient.
    pressure : float [Pa]
        Mean pressure.
    speed : float [m/s]
        Mean sliding speed.
    run_spread : float [1]
        Deviation of the logarithm from run to run.
    coverage : float [1]
        Chance that the run falls in the interval, between 0 and 1.

    Returns
    -------
    RateInterval

    Raises
    ------
    OutOfValidRange
        `coverage` not inside (0, 1).

    Notes
    -----
    .. math:: r = k\,p\,v \, \exp(\pm z \sqrt{s_0^2 + s^2})

    Examples
    --------
    >>> from lapwright.library import load
    >>> library = load()
    >>> prior = prior_coefficient(library, "LiTaO3", abrasive=library.abrasive("sic-jis1000"), plate="cast-iron")
    >>> round(predicted_rate(prior, 10e3, 0.5).median * 60e6, 2)
    5.13
    """
    if not 0.0 < coverage < 1.0:
        raise OutOfValidRange("coverage", coverage, "more than 0 and less than 1")
    median = preston_rate(prior.median, pressure, speed)
    spread = math.exp(normal_quantile(0.5 + coverage / 2.0) * math.hypot(prior.log_deviation, run_spread))
    return RateInterval(median=median, low=median / spread, high=median * spread, coverage=coverage)


def drawn_coefficients(
    prior: CoefficientPrior, *, generator: np.random.Generator, draws: int, run_spread: float = RUN_SPREAD
) -> NDArray[np.float64]:
    """Coefficients drawn from the belief, one for each imagined run.

    Parameters
    ----------
    prior : CoefficientPrior
        Belief about the coefficient.
    generator : numpy Generator
        Seeded by the caller.
    draws : int
        How many.
    run_spread : float [1]
        Deviation of the logarithm from run to run.

    Returns
    -------
    float array, shape (draws,) [1/Pa]

    Examples
    --------
    >>> from lapwright.library import load
    >>> library = load()
    >>> prior = prior_coefficient(library, "Si", abrasive=library.abrasive("al2o3-9"), plate="cast-iron")
    >>> drawn_coefficients(prior, generator=np.random.default_rng(1), draws=3).shape
    (3,)
    """
    deviation = math.hypot(prior.log_deviation, run_spread)
    return prior.median * np.exp(deviation * generator.standard_normal(draws))


# ----------------------------------------------------------------------------------------------------------------------


def _grain_distance(row: RemovalCoefficient, grain: float) -> float:
    """How far a grain lies outside a row's range, as a logarithm; zero inside."""
    return max(0.0, math.log(row.grain_low / grain), math.log(grain / row.grain_high))


def _carried(
    row: RemovalCoefficient, abrasive: Abrasive, plate: str, *, factor: float, widened: float, words: str
) -> CoefficientPrior:
    outside = _grain_distance(row, abrasive.grain) > 0.0
    steps = [words] if words else []
    if outside:
        factor *= abrasive.grain / row.grain
        widened *= GRAIN_BAND
        steps.append(f"in proportion to the grain, {row.grain * 1e6:g} to {abrasive.grain * 1e6:g} µm")
    if row.plates and plate not in row.plates:
        widened *= PLATE_BAND
        steps.append(f"to the plate {plate}, not among {', '.join(row.plates)}")
    band = row.band * widened
    method = f"Library row {row.row_id}, x/÷ {band:g}" + (": carried over " + "; ".join(steps) if steps else "")
    return CoefficientPrior(
        median=row.coefficient * factor,
        log_deviation=math.log(band) / BAND_QUANTILE,
        method=method,
        row_id=row.row_id,
        origin=row.origin,
        trust="derived" if steps else row.origin.trust,
    )


def _from_other_material(library: Library, material: str, abrasive: Abrasive, plate: str) -> CoefficientPrior | None:
    wanted = library.material(material)
    index = _index_of(library, material)
    if index is None or not wanted.brittle:
        return None
    rows = [
        (row, other)
        for row in library.removal_coefficients
        if row.process == "lap" and row.abrasive_kind == abrasive.kind and row.material != material
        for other in [_index_of(library, row.material)]
        if other is not None
    ]
    if not rows:
        return None
    row, other = min(rows, key=lambda pair: (_grain_distance(pair[0], abrasive.grain), abs(math.log(pair[1] / index))))
    words = f"from {row.material} by the removal index (x {index / other:.2g})"
    return _carried(row, abrasive, plate, factor=index / other, widened=MATERIAL_BAND, words=words)


def _index_of(library: Library, material: str) -> float | None:
    found = library.material(material)
    values = [found.value(name) for name in ("youngs_modulus", "hardness", "toughness")]
    known = [value for value in values if value is not None]
    return removal_index(*known) if len(known) == 3 and found.brittle else None
