"""Phase from five pictures a quarter turn apart."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault


def five_frame_phase(frames: NDArray[np.number]) -> NDArray[np.float64]:
    r"""Wrapped phase from five pictures a quarter turn apart, by Hariharan's formula.

    Parameters
    ----------
    frames : float array, shape (5, ...) [1]
        Intensities at the phases -pi, -pi/2, 0, pi/2, pi.

    Returns
    -------
    float array, shape (...) [rad]
        Phase of the middle picture, -pi to pi.

    Raises
    ------
    BadInput
        Another number of pictures.

    Notes
    -----
    .. math:: \tan\varphi = \frac{2 (I_2 - I_4)}{2 I_3 - I_5 - I_1}

    A step that is wrong by e leaves an error of at most e²/4. Noise s of the intensity, as a share of the amplitude,
    gives a phase noise of s sqrt(7/16), 1 % above that of a least-squares fit to the same pictures.

    References
    ----------
    .. [1] hariharan1987: P. Hariharan, B. F. Oreb, T. Eiju, "Digital phase-shifting interferometry: a simple
       error-compensating phase calculation algorithm," Applied Optics 26 (1987) 2504-2506, doi:10.1364/AO.26.002504.

    Examples
    --------
    >>> steps = np.arange(-2, 3) * np.pi / 2
    >>> round(float(five_frame_phase(3 + np.cos(0.7 + steps))), 6)
    0.7
    """
    if len(frames) != 5:
        raise BadInput([Fault(sentence=f"{len(frames)} pictures were given; the formula takes 5.", field="frames")])
    i1, i2, i3, i4, i5 = (np.asarray(frame, dtype=float) for frame in frames)
    return np.asarray(np.arctan2(2.0 * (i2 - i4), 2.0 * i3 - i5 - i1))
