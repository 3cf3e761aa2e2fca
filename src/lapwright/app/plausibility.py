"""Whether a reading fits what is known of the piece; when not, the question to put before it is stored.

A question is not a refusal: the reading may be right. Numbers only; nothing is stored or looked up here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.units import INCH

LEAST_OTHERS = 3  # pieces, or sites, without which nothing is compared; common practice, no source
LEAST_FOR_PLANE = 5  # readings besides the new one
#: How many times further from the middle of the other pieces than any of them a piece may lie unquestioned.
PIECE_REACH = 2.0  # common practice, no source
#: Relative distance from the nominal thickness that is questioned when there is nothing else to compare with.
NOMINAL_SHARE = 0.3  # common practice, no source
ZERO_REACH = 20e-6  # m that a zero may move in a set unquestioned; far beyond warming, common practice, no source
#: Slips of unit and point that are named when a reading would fit without them.
SLIPS: tuple[tuple[float, str], ...] = (
    (1e3, "millimetres typed as micrometres"),
    (1e-3, "micrometres typed as millimetres"),
    (INCH * 1e3, "thousandths of an inch typed as micrometres"),
    (1e-3 / INCH, "micrometres typed as thousandths of an inch"),
    (10.0, "the decimal point one place too far left"),
    (0.1, "the decimal point one place too far right"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What a new reading is compared with. Lengths in m; shapes (n,) for the set's valid readings so far.

    `pieces` holds the site values of other pieces at the same moment, one array a piece; `noise` is the least scatter
    a reading has; `nominal` is None when the piece has none.
    """

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    thickness: NDArray[np.float64]
    pieces: Sequence[NDArray[np.float64]]
    noise: float
    nominal: float | None
    sigmas: float


def question_about(thickness: float, x: float, y: float, known: Known) -> str | None:
    """The question to ask about a reading at a site, or None when it fits.

    Parameters
    ----------
    thickness, x, y : float [m]
        The reading and its site.
    known : Known
        What it is compared with.

    Returns
    -------
    str or None
    """
    return (
        _against_plane(thickness, x, y, known)
        or _against_pieces(thickness, known)
        or _against_nominal(thickness, known)
    )


def question_about_zero(zero: float, *, before: float | None, size: float | None) -> str | None:
    """The question to ask about a zero of the gauge, or None when it fits.

    `before` is the zero before the set for the one after it, `size` about how thick what is read is; both in m, None
    where it is not known.
    """
    if size is not None and abs(zero) > NOMINAL_SHARE * size:
        thick = f"{size * 1e6:.0f} µm"
        return (
            f"This zero is {zero * 1e6:.1f} µm, but what is read is about {thick} thick: is something under the probe?"
            " Read the bare rest."
        )
    if before is not None and abs(zero - before) > ZERO_REACH:
        moved = f"{(zero - before) * 1e6:+.1f} µm"
        return f"The zero moved by {moved} since the set was begun. Clean the rest and read it again."
    return None


# ----------------------------------------------------------------------------------------------------------------------


def _against_plane(thickness: float, x: float, y: float, known: Known) -> str | None:
    if len(known.thickness) < LEAST_FOR_PLANE:
        return None
    scale = max(float(np.hypot(known.x, known.y).max()), 1e-9)
    design = np.column_stack([np.ones_like(known.x), known.x / scale, known.y / scale])
    if np.linalg.matrix_rank(design) < 3:
        return None
    fit, *_ = np.linalg.lstsq(design, known.thickness, rcond=None)
    degrees = len(known.thickness) - 3
    scatter = float(np.sqrt(np.sum((known.thickness - design @ fit) ** 2) / degrees))
    spread = max(scatter, known.noise)
    off = thickness - float(np.array([1.0, x / scale, y / scale]) @ fit)
    if abs(off) <= known.sigmas * spread:
        return None
    return (
        f"This reading lies {off * 1e6:+.1f} µm, {abs(off) / spread:.0f} σ, from the plane of the other"
        f" {len(known.thickness)} readings.{_slip(thickness, thickness - off)} Read the site again; enter the same"
        " value once more to keep it."
    )


def _against_pieces(thickness: float, known: Known) -> str | None:
    if len(known.pieces) < LEAST_OTHERS:
        return None
    values = np.concatenate([np.asarray(piece) for piece in known.pieces])
    middle = float(np.median(values))
    widest = float(np.max(np.abs(values - middle)))
    if abs(thickness - middle) <= PIECE_REACH * max(widest, known.noise):
        return None
    return (
        f"This reading is {thickness * 1e6:.1f} µm; the other {len(known.pieces)} pieces lie at"
        f" {middle * 1e6:.1f} ± {widest * 1e6:.1f} µm.{_slip(thickness, middle)} A unit or typing slip? Enter the same"
        " value once more to keep it."
    )


def _against_nominal(thickness: float, known: Known) -> str | None:
    if known.nominal is None or abs(thickness - known.nominal) <= NOMINAL_SHARE * known.nominal:
        return None
    return (
        f"This reading is {thickness * 1e6:.1f} µm; the piece should be about {known.nominal * 1e6:.1f} µm."
        f"{_slip(thickness, known.nominal)} Enter the same value once more to keep it."
    )


def _slip(found: float, expected: float) -> str:
    if not (found > 0.0 and expected > 0.0):
        return ""
    for factor, words in SLIPS:
        if math.isclose(found * factor, expected, rel_tol=0.1):
            return f" It would fit with {words}."
    return ""
