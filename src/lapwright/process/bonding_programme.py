"""A bonding programme: temperature, load, dwell and cooling that give a wanted film, and warnings about a programme.

The viscosity of a wax is known to an order of magnitude, so the times are, too: measure the first bonds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lapwright.errors import NoViscosity, OutOfValidRange
from lapwright.library import Adhesive, Library, Trust
from lapwright.process.bonding import FILM_BAND, Heat, ViscosityCurve, squeeze_time, squeezed_film, viscosity_at
from lapwright.process.sensible import need_length
from lapwright.process.words import micrometres as um

USUAL_DWELL = 600.0  # s; a dwell that a bench takes without grumbling (common practice, no source)
LONGEST_DWELL = 3600.0
LEAST_PRESSURE, MOST_PRESSURE = 10e3, 200e3  # Pa (common practice, no source)
START_FILM = 200e-6  # m; a film of melted wax before it is pressed (common practice, no source)
RELEASE_ABOVE_ROOM = 10.0  # K; the load comes off when the stack is this close to the room
_UNKNOWN_RATE = 2.0 / 60.0  # K/s; where the library names no fastest heating


@dataclass(frozen=True, slots=True, kw_only=True)
class BondWish:
    """What is to be bonded: material and diameter [m] of the wafer, adhesive, film wanted [m], carrier's material.

    `start` is the film before it is pressed, `room` the temperature of the room [K].
    """

    material: str
    diameter: float
    adhesive: str
    film: float
    carrier: str = "borosilicate"
    start: float = START_FILM
    room: float = 294.15
    most_load: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BondProgramme:
    """A programme: temperature [K], load [N] and pressure [Pa], dwell under load [s], heating and cooling rate [K/s].

    The load stays on until `release_temperature` [K]. `total_time` [s] holds heating, dwell and cooling. `film_low` and
    `film_high` say how far the film may miss [m].
    """

    temperature: float
    load: float
    pressure: float
    dwell: float
    heating_rate: float
    cooling_rate: float
    release_temperature: float
    total_time: float
    viscosity: float
    viscosity_trust: Trust
    film: float
    film_low: float
    film_high: float
    steps: tuple[str, ...]
    warnings: tuple[tuple[str, str], ...]


def viscosity_curve(library: Library, adhesive: str) -> ViscosityCurve:
    """The viscosity table of an adhesive.

    Parameters
    ----------
    library : Library
        With its rows of viscosity.
    adhesive : str
        Its id.

    Returns
    -------
    ViscosityCurve

    Raises
    ------
    NotFound
        No such adhesive.
    NoViscosity
        Fewer than two rows of viscosity: the film cannot be told.

    Examples
    --------
    >>> from lapwright.library import load
    >>> len(viscosity_curve(load(), "mounting-wax").viscosities)
    3
    """
    glue = library.adhesive(adhesive)
    rows = library.viscosities_of(glue.adhesive_id)
    if len(rows) < 2:
        raise NoViscosity(glue.adhesive_id, len(rows))
    return ViscosityCurve(
        temperatures=tuple(row.temperature for row in rows), viscosities=tuple(row.viscosity for row in rows)
    )


def suggested_programme(library: Library, wish: BondWish) -> BondProgramme:
    """A programme that gives the wanted film: as little heat and load as a usual dwell allows.

    Parameters
    ----------
    library : Library
        Adhesive with viscosities; fastest heating of wafer and carrier.
    wish : BondWish
        What is to be bonded.

    Returns
    -------
    BondProgramme
        The coldest temperature of the adhesive's range, then the smallest load from 10 kPa, that need at most ten
        minutes; at the hottest and heaviest the dwell grows, and a warning says so.

    Raises
    ------
    NotFound
        Material or adhesive not in the library.
    NoViscosity
        The adhesive has no viscosity table.
    OutOfValidRange
        A length not above zero, or a film above the start.

    Examples
    --------
    >>> from lapwright.library import load
    >>> wish = BondWish(material="LiTaO3", diameter=0.0508, adhesive="mounting-wax", film=5e-6)
    >>> programme = suggested_programme(load(), wish)
    >>> programme.dwell <= 600.0
    True
    """
    _need_sense(wish)
    curve, glue = viscosity_curve(library, wish.adhesive), library.adhesive(wish.adhesive)
    low, high = _temperatures(glue, curve)
    area = math.pi * wish.diameter**2 / 4.0
    most = MOST_PRESSURE * area if wish.most_load is None else wish.most_load
    least = min(LEAST_PRESSURE * area, most)
    temperature, load, dwell = high, most, _dwell(curve, wish, high, most)
    for step in range(11):
        candidate = low + (high - low) * step / 10.0
        at_most_load = _dwell(curve, wish, candidate, most)
        if at_most_load <= USUAL_DWELL:
            needed = max(least, most * at_most_load / USUAL_DWELL)  # time goes with one over load
            temperature, load, dwell = candidate, needed, _dwell(curve, wish, candidate, needed)
            break
    rate = fastest_heating(library, wish.material, wish.carrier)
    release = wish.room + RELEASE_ABOVE_ROOM
    trust = library.viscosities_of(glue.adhesive_id)[0].origin.trust
    warnings = [*_wish_warnings(glue, wish, dwell), *_order_of_magnitude(trust)]
    return BondProgramme(
        temperature=temperature,
        load=load,
        pressure=load / area,
        dwell=dwell,
        heating_rate=rate,
        cooling_rate=rate,
        release_temperature=release,
        total_time=dwell + ((temperature - wish.room) + (temperature - release)) / rate,
        viscosity=viscosity_at(curve, temperature),
        viscosity_trust=trust,
        film=wish.film,
        film_low=wish.film / FILM_BAND,
        film_high=min(wish.film * FILM_BAND, wish.start),
        steps=_steps(temperature, load, dwell, rate, release),
        warnings=tuple(warnings),
    )


def fastest_heating(library: Library, *materials: str) -> float:
    """Fastest heating or cooling that all of these materials bear.

    Parameters
    ----------
    library : Library
        Fastest heating by material.
    *materials : str
        Wafer and carrier.

    Returns
    -------
    float [K/s]
        2 K/min where nothing is known.

    Examples
    --------
    >>> from lapwright.library import load
    >>> round(fastest_heating(load(), "LiTaO3", "borosilicate") * 60.0, 1)
    2.0
    """
    rates = [library.material(one).value("temperature_rate") for one in materials]
    return min((one for one in rates if one is not None), default=_UNKNOWN_RATE)


def programme_warnings(
    library: Library, wish: BondWish, *, temperature: float, load: float, dwell: float, cooling_rate: float
) -> tuple[tuple[str, str], ...]:
    """What speaks against a programme as it is meant to be run.

    Parameters
    ----------
    library : Library
        Adhesive with viscosities; fastest heating of wafer and carrier.
    wish : BondWish
        What is to be bonded; its film is the one wanted.
    temperature : float [K]
        While the load is on.
    load : float [N]
        On the stack.
    dwell : float [s]
        Under load.
    cooling_rate : float [K/s]
        Meant.

    Returns
    -------
    tuple of (code, sentence)
        Too cold, film thicker than wanted, cooled too fast.

    Raises
    ------
    NoViscosity
        The adhesive has no viscosity table.

    Examples
    --------
    >>> from lapwright.library import load
    >>> wish = BondWish(material="LiTaO3", diameter=0.0508, adhesive="mounting-wax", film=5e-6)
    >>> found = programme_warnings(load(), wish, temperature=373.15, load=50.0, dwell=300.0, cooling_rate=0.2)
    >>> [code for code, _ in found]
    ['bond.too_cold', 'bond.too_thick', 'bond.cooled_too_fast']
    """
    _need_sense(wish)
    curve, glue = viscosity_curve(library, wish.adhesive), library.adhesive(wish.adhesive)
    found = []
    if glue.bonding_low is not None and temperature < glue.bonding_low:
        sentence = (
            f"{temperature - 273.15:.0f} °C is too cold for {glue.name}: it is bonded from "
            f"{glue.bonding_low - 273.15:.0f} °C on."
        )
        found.append(("bond.too_cold", sentence))
    if curve.temperatures[0] <= temperature <= curve.temperatures[-1]:
        film = squeezed_film(
            load, radius=0.5 * wish.diameter, viscosity=viscosity_at(curve, temperature), start=wish.start, time=dwell
        )
        if film > wish.film * 1.02:
            needed = _dwell(curve, wish, temperature, load)
            sentence = (
                f"The film comes out at about {um(film)}, thicker than the {um(wish.film)} wanted; it would take "
                f"{needed / 60.0:.0f} min at this heat and load. Heat it more before you load it more."
            )
            found.append(("bond.too_thick", sentence))
    fastest = fastest_heating(library, wish.material, wish.carrier)
    if cooling_rate > fastest * 1.001:
        sentence = (
            f"Cooling at {cooling_rate * 60.0:.1f} K/min is faster than {fastest * 60.0:.1f} K/min, which "
            f"{wish.material} on {wish.carrier} bears: it may crack."
        )
        found.append(("bond.cooled_too_fast", sentence))
    return tuple(found)


def as_heats(programme: BondProgramme, *, room: float) -> tuple[Heat, ...]:
    """A programme as stretches of temperature and load: up without load, dwell under load, down under load.

    Parameters
    ----------
    programme : BondProgramme
        As suggested.
    room : float [K]
        Where it begins.

    Returns
    -------
    tuple of Heat

    Examples
    --------
    >>> from lapwright.library import load
    >>> wish = BondWish(material="Si", diameter=0.1, adhesive="mounting-wax", film=8e-6)
    >>> len(as_heats(suggested_programme(load(), wish), room=294.15))
    3
    """
    hot, release = programme.temperature, programme.release_temperature
    return (
        Heat(duration=(hot - room) / programme.heating_rate, start=room, end=hot, load=0.0),
        Heat(duration=programme.dwell, start=hot, end=hot, load=programme.load),
        Heat(duration=(hot - release) / programme.cooling_rate, start=hot, end=release, load=programme.load),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _need_sense(wish: BondWish) -> None:
    for name, value in (("diameter", wish.diameter), ("film", wish.film), ("start", wish.start)):
        need_length(name, value)
    if wish.film > wish.start:
        raise OutOfValidRange("film", wish.film, f"at most the film before pressing, {wish.start:g} m")
    if wish.most_load is not None and not wish.most_load > 0.0:
        raise OutOfValidRange("most_load", wish.most_load, "more than zero [N]")


def _temperatures(glue: Adhesive, curve: ViscosityCurve) -> tuple[float, float]:
    """From … to: the adhesive's bonding range inside its viscosity table."""
    low = max(curve.temperatures[0], glue.bonding_low or curve.temperatures[0])
    high = min(curve.temperatures[-1], glue.bonding_high or curve.temperatures[-1])
    return (low, high) if low <= high else (curve.temperatures[-1], curve.temperatures[-1])


