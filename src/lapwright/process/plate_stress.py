"""Stress and sag of thin discs in the hand: own weight, suction, a push, a bend. Small deflection, isotropic plate."""

from __future__ import annotations

import math

from lapwright.errors import OutOfValidRange
from lapwright.process.sensible import need_length, need_positive

_LENGTHS = ("thickness", "radius", "contact", "opening", "bend_radius")
GRAVITY = 9.80665  # m/s2, standard value


def own_weight_sag(
    *, thickness: float, radius: float, density: float, youngs_modulus: float, poisson_ratio: float
) -> float:
    r"""Sag of a disc that lies on its rim, from its own weight.

    Parameters
    ----------
    thickness : float [m]
        Of the wafer.
    radius : float [m]
        Of the ring it lies on.
    density : float [kg/m3]
        Of the wafer.
    youngs_modulus : float [Pa]
        Of the wafer.
    poisson_ratio : float [1]
        Of the wafer.

    Returns
    -------
    float [m]

    Raises
    ------
    OutOfValidRange
        A length, density or modulus not above zero.

    Notes
    -----
    .. math:: w_0 = \frac{5+\nu}{64 (1+\nu)} \frac{q a^4}{D}, \quad q = \rho g t, \; D = \frac{E t^3}{12(1-\nu^2)}

    Linear: an upper limit once the sag passes half the thickness.

    References
    ----------
    .. [1] S. Timoshenko, S. Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. (1959), art. 16.
       Key ``timoshenko1959``.

    Examples
    --------
    >>> sag = own_weight_sag(thickness=525e-6, radius=0.05, density=2329.0, youngs_modulus=130e9, poisson_ratio=0.28)
    >>> round(sag * 1e6, 3)
    2.84
    """
    _need_positive(thickness=thickness, radius=radius, density=density, youngs_modulus=youngs_modulus)
    rigidity = youngs_modulus * thickness**3 / (12.0 * (1.0 - poisson_ratio**2))
    load = density * GRAVITY * thickness
    return (5.0 + poisson_ratio) / (64.0 * (1.0 + poisson_ratio)) * load * radius**4 / rigidity


def own_weight_stress(*, thickness: float, radius: float, density: float, poisson_ratio: float) -> float:
    r"""Largest tension in a disc that lies on its rim, from its own weight.

    Parameters
    ----------
    thickness : float [m]
        Of the wafer.
    radius : float [m]
        Of the ring it lies on.
    density : float [kg/m3]
        Of the wafer.
    poisson_ratio : float [1]
        Of the wafer.

    Returns
    -------
    float [Pa]

    Raises
    ------
    OutOfValidRange
        A length or density not above zero.

    Notes
    -----
    .. math:: \sigma = \frac{3(3+\nu)}{8} \frac{q a^2}{t^2}

    References
    ----------
    .. [1] S. Timoshenko, S. Woinowsky-Krieger (1959), art. 16. Key ``timoshenko1959``.

    Examples
    --------
    >>> round(own_weight_stress(thickness=100e-6, radius=0.05, density=2329.0, poisson_ratio=0.28) / 1e6, 3)
    0.702
    """
    _need_positive(thickness=thickness, radius=radius, density=density)
    load = density * GRAVITY * thickness
    return 3.0 * (3.0 + poisson_ratio) / 8.0 * load * radius**2 / thickness**2


def suction_stress(suction: float, *, opening: float, thickness: float) -> float:
    r"""Largest tension in a wafer over the opening of a suction cup, its rim held by the lip.

    Parameters
    ----------
    suction : float [Pa]
        Below the air's pressure.
    opening : float [m]
        Radius of the opening.
    thickness : float [m]
        Of the wafer.

    Returns
    -------
    float [Pa]

    Raises
    ------
    OutOfValidRange
        A suction, opening or thickness not above zero.

    Notes
    -----
    .. math:: \sigma = \frac{3}{4} \frac{q b^2}{t^2}

    at the lip of a clamped plate.

    References
    ----------
    .. [1] S. Timoshenko, S. Woinowsky-Krieger (1959), art. 15. Key ``timoshenko1959``.

    Examples
    --------
    >>> round(suction_stress(30e3, opening=2e-3, thickness=100e-6) / 1e6, 2)
    9.0
    """
    _need_positive(suction=suction, opening=opening, thickness=thickness)
    return 0.75 * suction * opening**2 / thickness**2


