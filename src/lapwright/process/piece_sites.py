"""Pieces bonded to one carrier, and the sites at which they were read, in the carrier's frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, DidNotConverge, Fault

_LEAST_SPREAD = 1e-3  # places on a line better than this share of their reach carry no slope across it
_NANOMETRE = 1e-9

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class MountedPiece:
    """A piece on a carrier: sites x, y [m] in the carrier's frame, `stack` [m] there, and `thickness` [m] of the piece.

    The carrier's frame looks at the worked faces; `stack` is carrier, bond and piece together.
    """

    name: str
    x: tuple[float, ...]
    y: tuple[float, ...]
    stack: tuple[float, ...]
    thickness: tuple[float, ...]

    def __post_init__(self) -> None:
        counts = {len(self.x), len(self.y), len(self.stack), len(self.thickness)}
        if len(counts) > 1 or 0 in counts:
            sentence = f"Piece {self.name!r} has places, stacks and thicknesses that differ in number, or none at all."
            raise BadInput([Fault(sentence=sentence, field="stack")])
        for stack, thickness in zip(self.stack, self.thickness, strict=True):
            if not 0.0 < thickness < stack:
                sentence = (
                    f"Piece {self.name!r}: its thickness, {thickness * 1e6:.6g} µm, must be above zero and less than"
                    f" the stack, {stack * 1e6:.6g} µm. The stack counts the carrier in."
                )
                raise BadInput([Fault(sentence=sentence, field="thickness")])


class PieceSites:
    """The sites of all pieces in a row, and the directions in which they carry a slope."""

    def __init__(self, pieces: Sequence[MountedPiece]) -> None:
        _need_pieces(pieces)
        self.x, self.y, self.stack, self.thickness = (
            np.concatenate([np.asarray(getattr(one, field), dtype=np.float64) for one in pieces])
            for field in ("x", "y", "stack", "thickness")
        )
        ends = np.cumsum([len(one.x) for one in pieces])
        self.own = [slice(int(end) - len(one.x), int(end)) for one, end in zip(pieces, ends, strict=True)]
        self.weight = np.concatenate([np.full(len(one.x), 1.0 / len(one.x)) for one in pieces])
        self.reach = 2.0 * float(np.hypot(self.x, self.y).max())
        places = np.column_stack((self.x, self.y))
        _, sizes, axes = np.linalg.svd(places - places.mean(axis=0), full_matrices=False)
        kept = sizes > max(_LEAST_SPREAD * float(sizes[0]), _NANOMETRE)
        self.axes: Array = axes[: len(kept)][kept].T
        self.along: Array = (places - places.mean(axis=0)) @ self.axes
        self.radius = max(float(np.abs(self.along).max(initial=0.0)), _NANOMETRE)
        self.unit = max(float(np.ptp(self.stack)), _NANOMETRE)
        self.centre = places.mean(axis=0)

    def slopes(self, scaled: Array) -> tuple[float, float]:
        """Slopes along x and y from those along the axes, per radius and in units of height."""
        slope = self.axes @ (scaled * self.unit / self.radius)
        return float(slope[0]), float(slope[1])


def least_of(cost: Array, rows: Array, most: Array) -> Array:
    """What makes the cost least under the bounds of the rows, any sign. Raises `DidNotConverge`."""
    from scipy.optimize import linprog

    found = linprog(cost, A_ub=rows, b_ub=most, bounds=[(None, None)] * cost.size, method="highs")
    if found.x is None:
        search = "The common plane of the pieces"
        raise DidNotConverge(search, steps=int(found.nit))
    return np.asarray(found.x, dtype=np.float64)


# ----------------------------------------------------------------------------------------------------------------------


def _need_pieces(pieces: Sequence[MountedPiece]) -> None:
    names = [one.name for one in pieces]
    if not names:
        raise BadInput([Fault(sentence="There is no piece on the carrier; give at least one.", field="piece")])
    twice = sorted({one for one in names if names.count(one) > 1})
    if twice:
        sentence = f"The carrier bears two pieces named {twice[0]!r}; give each a name of its own."
        raise BadInput([Fault(sentence=sentence, field="piece")])