def _dwell(curve: ViscosityCurve, wish: BondWish, temperature: float, load: float) -> float:
    return squeeze_time(
        load, radius=0.5 * wish.diameter, viscosity=viscosity_at(curve, temperature), start=wish.start, end=wish.film
    )


def _wish_warnings(glue: Adhesive, wish: BondWish, dwell: float) -> list[tuple[str, str]]:
    found = []
    if glue.bond_line_low is not None and wish.film < glue.bond_line_low:
        sentence = (
            f"{um(wish.film)} is thinner than {glue.name} usually goes, {um(glue.bond_line_low)}: grains in it decide."
        )
        found.append(("bond.thinner_than_usual", sentence))
    if glue.bond_line_high is not None and wish.film > glue.bond_line_high:
        sentence = (
            f"{um(wish.film)} is thicker than {glue.name} needs to be, {um(glue.bond_line_high)}: every part of it "
            "that is uneven goes into the wafer."
        )
        found.append(("bond.thicker_than_needed", sentence))
    if dwell > LONGEST_DWELL:
        sentence = (
            f"Even hottest and heaviest the dwell is {dwell / 3600.0:.1f} h: doubling the diameter takes sixteen times "
            "as long at the same load. Take a thinner adhesive, or start from a thinner film."
        )
        found.append(("bond.long_dwell", sentence))
    return found


def _order_of_magnitude(trust: Trust) -> list[tuple[str, str]]:
    if trust in ("own", "read", "table"):
        return []
    sentence = (
        "The viscosity is an order of magnitude, so the dwell and the film are, too (the film to x/÷ 2): measure the "
        "first bonds and enter your own viscosities."
    )
    return [("bond.viscosity_guess", sentence)]


def _steps(temperature: float, load: float, dwell: float, rate: float, release: float) -> tuple[str, ...]:
    return (
        f"Heat to {temperature - 273.15:.0f} °C at no more than {rate * 60.0:.1f} K/min; the stack, not the plate.",
        "Let the adhesive melt without load and free it of gas, in vacuum where there is one.",
        f"Load with {load:.0f} N for {dwell / 60.0:.1f} min, through a joint that lets the press tilt.",
        f"Cool under load at no more than {rate * 60.0:.1f} K/min down to {release - 273.15:.0f} °C, then take it off.",
    )
