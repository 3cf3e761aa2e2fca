"""Which carrier suits a wafer, and how far it is best turned before the two are bonded.

The wedges of wafer, carrier and bond add as vectors; the carrier's turns with it. What is left is what the jig has to
take out before the first cut. A bond brings a wedge of its own that nobody can foresee, only how large it is usually.
Left out: dome, bow, and which face of the carrier is up.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lapwright.errors import OutOfValidRange
from lapwright.model.wafer import Wedge

NO_WEDGE = Wedge(amount=0.0, azimuth=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Partner:
    """A carrier turned by `turn` [rad, counter-clockwise] from mark on mark, and the wedge [m] the pair then has.

    `unturned` is the wedge with the marks one on the other; `expected` counts the bond's own scatter in; `own` is the
    wedge of the carrier by itself.
    """

    carrier_id: str
    turn: float
    wedge: Wedge
    unturned: float
    expected: float
    own: Wedge


def best_partner(
    wafer: Wedge, carriers: Mapping[str, Wedge], *, bond: Wedge = NO_WEDGE, bond_wedge: float = 0.0
) -> tuple[Partner, ...]:
    r"""Every carrier at its best turn, the one with the smallest wedge first.

    Parameters
    ----------
    wafer : Wedge [m]
        Of the wafer, in the wafer frame.
    carriers : mapping of str to Wedge [m]
        Of each carrier in its own frame; over the same diameter as the wafer's.
    bond : Wedge [m]
        What bonds bring on average, in the wafer frame.
    bond_wedge : float, >= 0 [m]
        Standard deviation of each component of what they bring.

    Returns
    -------
    tuple of Partner
        Empty when there are none.

    Raises
    ------
    OutOfValidRange
        A negative deviation.

    Notes
    -----
    With :math:`s = w + b` as vectors, :math:`|s + c\,e^{i\theta}|` is smallest where the carrier's thick edge lies
    under the thin one of s, and is :math:`\bigl||s|-|c|\bigr|` there; the triangle inequality. The expected wedge is
    the root of the mean square, :math:`\sqrt{|s + c|^2 + 2\sigma^2}`.

    Examples
    --------
    >>> wafer, carrier = Wedge(amount=2e-6, azimuth=0.0), Wedge(amount=1.5e-6, azimuth=0.0)
    >>> found = best_partner(wafer, {"C1": carrier})[0]
    >>> round(math.degrees(found.turn)), round(found.wedge.amount * 1e6, 3), round(found.unturned * 1e6, 3)
    (180, 0.5, 3.5)
    """
    if not bond_wedge >= 0.0:
        raise OutOfValidRange("bond_wedge", bond_wedge, "zero or more [m]")
    above = _vector(wafer) + _vector(bond)
    found = [_at_best(name, above, _vector(wedge), bond_wedge) for name, wedge in carriers.items()]
    return tuple(sorted(found, key=lambda one: (one.wedge.amount, one.carrier_id)))


def wedge_scatter(wedges: Sequence[Wedge], *, bond_wedge: float) -> tuple[Wedge, float]:
    """Mean wedge of the bonds made so far, and the deviation of each component about it.

    Parameters
    ----------
    wedges : sequence of Wedge [m]
        Of bonds, in the wafer frame.
    bond_wedge : float [m]
        Deviation taken while there are fewer than three.

    Returns
    -------
    mean : Wedge [m]
        None while there are fewer than three.
    deviation : float [m]

    Examples
    --------
    >>> mean, deviation = wedge_scatter([Wedge(amount=1e-6, azimuth=0.0)] * 3, bond_wedge=2e-6)
    >>> round(mean.amount * 1e6, 3), round(deviation * 1e6, 3)
    (1.0, 0.0)
    """
    if len(wedges) < 3:
        return NO_WEDGE, bond_wedge
    vectors = [_vector(one) for one in wedges]
    mean = sum(vectors) / len(vectors)
    square = math.fsum(abs(one - mean) ** 2 for one in vectors) / (2.0 * (len(vectors) - 1))
    return _wedge(mean), math.sqrt(square)


# ----------------------------------------------------------------------------------------------------------------------


def _at_best(name: str, above: complex, carrier: complex, bond_wedge: float) -> Partner:
    turn = 0.0
    if abs(above) > 0.0 and abs(carrier) > 0.0:
        turn = (cmath.phase(above) + math.pi - cmath.phase(carrier)) % (2.0 * math.pi)
    together = above + carrier * cmath.exp(1j * turn)
    return Partner(
        carrier_id=name,
        turn=turn,
        wedge=_wedge(together),
        unturned=abs(above + carrier),
        expected=math.sqrt(abs(together) ** 2 + 2.0 * bond_wedge**2),
        own=_wedge(carrier),
    )


def _vector(wedge: Wedge) -> complex:
    return cmath.rect(wedge.amount, wedge.azimuth) if wedge.azimuth is not None else 0j


def _wedge(vector: complex) -> Wedge:
    amount = abs(vector)
    return Wedge(amount=amount, azimuth=cmath.phase(vector) if amount > 0.0 else None)