def push_stress(force: float, *, contact: float, radius: float, thickness: float, poisson_ratio: float) -> float:
    r"""Largest tension in a disc on its rim that is pushed in the middle over a small round spot.

    Parameters
    ----------
    force : float [N]
        Of the push.
    contact : float [m]
        Radius of the spot; above the thickness.
    radius : float [m]
        Of the ring the wafer lies on.
    thickness : float [m]
        Of the wafer.
    poisson_ratio : float [1]
        Of the wafer.

    Returns
    -------
    float [Pa]

    Raises
    ------
    OutOfValidRange
        A value not above zero, or a spot larger than the disc.

    Notes
    -----
    .. math:: \sigma = \frac{3F}{2 \pi t^2} \left[(1+\nu) \ln\frac{a}{c} + 1 - \frac{(1-\nu) c^2}{4 a^2}\right]

    References
    ----------
    .. [1] S. Timoshenko, S. Woinowsky-Krieger (1959), art. 19. Key ``timoshenko1959``.

    Examples
    --------
    >>> stress = push_stress(0.5, contact=2e-3, radius=25e-3, thickness=100e-6, poisson_ratio=0.28)
    >>> round(stress / 1e6, 1)
    101.0
    """
    _need_positive(force=force, contact=contact, radius=radius, thickness=thickness)
    if not contact < radius:
        raise OutOfValidRange("contact", contact, f"less than the radius, {radius:g} m")
    part = (1.0 + poisson_ratio) * math.log(radius / contact) + 1.0
    part -= (1.0 - poisson_ratio) * contact**2 / (4.0 * radius**2)
    return 3.0 * force / (2.0 * math.pi * thickness**2) * part


def push_stress_at_rim(force: float, *, thickness: float, poisson_ratio: float) -> float:
    r"""Tension along the rim of a disc that lies on it and is pushed in the middle.

    Parameters
    ----------
    force : float [N]
        Of the push.
    thickness : float [m]
        Of the wafer.
    poisson_ratio : float [1]
        Of the wafer.

    Returns
    -------
    float [Pa]

    Raises
    ------
    OutOfValidRange
        A force or thickness not above zero.

    Notes
    -----
    .. math:: \sigma = \frac{3 (1-\nu) F}{2 \pi t^2}

    References
    ----------
    .. [1] S. Timoshenko, S. Woinowsky-Krieger (1959), art. 19. Key ``timoshenko1959``.

    Examples
    --------
    >>> round(push_stress_at_rim(0.5, thickness=100e-6, poisson_ratio=0.28) / 1e6, 1)
    17.2
    """
    _need_positive(force=force, thickness=thickness)
    return 3.0 * (1.0 - poisson_ratio) * force / (2.0 * math.pi * thickness**2)


def bend_stress(modulus: float, *, thickness: float, bend_radius: float) -> float:
    r"""Tension in a face bent to a radius.

    Parameters
    ----------
    modulus : float [Pa]
        Biaxial modulus for a bowl, E/(1 - nu^2) for a cylinder.
    thickness : float [m]
        Of the wafer.
    bend_radius : float [m]
        To which it is bent.

    Returns
    -------
    float [Pa]

    Raises
    ------
    OutOfValidRange
        A value not above zero.

    Notes
    -----
    .. math:: \sigma = \frac{E' t}{2 \rho}

    Examples
    --------
    >>> round(bend_stress(180e9, thickness=100e-6, bend_radius=0.1) / 1e6)
    90
    """
    _need_positive(modulus=modulus, thickness=thickness, bend_radius=bend_radius)
    return modulus * thickness / (2.0 * bend_radius)


# ----------------------------------------------------------------------------------------------------------------------


def _need_positive(**values: float) -> None:
    for name in _LENGTHS:
        if name in values:
            need_length(name, values[name])
    need_positive(**values)
