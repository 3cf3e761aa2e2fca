"""Load, weight and pressure on one or several pieces of any outline, and a recipe carried to another size.

The load is what pushes jig and wafer down; a spring may lift part of it, and foot or ring may carry a share of the
rest. Pressure is the mean over the area in contact. Left out: the gradient that friction adds at the leading edge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.errors import OutOfValidRange
from lapwright.model.wafer import Outline, Polygon, Rectangle, Round
from lapwright.units import STANDARD_GRAVITY


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """Settings of one stage for pieces of one size. SI.

    `load` [N] pushes down, `spring_lift` [N] is taken off it, `carried_share` is the part of the rest on foot or ring;
    `area` [m2] is that of all pieces together; `bond_time` [s] is how long the adhesive is pressed.
    """

    pressure: float
    speed: float
    load: float
    area: float
    spring_lift: float = 0.0
    carried_share: float = 0.0
    bond_time: float | None = None


def weight(mass: float) -> float:
    """Weight of a mass under standard gravity.

    Parameters
    ----------
    mass : float [kg]
        Zero or more.

    Returns
    -------
    float [N]

    Raises
    ------
    OutOfValidRange
        `mass` is negative.

    Examples
    --------
    >>> weight(2.0)
    19.6133
    """
    if not mass >= 0.0:
        raise OutOfValidRange("mass", mass, "zero or more [kg]")
    return mass * STANDARD_GRAVITY


def outline_area(outline: Outline) -> float:
    r"""Area of a piece's face.

    Parameters
    ----------
    outline : Round, Rectangle or Polygon
        A flat is taken off; a notch is not (below 0.01 % of the area).

    Returns
    -------
    float [m2]

    Notes
    -----
    .. math:: A = \pi R^2 - \tfrac{1}{2} R^2 (\varphi - \sin\varphi), \quad \varphi = 2 \arcsin(L / 2R)

    Polygons by the shoelace formula, corners in either order.

    Examples
    --------
    >>> round(outline_area(Round(diameter=0.0508)) * 1e4, 3)
    20.268
    """
    if isinstance(outline, Rectangle):
        return outline.width * outline.height
    if isinstance(outline, Polygon):
        following = outline.corners[1:] + outline.corners[:1]
        return 0.5 * abs(sum(ax * by - bx * ay for (ax, ay), (bx, by) in zip(outline.corners, following, strict=True)))
    return _disc_area(outline)


def contact_pressure(
    load: float, areas: Sequence[float], *, spring_lift: float = 0.0, carried_share: float = 0.0
) -> float:
    r"""Mean pressure on the pieces under a load.

    Parameters
    ----------
    load : float [N]
        What pushes jig and pieces down: weights, jig, set load.
    areas : sequence of float [m2]
        Area of each piece in contact; dummy pieces count.
    spring_lift : float [N]
        What spring or counterweight takes off the load. Negative when it presses.
    carried_share : float [1]
        Part of the rest that foot or ring carries, from 0 to less than 1.

    Returns
    -------
    float [Pa]

    Raises
    ------
    OutOfValidRange
        No area, a share outside [0, 1), or a lift larger than the load.

    Notes
    -----
    .. math:: p = (F - F_\mathrm{lift})(1 - q) / \sum A

    Examples
    --------
    >>> round(contact_pressure(weight(1.0), [outline_area(Round(diameter=0.0508))]) / 1e3, 3)
    4.838
    """
    area = _total_area(areas)
    _need_share(carried_share)
    net = load - spring_lift
    if not net >= 0.0:
        raise OutOfValidRange("net load", net, "zero or more [N]", "The spring lifts more than the load presses.")
    return net * (1.0 - carried_share) / area


def load_for_pressure(
    pressure: float, areas: Sequence[float], *, spring_lift: float = 0.0, carried_share: float = 0.0
) -> float:
    """Load that gives a mean pressure on the pieces: the inverse of `contact_pressure`.

    Parameters
    ----------
    pressure : float [Pa]
        Zero or more.
    areas : sequence of float [m2]
        Area of each piece in contact.
    spring_lift : float [N]
        What spring or counterweight takes off the load. Negative when it presses.
    carried_share : float [1]
        Part of the rest that foot or ring carries, from 0 to less than 1.

    Returns
    -------
    float [N]
        Divide by standard gravity for the mass to put on.

    Raises
    ------
    OutOfValidRange
        No area, a share outside [0, 1), or a negative pressure.

    Examples
    --------
    >>> round(load_for_pressure(4838.0, [20.268e-4]), 2)
    9.81
    """
    if not pressure >= 0.0:
        raise OutOfValidRange("pressure", pressure, "zero or more [Pa]")
    _need_share(carried_share)
    return pressure * _total_area(areas) / (1.0 - carried_share) + spring_lift


def transferred_recipe(recipe: Recipe, areas: Sequence[float]) -> Recipe:
    r"""A recipe for pieces of another size: pressure and speed kept, load and bond time computed anew.

    Parameters
    ----------
    recipe : Recipe
        What works on the known size.
    areas : sequence of float [m2]
        Area of each piece of the new size.

    Returns
    -------
    Recipe

    Raises
    ------
    OutOfValidRange
        No area, or a share outside [0, 1).

    Notes
    -----
    Bond time at equal pressing pressure grows with the area of a piece, since by squeeze flow (Stefan 1874)

    .. math:: 1/h^2 - 1/h_0^2 = 4 p t / (3 \eta R^2)

    and R is that of the disc of equal area. The pieces of one recipe are taken as equal in number and size for this.

    Examples
    --------
    >>> small = Recipe(pressure=4838.0, speed=0.5, load=9.8067, area=20.268e-4, bond_time=300.0)
    >>> large = transferred_recipe(small, [78.54e-4])
    >>> round(large.load, 1), round(large.bond_time)
    (38.0, 1163)
    """
    area = _total_area(areas)
    load = load_for_pressure(recipe.pressure, areas, spring_lift=recipe.spring_lift, carried_share=recipe.carried_share)
    bond_time = None if recipe.bond_time is None else recipe.bond_time * area / recipe.area
    return Recipe(
        pressure=recipe.pressure,
        speed=recipe.speed,
        load=load,
        area=area,
        spring_lift=recipe.spring_lift,
        carried_share=recipe.carried_share,
        bond_time=bond_time,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _disc_area(outline: Round) -> float:
    radius = outline.diameter / 2.0
    full = math.pi * radius**2
    if outline.mark != "flat":
        return full
    angle = 2.0 * math.asin(outline.flat_length / outline.diameter)
    return full - 0.5 * radius**2 * (angle - math.sin(angle))


def _total_area(areas: Sequence[float]) -> float:
    if not areas or not all(area > 0.0 for area in areas):
        raise OutOfValidRange("area in contact", min(areas, default=0.0), "at least one piece, each above zero [m2]")
    return sum(areas)


def _need_share(carried_share: float) -> None:
    if not 0.0 <= carried_share < 1.0:
        raise OutOfValidRange("carried_share", carried_share, "from 0 to less than 1")
