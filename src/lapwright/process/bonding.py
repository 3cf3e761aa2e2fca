"""Squeeze flow of an adhesive between wafer and carrier: bond line against load, time, viscosity and temperature.

Newtonian film between flat, rigid, parallel discs (Stefan 1874). A flooded disc and a drop that does not yet reach the
rim follow different laws; both are here. A press free to tilt heals a wedge as it thins the film; a load beside the
centre prints one. Left out: shear thinning, cooling while it flows, gas, particles (a real film is good to x/÷ 2).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.model.wafer import Wedge
from lapwright.process.sensible import LONGEST, SHORTEST, need_length, need_positive

HEALING_POWER = 4.5  # wedge goes with the film to this power under a central load; own first-order solution of Reynolds
OFFSET_WEDGE = 48.0 / 7.0  # wedge over film for a load off centre, per offset over radius; the same solution, 6.857
FILM_BAND = 2.0  # x/÷ on the film even with a good viscosity (common practice, no source)
_KELVIN_STEP = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class ViscosityCurve:
    """Viscosity [Pa s] of an adhesive at temperatures [K], rising temperature, falling viscosity; at least two points.

    Between two points ln(viscosity) is linear in 1/T. Outside the points there is no answer.
    """

    temperatures: tuple[float, ...]
    viscosities: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.temperatures) != len(self.viscosities) or len(self.temperatures) < 2:
            raise OutOfValidRange("points of the viscosity curve", len(self.viscosities), "at least 2, in pairs")
        if any(not low < high for low, high in zip(self.temperatures, self.temperatures[1:], strict=False)):
            raise OutOfValidRange("temperatures", self.temperatures[0], "rising from point to point [K]")
        if any(not value > 0.0 for value in (*self.temperatures, *self.viscosities)):
            raise OutOfValidRange("viscosities", min(self.viscosities), "more than zero [Pa s]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """One stretch of a bonding programme: how long [s], from which temperature to which [K], under which load [N]."""

    duration: float
    start: float
    end: float
    load: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SqueezedFilm:
    """A film through a bonding programme: times [s], films [m], and how much flow each stretch brought [1/m^2]."""

    times: NDArray[np.float64]
    films: NDArray[np.float64]
    flow: tuple[float, ...]

    @property
    def final(self) -> float:
        """Film at the end [m]."""
        return float(self.films[-1])


def squeezed_film(load: float, *, radius: float, viscosity: float, start: float, time: float) -> float:
    r"""Film left between flooded discs after pressing with a steady load.

    Parameters
    ----------
    load : float [N]
        Force on the stack.
    radius : float [m]
        Of the smaller disc; the film reaches its rim.
    viscosity : float [Pa s]
        Of the adhesive at bonding temperature.
    start : float [m]
        Film at the beginning.
    time : float [s]
        How long it is pressed.

    Returns
    -------
    float [m]

    Raises
    ------
    OutOfValidRange
        A load, radius, viscosity or film not above zero, or a negative time.

    Notes
    -----
    .. math:: \frac{1}{h^2} = \frac{1}{h_0^2} + \frac{4 F t}{3 \pi \eta R^4}

    Valid while h < R/100. One public page prints R squared: dimensionally wrong.

    References
    ----------
    .. [1] J. Stefan, "Versuche über die scheinbare Adhäsion", Sitzungsber. Akad. Wiss. Wien 69 (1874) 713-735.
       Key ``stefan1874``.

    Examples
    --------
    >>> pressed = squeezed_film(157.08, radius=0.05, viscosity=1.0, start=200e-6, time=300.0)
    >>> round(pressed * 1e6, 2)
    17.61
    """
    need_positive(load=load, viscosity=viscosity)
    _need_lengths(radius=radius, start=start)
    _need_time(time)
    return 1.0 / math.sqrt(1.0 / start**2 + _flow_per_second(load, radius, viscosity) * time)


def squeeze_time(load: float, *, radius: float, viscosity: float, start: float, end: float) -> float:
    r"""How long flooded discs must be pressed to thin the film from `start` to `end`.

    Parameters
    ----------
    load : float [N]
        Force on the stack.
    radius : float [m]
        Of the smaller disc.
    viscosity : float [Pa s]
        Of the adhesive at bonding temperature.
    start : float [m]
        Film at the beginning.
    end : float [m]
        Film wanted; not above `start`.

    Returns
    -------
    float [s]

    Raises
    ------
    OutOfValidRange
        A load, radius, viscosity or film not above zero, or a film that would have to grow.

    Notes
    -----
    .. math:: t = \frac{3 \pi \eta R^4}{4 F} \left( \frac{1}{h^2} - \frac{1}{h_0^2} \right)

    References
    ----------
    .. [1] J. Stefan (1874). Key ``stefan1874``.

    Examples
    --------
    >>> round(squeeze_time(100.0, radius=0.05, viscosity=10.0, start=50e-6, end=20e-6), 1)
    3092.5
    """
    need_positive(load=load, viscosity=viscosity)
    _need_lengths(radius=radius, start=start, end=end)
    _need_thinner(start, end)
    return (1.0 / end**2 - 1.0 / start**2) / _flow_per_second(load, radius, viscosity)


def spread_drop_film(load: float, *, volume: float, viscosity: float, start: float, time: float) -> float:
    r"""Film of a drop that does not yet reach the rim, after pressing with a steady load.

    Parameters
    ----------
    load : float [N]
        Force on the stack.
    volume : float [m3]
        Of the drop; it stays the same.
    viscosity : float [Pa s]
        Of the adhesive at bonding temperature.
    start : float [m]
        Film at the beginning.
    time : float [s]
        How long it is pressed.

    Returns
    -------
    float [m]

    Raises
    ------
    OutOfValidRange
        A load, volume, viscosity or film not above zero, or a negative time.

    Notes
    -----
    .. math:: \frac{1}{h^4} = \frac{1}{h_0^4} + \frac{8 \pi F t}{3 \eta V^2}

    References
    ----------
    .. [1] J. Stefan (1874), with the disc of the drop, R^2 = V/(pi h). Key ``stefan1874``.

    Examples
    --------
    >>> film = spread_drop_film(100.0, volume=1e-7, viscosity=1.0, start=1e-3, time=10.0)
    >>> round(film * 1e6, 1)
    33.1
    """
    need_positive(load=load, viscosity=viscosity)
    _need_lengths(start=start)
    _need_volume(volume)
    _need_time(time)
    return float((1.0 / start**4 + 8.0 * math.pi * load * time / (3.0 * viscosity * volume**2)) ** -0.25)


def drop_squeeze_time(load: float, *, volume: float, viscosity: float, start: float, end: float) -> float:
    r"""How long a drop that does not reach the rim must be pressed to thin from `start` to `end`.

    Parameters
    ----------
    load : float [N]
        Force on the stack.
    volume : float [m3]
        Of the drop.
    viscosity : float [Pa s]
        Of the adhesive at bonding temperature.
    start : float [m]
        Film at the beginning.
    end : float [m]
        Film wanted; not above `start`.

    Returns
    -------
    float [s]

    Raises
    ------
    OutOfValidRange
        A load, volume, viscosity or film not above zero, or a film that would have to grow.

    Notes
    -----
    .. math:: t = \frac{3 \eta V^2}{8 \pi F} \left( \frac{1}{h^4} - \frac{1}{h_0^4} \right)

    References
    ----------
    .. [1] J. Stefan (1874). Key ``stefan1874``.

    Examples
    --------
    >>> round(drop_squeeze_time(100.0, volume=1e-7, viscosity=1.0, start=1e-3, end=33.1e-6), 1)
    9.9
    """
    need_positive(load=load, viscosity=viscosity)
    _need_lengths(start=start, end=end)
    _need_volume(volume)
    _need_thinner(start, end)
    return 3.0 * viscosity * volume**2 / (8.0 * math.pi * load) * (1.0 / end**4 - 1.0 / start**4)


def viscosity_at(curve: ViscosityCurve, temperature: float) -> float:
    r"""Viscosity of an adhesive at a temperature inside its table.

    Parameters
    ----------
    curve : ViscosityCurve
        The adhesive's table.
    temperature : float [K]
        Within the first and the last point of the table.

    Returns
    -------
    float [Pa s]

    Raises
    ------
    OutOfValidRange
        A temperature outside the table: it is not extrapolated.

    Notes
    -----
    .. math:: \ln \eta = A + B/T

    between two points of the table (Andrade's form).

    References
    ----------
    .. [1] E. N. da C. Andrade, "The viscosity of liquids", Nature 125 (1930) 309-310. Key ``andrade1930``.

    Examples
    --------
    >>> curve = ViscosityCurve(temperatures=(393.15, 423.15), viscosities=(10.0, 0.5))
    >>> round(viscosity_at(curve, 408.15), 2)
    2.12
    """
    low, high = curve.temperatures[0], curve.temperatures[-1]
    if not low <= temperature <= high:
        raise OutOfValidRange("temperature", temperature, f"{low:g} to {high:g} K, the ends of the viscosity table")
    inverse = [-1.0 / one for one in curve.temperatures]
    logs = [math.log(one) for one in curve.viscosities]
    return math.exp(float(np.interp(-1.0 / temperature, inverse, logs)))


def squeezed_by_programme(
    programme: Sequence[Heat], curve: ViscosityCurve, *, radius: float, start: float
) -> SqueezedFilm:
    r"""Film between flooded discs through a programme of temperatures and loads.

    Parameters
    ----------
    programme : sequence of Heat
        Stretches in order; the temperature runs linearly within each.
    curve : ViscosityCurve
        Of the adhesive. Below its coldest point the adhesive is taken as set: no flow.
    radius : float [m]
        Of the smaller disc.
    start : float [m]
        Film at the beginning.

    Returns
    -------
    SqueezedFilm

    Raises
    ------
    OutOfValidRange
        A temperature above the table, a negative load or duration, no stretch at all.

    Notes
    -----
    .. math:: \frac{1}{h^2} = \frac{1}{h_0^2} + \frac{4}{3 \pi R^4} \int \frac{F(t)}{\eta(T(t))} \, dt

    by the midpoint rule on steps of at most half a kelvin or a fiftieth of the stretch.

    References
    ----------
    .. [1] J. Stefan (1874). Key ``stefan1874``.

    Examples
    --------
    >>> curve = ViscosityCurve(temperatures=(393.15, 423.15), viscosities=(10.0, 0.5))
    >>> steady = Heat(duration=600.0, start=423.15, end=423.15, load=200.0)
    >>> film = squeezed_by_programme([steady], curve, radius=25.4e-3, start=50e-6)
    >>> round(film.final * 1e6, 2)
    2.02
    """
    _need_lengths(radius=radius, start=start)
    if not programme:
        raise OutOfValidRange("stretches of the programme", 0, "at least one")
    times, films, flows = [0.0], [start], []
    resistance = 1.0 / start**2
    for part in programme:
        _need_time(part.duration)
        if part.load < 0.0:
            raise OutOfValidRange("load", part.load, "zero or more [N]")
        steps = max(50, math.ceil(abs(part.end - part.start) / _KELVIN_STEP))
        step = part.duration / steps
        before = resistance
        for number in range(steps):
            temperature = part.start + (part.end - part.start) * (number + 0.5) / steps
            if temperature >= curve.temperatures[0] and part.load > 0.0:
                resistance += _flow_per_second(part.load, radius, viscosity_at(curve, temperature)) * step
            times.append(times[-1] + step)
            films.append(resistance**-0.5)
        flows.append(resistance - before)
    return SqueezedFilm(times=np.asarray(times), films=np.asarray(films), flow=tuple(flows))


def pressed_wedge(
    wedge: Wedge, *, start: float, end: float, radius: float, load_offset: float = 0.0, load_azimuth: float = 0.0
) -> Wedge:
    r"""Wedge of the film after a press that is free to tilt has thinned it.

    Parameters
    ----------
    wedge : Wedge
        Of the film at the beginning; without azimuth it counts as none.
    start : float [m]
        Mean film at the beginning.
    end : float [m]
        Mean film at the end.
    radius : float [m]
        Of the smaller disc.
    load_offset : float [m]
        How far from the centre the load acts.
    load_azimuth : float [rad]
        Where it acts; the film comes out thin there.

    Returns
    -------
    Wedge

    Raises
    ------
    OutOfValidRange
        A film not above zero, a film that grows, or an offset not inside the disc.

    Notes
    -----
    First order in wedge over film, from Reynolds' equation:

    .. math:: \Delta(h) = \Delta_\infty(h) + (\Delta_0 - \Delta_\infty(h_0)) \left(\frac{h}{h_0}\right)^{4.5},
              \quad |\Delta_\infty| = \frac{48}{7} \frac{\delta}{R} h

    with the offset's wedge thick opposite the load. A press that cannot tilt prints its own error instead.

    References
    ----------
    .. [1] Own solution of Reynolds' equation; no published source found. Key ``reynolds1886``.

    Examples
    --------
    >>> before = Wedge(amount=20e-6, azimuth=0.0)
    >>> round(pressed_wedge(before, start=50e-6, end=10e-6, radius=25e-3).amount * 1e6, 3)
    0.014
    """
    _need_lengths(start=start, end=end, radius=radius)
    _need_thinner(start, end)
    if not 0.0 <= load_offset < radius:
        raise OutOfValidRange("load_offset", load_offset, f"0 to less than the radius, {radius:g} m")
    away = -OFFSET_WEDGE * load_offset / radius * complex(math.cos(load_azimuth), math.sin(load_azimuth))
    first = 0j if wedge.azimuth is None else wedge.amount * complex(math.cos(wedge.azimuth), math.sin(wedge.azimuth))
    last = away * end + (first - away * start) * (end / start) ** HEALING_POWER
    if abs(last) == 0.0:
        return Wedge(amount=0.0, azimuth=None)
    return Wedge(amount=abs(last), azimuth=math.atan2(last.imag, last.real) % (2.0 * math.pi))


# ----------------------------------------------------------------------------------------------------------------------


def _flow_per_second(load: float, radius: float, viscosity: float) -> float:
    """How fast 1/h^2 grows [1/(m2 s)]."""
    return 4.0 * load / (3.0 * math.pi * viscosity * radius**4)


def _need_lengths(**lengths: float) -> None:
    for name, length in lengths.items():
        need_length(name, length)


def _need_volume(volume: float) -> None:
    if not SHORTEST**3 <= volume <= LONGEST**3:
        raise OutOfValidRange("volume", volume, "more than zero, one that can be meant [m3]")


def _need_time(time: float) -> None:
    if not (math.isfinite(time) and time >= 0.0):
        raise OutOfValidRange("time", time, "zero or more [s]")


def _need_thinner(start: float, end: float) -> None:
    if end > start:
        raise OutOfValidRange("end", end, f"at most the film at the beginning, {start:g} m")
