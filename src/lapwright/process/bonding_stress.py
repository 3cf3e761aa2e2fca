"""Stress and bow of bonded plates after cooling: two layers in closed form, any number of layers axis by axis.

Perfect bond, elastic, small deflection (bow below the sum of thicknesses), free to bow, temperature even. A soft wax
relaxes most of it, so these are upper limits. Positive curvature: domed, seen on the worked face.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.process.sensible import need_length, need_positive


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One layer: thickness [m], Young's moduli [Pa] and expansions [1/K] along the two axes, Poisson's ratio.

    Axis 1 is x of the wafer frame, axis 2 is y. `poisson_ratio` is that of a pull along axis 1.
    """

    name: str
    thickness: float
    moduli: tuple[float, float]
    poisson_ratio: float
    expansions: tuple[float, float]

    def __post_init__(self) -> None:
        need_length(f"thickness of {self.name}", self.thickness)
        if not min(self.moduli) > 0.0:
            raise OutOfValidRange(f"modulus of {self.name}", min(self.moduli), "more than zero [Pa]")
        if not abs(self.poisson_ratio) ** 2 * self.moduli[1] / self.moduli[0] < 1.0:
            raise OutOfValidRange(f"Poisson's ratio of {self.name}", self.poisson_ratio, "one that its moduli allow")


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerStress:
    """Stress in one layer [Pa] along the two axes: at its bottom and at its top; tension positive."""

    name: str
    bottom: tuple[float, float]
    top: tuple[float, float]

    @property
    def mean(self) -> tuple[float, float]:
        """Mean over the thickness, axis by axis."""
        return (0.5 * (self.bottom[0] + self.top[0]), 0.5 * (self.bottom[1] + self.top[1]))

    @property
    def largest_tension(self) -> float:
        """Largest tension at either face along either axis; zero where everything is pressed."""
        return max(0.0, *self.bottom, *self.top)

    @property
    def largest(self) -> float:
        """Largest stress by amount, with its sign."""
        return max((*self.bottom, *self.top), key=abs)


@dataclass(frozen=True, slots=True, kw_only=True)
class BondedPlate:
    """A bonded stack after cooling: curvature along the two axes [1/m], positive when domed, and stress by layer."""

    curvatures: tuple[float, float]
    stresses: tuple[LayerStress, ...]

    def bows(self, diameter: float) -> tuple[float, float]:
        """Rise of the middle over the rim along the two axes [m]."""
        return (self.curvatures[0] * diameter**2 / 8.0, self.curvatures[1] * diameter**2 / 8.0)


def isotropic_layer(
    name: str, *, thickness: float, youngs_modulus: float, poisson_ratio: float, expansion: float
) -> Layer:
    """A layer that is the same along both axes.

    Parameters
    ----------
    name : str
        What it is called.
    thickness : float [m]
        Its thickness.
    youngs_modulus : float [Pa]
        Young's modulus.
    poisson_ratio : float [1]
        Poisson's ratio.
    expansion : float [1/K]
        Coefficient of thermal expansion.

    Returns
    -------
    Layer

    Raises
    ------
    OutOfValidRange
        A thickness or modulus not above zero.

    Examples
    --------
    >>> glass = isotropic_layer("glass", thickness=3e-3, youngs_modulus=63e9, poisson_ratio=0.2, expansion=3.3e-6)
    >>> glass.expansions
    (3.3e-06, 3.3e-06)
    """
    return Layer(
        name=name,
        thickness=thickness,
        moduli=(youngs_modulus, youngs_modulus),
        poisson_ratio=poisson_ratio,
        expansions=(expansion, expansion),
    )


def bonded_plate(layers: Sequence[Layer], *, temperature_change: float) -> BondedPlate:
    r"""Curvature and stress of bonded layers after a change of temperature, along two axes at once.

    Parameters
    ----------
    layers : sequence of Layer
        From the bottom (carrier) to the top (worked face of the wafer).
    temperature_change : float [K]
        Use temperature minus the temperature at which the bond set; negative on cooling.

    Returns
    -------
    BondedPlate

    Raises
    ------
    OutOfValidRange
        No layer at all, or a change that is no number.

    Notes
    -----
    Classical theory of laminated plates. With Q the stiffness of a layer in plane stress along its axes and z from the
    bottom,

    .. math:: \begin{pmatrix} N \\ M \end{pmatrix} = \begin{pmatrix} A & B \\ B & D \end{pmatrix}
              \begin{pmatrix} \varepsilon \\ \kappa \end{pmatrix}, \quad
              \sigma = Q (\varepsilon + z \kappa - \alpha \Delta T)

    and N, M the thermal force and moment. For two layers alike along both axes it is `two_layer_curvature` with
    biaxial moduli. Crystals whose expansion differs in the plane bow into a trough: each axis has its own curvature.

    References
    ----------
    .. [1] S. P. Timoshenko, "Analysis of bi-metal thermostats", J. Opt. Soc. Am. 11 (1925) 233-255.
       Key ``timoshenko1925``.

    Examples
    --------
    >>> glass = isotropic_layer("glass", thickness=1.1e-3, youngs_modulus=63e9, poisson_ratio=0.2, expansion=3.25e-6)
    >>> wafer = isotropic_layer("Si", thickness=525e-6, youngs_modulus=130e9, poisson_ratio=0.28, expansion=2.6e-6)
    >>> plate = bonded_plate([glass, wafer], temperature_change=-80.0)
    >>> round(plate.bows(0.1)[0] * 1e6, 1)
    58.6
    """
    if not layers:
        raise OutOfValidRange("number of layers", 0, "at least one")
    if not math.isfinite(temperature_change):
        raise OutOfValidRange("temperature_change", temperature_change, "a number [K]")
    stiffness = [_stiffness(layer) for layer in layers]
    free = [np.asarray(layer.expansions) * temperature_change for layer in layers]
    edges = np.concatenate([[0.0], np.cumsum([layer.thickness for layer in layers])])
    edges = edges - 0.5 * edges[-1]
    system, push = np.zeros((4, 4)), np.zeros(4)
    for q, strain, low, high in zip(stiffness, free, edges, edges[1:], strict=False):
        first, second, third = high - low, (high**2 - low**2) / 2.0, (high**3 - low**3) / 3.0
        system += np.block([[q * first, q * second], [q * second, q * third]])
        push += np.concatenate([q @ strain * first, q @ strain * second])
    scale = np.array([1.0, 1.0, edges[-1], edges[-1]])  # strains of like size: the matrix stays well conditioned
    solved = np.linalg.solve(system / np.outer(scale, scale), push / scale) / scale
    strain0, curvature = solved[:2], solved[2:]
    stresses = tuple(
        LayerStress(
            name=layer.name,
            bottom=_pair(q @ (strain0 + low * curvature - own)),
            top=_pair(q @ (strain0 + high * curvature - own)),
        )
        for layer, q, own, low, high in zip(layers, stiffness, free, edges, edges[1:], strict=False)
    )
    return BondedPlate(curvatures=_pair(curvature), stresses=stresses)


