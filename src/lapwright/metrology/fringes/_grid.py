"""Two coarser grids under a picture: bins that hold the light, nodes that hold what varies slowly.

A bin is a square of pixels, small against a fringe; a node stands for a square of bins, about half a fringe wide.
Intensity is summed into bins once; phase, background and amplitude live on the nodes and are spread to bins and pixels
by cubic convolution (Keys 1981), which is exact for quadratics. Everything is separable, so spreading is two matrix
products.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

Single = NDArray[np.float32]
Mask = NDArray[np.bool_]

MARGIN = 2  # nodes beyond the picture on every side, so that spreading needs no special case at the rim


@dataclass(frozen=True)
class Grid:
    """Bins of `bin_size` pixels and nodes of `step` bins under a picture of `shape` pixels."""

    shape: tuple[int, int]
    bin_size: int
    step: int

    @property
    def bins(self) -> tuple[int, int]:
        """Number of bins down and across; the last may stick out of the picture."""
        ny, nx = self.nodes
        return (ny - 2 * MARGIN) * self.step, (nx - 2 * MARGIN) * self.step

    @property
    def nodes(self) -> tuple[int, int]:
        """Number of nodes down and across, margins included."""
        side = self.bin_size * self.step
        ny, nx = (-(-length // side) for length in self.shape)
        return ny + 2 * MARGIN, nx + 2 * MARGIN

    @property
    def spacing(self) -> int:
        """Distance of the nodes [pixel]."""
        return self.bin_size * self.step

    def node_positions(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Rows and columns [pixel] at which the nodes stand."""
        return tuple((np.arange(n) - MARGIN + 0.5) * self.spacing - 0.5 for n in self.nodes)  # type: ignore[return-value]

    def bin_positions(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Rows and columns [pixel] of the middles of the bins."""
        return tuple((np.arange(n) + 0.5) * self.bin_size - 0.5 for n in self.bins)  # type: ignore[return-value]

    def binned(self, image: NDArray[np.floating] | Mask) -> Single:
        """Sums over each bin; bins that stick out hold what is inside."""
        return _pooled(image, self.bin_size, self.bins)

    def pooled(self, bins: Single) -> Single:
        """Sums over the bins of each node, zero on the margin."""
        ny, nx = self.nodes
        inner = _pooled(bins, self.step, (ny - 2 * MARGIN, nx - 2 * MARGIN))
        return np.pad(inner, MARGIN)

    def on_bins(self, field: NDArray[np.floating]) -> Single:
        """A node field spread to the bins."""
        down, across = self._to_bins
        return (down @ field.astype(np.float32)) @ across.T

    def on_pixels(self, field: NDArray[np.floating]) -> Single:
        """A node field spread to the pixels."""
        down, across = self._to_pixels
        return (down @ field.astype(np.float32)) @ across.T

    def bins_on_pixels(self, bins: NDArray[Any]) -> NDArray[Any]:
        """Each bin's value on all its pixels."""
        ny, nx = self.shape
        return np.repeat(np.repeat(bins, self.bin_size, axis=0), self.bin_size, axis=1)[:ny, :nx]

    @cached_property
    def _to_bins(self) -> tuple[Single, Single]:
        return self._spreaders(self.bin_positions())

    @cached_property
    def _to_pixels(self) -> tuple[Single, Single]:
        ny, nx = self.shape
        return self._spreaders((np.arange(ny, dtype=float), np.arange(nx, dtype=float)))

    def _spreaders(self, at: tuple[NDArray[np.float64], NDArray[np.float64]]) -> tuple[Single, Single]:
        down, across = (
            _cubic_weights((positions + 0.5) / self.spacing - 0.5 + MARGIN, n)
            for positions, n in zip(at, self.nodes, strict=True)
        )
        return down, across


# ----------------------------------------------------------------------------------------------------------------------


def _pooled(image: NDArray[np.floating] | Mask, side: int, shape: tuple[int, int]) -> Single:
    """Sums over squares of `side`, as many as `shape` says; squares that stick out hold what is inside."""
    rows, cols = shape[0] * side, shape[1] * side
    if image.shape != (rows, cols):
        image = np.pad(image[:rows, :cols], ((0, max(0, rows - image.shape[0])), (0, max(0, cols - image.shape[1]))))
    total = image[::side].astype(np.float32)
    for k in range(1, side):
        total += image[k::side]
    across = total[:, ::side].copy()
    for k in range(1, side):
        across += total[:, k::side]
    return across


def _cubic_weights(at: NDArray[np.float64], n: int) -> Single:
    """Matrix (len(at), n) of cubic convolution: Keys 1981, equation 15 with a = -1/2 (from memory)."""
    base = np.floor(at).astype(int)
    t = at - base
    weights = np.stack(
        [
            ((-0.5 * t + 1.0) * t - 0.5) * t,
            (1.5 * t - 2.5) * t * t + 1.0,
            ((-1.5 * t + 2.0) * t + 0.5) * t,
            (0.5 * t - 0.5) * t * t,
        ],
        axis=1,
    )
    matrix = np.zeros((at.size, n), np.float32)
    rows = np.arange(at.size)
    for k in range(4):
        matrix[rows, base + k - 1] += weights[:, k]
    return matrix
