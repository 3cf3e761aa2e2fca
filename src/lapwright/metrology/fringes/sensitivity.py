"""Height per fringe from wavelength and angle of incidence."""

from __future__ import annotations

import math

from lapwright.errors import OutOfValidRange


def fringe_height(*, wavelength: float, incidence: float = 0.0) -> float:
    r"""Height per fringe: the step in height that moves the picture by one whole fringe.

    Parameters
    ----------
    wavelength : float [m]
        Wavelength of the light where the gap is (air: as usual given).
    incidence : float, 0 <= incidence < pi/2 [rad]
        Angle of incidence from the surface normal; 0 is straight on.

    Returns
    -------
    float [m]
        More than zero.

    Raises
    ------
    OutOfValidRange
        Wavelength not a finite length above zero, or incidence outside 0 to 90 degrees.

    Notes
    -----
    .. math:: s = \frac{\lambda}{2 \cos\theta}

    The light passes the gap twice. An "equivalent wavelength" :math:`\lambda / \cos\theta` is two fringe heights.
    An error of the angle enters as :math:`\mathrm{d}s/s = \tan\theta\,\mathrm{d}\theta`: at 80 degrees a tenth
    of a degree is 1 %.

    References
    ----------
    .. [1] alcala_ochoa: N. Alcalá Ochoa, G. Mendiola, J. E. A. Landgrave, "Flatness measurement using a grazing
       incidence interferometer," Revista Mexicana de Física, abstract: equivalent wavelength 3.6441 µm.

    Examples
    --------
    >>> round(fringe_height(wavelength=632.8e-9, incidence=math.radians(75.0)) * 1e6, 4)
    1.2225
    """
    if not (math.isfinite(wavelength) and wavelength > 0.0):
        raise OutOfValidRange("wavelength", wavelength, "a finite length above zero")
    if not 0.0 <= incidence < math.pi / 2.0:
        raise OutOfValidRange(
            "incidence", incidence, "0 to less than 90 degrees", "Count the angle from the surface normal."
        )
    return wavelength / (2.0 * math.cos(incidence))
