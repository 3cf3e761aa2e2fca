"""How much of the wedge that a bond predicts is still there after the first cut, and what the jig adds by itself.

Over several wafers the wedge found is a share of the wedge predicted plus a constant one: the share is what the tilt
correction leaves, the constant is the jig's own tilt. Left out: wear of the foot, and play of the screws.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapwright.errors import TooFewSites
from lapwright.model.wafer import Wedge

LEAST_WAFERS = 4
SURE = 2.0  # standard deviations from which a tilt counts as one


@dataclass(frozen=True, slots=True, kw_only=True)
class WedgeTransfer:
    """What becomes of predicted wedges: the `share` that stays with its standard uncertainty [1], and the jig's own.

    `tilt` is that own wedge, thick at its azimuth, with the standard uncertainty of each component [m]; `scatter` [m]
    what neither explains, per component. `is_tilted` says whether the tilt can be told from none; `wafers` speak.
    """

    share: float
    share_uncertainty: float
    tilt: Wedge
    tilt_uncertainty: float
    scatter: float
    is_tilted: bool
    wafers: int
    sentence: str


def wedge_transfer(predicted_wedges: Sequence[Wedge], found_wedges: Sequence[Wedge]) -> WedgeTransfer:
    r"""Share of the predicted wedge that stays, and the wedge the jig adds, by least squares over wafers.

    Parameters
    ----------
    predicted_wedges : sequence of Wedge [m]
        As the bond of each wafer lets expect it.
    found_wedges : sequence of Wedge [m]
        As read after its first cut, in the same frame and order.

    Returns
    -------
    WedgeTransfer

    Raises
    ------
    TooFewSites
        Fewer than four wafers, or predicted wedges that do not differ.

    Notes
    -----
    .. math:: w_i = T\,p_i + c + \varepsilon_i

    with w, p, c vectors in the plane (complex numbers) and T real; 2n equations for three unknowns.

    Examples
    --------
    >>> bonds = [Wedge(amount=a * 1e-6, azimuth=b) for a, b in ((2.0, 0.0), (1.0, 1.0), (3.0, 2.0), (2.0, 4.0))]
    >>> kept = [Wedge(amount=0.5 * one.amount, azimuth=one.azimuth) for one in bonds]
    >>> round(wedge_transfer(bonds, kept).share, 3)
    0.5
    """
    if len(predicted_wedges) != len(found_wedges) or len(found_wedges) < LEAST_WAFERS:
        raise TooFewSites("What becomes of wedges", measured=len(found_wedges), needed=LEAST_WAFERS)
    before = np.array([_vector(one) for one in predicted_wedges])
    after = np.array([_vector(one) for one in found_wedges])
    middle = before - before.mean()
    spread = float(np.sum(np.abs(middle) ** 2))
    if not spread > 1e-12 * float(np.sum(np.abs(before) ** 2)):
        raise TooFewSites("A share of the wedge", measured=1, needed=2)
    share = float(np.sum((middle.conj() * after).real)) / spread
    constant = complex(after.mean() - share * before.mean())
    rest = after - share * before - constant
    scatter = math.sqrt(float(np.sum(np.abs(rest) ** 2)) / (2 * len(after) - 3))
    share_uncertainty = scatter / math.sqrt(spread)
    doubt = scatter * math.sqrt(1.0 / len(after) + abs(complex(before.mean())) ** 2 / spread)
    is_tilted = abs(constant) > SURE * math.sqrt(2.0) * doubt
    tilt = Wedge(amount=abs(constant), azimuth=cmath.phase(constant) if abs(constant) > 0.0 else None)
    return WedgeTransfer(
        share=share,
        share_uncertainty=share_uncertainty,
        tilt=tilt,
        tilt_uncertainty=doubt,
        scatter=scatter,
        is_tilted=is_tilted,
        wafers=len(after),
        sentence=_sentence(share, share_uncertainty, tilt, doubt, is_tilted=is_tilted, wafers=len(after)),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _vector(wedge: Wedge) -> complex:
    return cmath.rect(wedge.amount, wedge.azimuth or 0.0)


def _sentence(share: float, doubt: float, tilt: Wedge, tilt_doubt: float, *, is_tilted: bool, wafers: int) -> str:
    kept = (
        f"Of a bond's predicted wedge {share:.0%} (± {2.0 * doubt:.0%}) was there after the first cut, {wafers} wafers"
    )
    own = f"{tilt.amount * 1e6:.1f} µm (± {2.0 * tilt_doubt * 1e6:.1f} µm)"
    if not is_tilted or tilt.azimuth is None:
        return f"{kept}; the jig adds {own}, which is no more than its doubt: change nothing."
    azimuth = math.degrees(tilt.azimuth) % 360.0
    return f"{kept}; the jig adds {own}, thick at {azimuth:.0f}°: a correction of its screws by that is suggested."
