"""How lengths are written in the sentences of process results."""

from __future__ import annotations

from lapwright.units import printed


def micrometres(length: float) -> str:
    """A length as text in micrometres with one decimal.

    Parameters
    ----------
    length : float [m]
        Any length.

    Returns
    -------
    str

    Examples
    --------
    >>> micrometres(12.34e-6).split()
    ['12.3', 'µm']
    """
    return printed(length, "µm", "length")