def two_layer_curvature(
    thickness: float, other_thickness: float, *, modulus: float, other_modulus: float, mismatch: float
) -> float:
    r"""Curvature of two bonded layers whose free lengths differ by a strain.

    Parameters
    ----------
    thickness : float [m]
        Of the first layer, t1.
    other_thickness : float [m]
        Of the second, t2.
    modulus : float [Pa]
        Of the first, E1: Young's for a strip, biaxial E/(1 - nu) for a plate.
    other_modulus : float [Pa]
        Of the second, E2, of the same kind.
    mismatch : float [1]
        Free strain of the second minus that of the first, (a2 - a1) dT.

    Returns
    -------
    float [1/m]
        Positive when the second layer is on the outside of the bend.

    Raises
    ------
    OutOfValidRange
        A thickness or modulus not above zero.

    Notes
    -----
    .. math:: \kappa = \frac{6 \, \varepsilon \, (1+m)^2}
              {(t_1+t_2)\left[3(1+m)^2 + (1+mn)\left(m^2 + \frac{1}{mn}\right)\right]},
              \quad m = \frac{t_1}{t_2}, \; n = \frac{E_1}{E_2}

    References
    ----------
    .. [1] S. P. Timoshenko (1925), eq. (4) (from memory). Key ``timoshenko1925``.

    Examples
    --------
    >>> equal = two_layer_curvature(0.5e-3, 0.5e-3, modulus=2e11, other_modulus=2e11, mismatch=8e-4)
    >>> round(equal * 1e-3, 6)
    0.0012
    """
    for name, value in (("thickness", thickness), ("other_thickness", other_thickness)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero [m]")
    for name, value in (("modulus", modulus), ("other_modulus", other_modulus)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero [Pa]")
    m, n = thickness / other_thickness, modulus / other_modulus
    stiff = 3.0 * (1.0 + m) ** 2 + (1.0 + m * n) * (m**2 + 1.0 / (m * n))
    return 6.0 * mismatch * (1.0 + m) ** 2 / ((thickness + other_thickness) * stiff)


def thin_film_curvature(stress: float, *, film: float, thickness: float, modulus: float) -> float:
    r"""Curvature that a thin stressed film gives a thick plate.

    Parameters
    ----------
    stress : float [Pa]
        In the film, tension positive.
    film : float [m]
        Thickness of the film, below about a hundredth of the plate's.
    thickness : float [m]
        Of the plate.
    modulus : float [Pa]
        Biaxial modulus of the plate.

    Returns
    -------
    float [1/m]
        Positive when the face with the film is concave (film in tension).

    Raises
    ------
    OutOfValidRange
        A thickness or modulus not above zero.

    Notes
    -----
    .. math:: \kappa = \frac{6 \sigma_f t_f}{E' t^2}

    References
    ----------
    .. [1] G. G. Stoney, "The tension of metallic films deposited by electrolysis", Proc. R. Soc. A 82 (1909) 172-175.
       Key ``stoney1909``.

    Examples
    --------
    >>> bent = thin_film_curvature(165.834e6, film=1e-6, thickness=525e-6, modulus=180.5e9)
    >>> round(1.0 / bent, 1)
    50.0
    """
    need_positive(film=film, thickness=thickness, modulus=modulus)
    return 6.0 * stress * film / (modulus * thickness**2)


# ----------------------------------------------------------------------------------------------------------------------


def _stiffness(layer: Layer) -> NDArray[np.float64]:
    """Stiffness in plane stress, shape (2, 2) [Pa]."""
    first, second = layer.moduli
    nu12 = layer.poisson_ratio
    nu21 = nu12 * second / first
    off = nu12 * second / (1.0 - nu12 * nu21)
    return np.array([[first / (1.0 - nu12 * nu21), off], [off, second / (1.0 - nu12 * nu21)]])


def _pair(values: NDArray[np.float64]) -> tuple[float, float]:
    return (float(values[0]), float(values[1]))
