"""The sample's outline given by hand: a circle or a polygon in the picture."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault


def circle_mask(shape: tuple[int, int], *, centre: tuple[float, float], radius: float) -> NDArray[np.bool_]:
    """Pixels inside a circle.

    Parameters
    ----------
    shape : tuple of int
        Rows and columns of the picture.
    centre : tuple of float [1]
        Row and column of the middle, in pixels.
    radius : float [1]
        Radius in pixels.

    Returns
    -------
    bool array, shape (ny, nx)
        True inside.

    Examples
    --------
    >>> int(circle_mask((5, 5), centre=(2, 2), radius=1).sum())
    5
    """
    rows, cols = np.ogrid[: shape[0], : shape[1]]
    return (rows - centre[0]) ** 2 + (cols - centre[1]) ** 2 <= radius**2


def polygon_mask(shape: tuple[int, int], *, corners: NDArray[np.floating]) -> NDArray[np.bool_]:
    """Pixels inside a polygon, by the even-odd rule.

    Parameters
    ----------
    shape : tuple of int
        Rows and columns of the picture.
    corners : float array, shape (n, 2) [1]
        Row and column of each corner in turn, in pixels; the last joins the first.

    Returns
    -------
    bool array, shape (ny, nx)
        True inside.

    Raises
    ------
    BadInput
        Fewer than three corners.

    Examples
    --------
    >>> int(polygon_mask((4, 4), corners=np.array([[-0.5, -0.5], [-0.5, 3.5], [1.5, 3.5], [1.5, -0.5]])).sum())
    8
    """
    if len(corners) < 3:
        sentence = f"The polygon has {len(corners)} corners; at least 3 are needed. Add corners or use a circle."
        raise BadInput([Fault(sentence=sentence, field="corners")])
    rows, cols = np.arange(shape[0])[:, None], np.arange(shape[1])
    inside = np.zeros(shape, bool)
    for (row_a, col_a), (row_b, col_b) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if row_a == row_b:
            continue
        crossing = col_a + (rows - row_a) * (col_b - col_a) / (row_b - row_a)
        inside ^= ((rows < row_a) != (rows < row_b)) & (cols < crossing)
    return inside
