"""Where the wafer lies in a photograph, and what a pixel is in the wafer frame.

A wafer on a plain ground is found by its edge at half the height between the two, where blur keeps its place; a round
one by the circle through its rim, flat and notch left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import VoidsUnclear
from lapwright.model.wafer import Outline


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoPlace:
    """Where the wafer lies in a picture.

    Pixel of its centre (column, row, from the top left), size of a pixel [m], quarter turns counter-clockwise that
    bring its mark to the bottom, and whether the camera saw it from behind, so that left and right are exchanged.
    """

    column: float
    row: float
    pixel: float
    quarter_turns: int = 0
    from_behind: bool = True


def wafer_in_photo(brightness: NDArray[np.floating], *, outline: Outline, from_behind: bool = True) -> PhotoPlace:
    """Where the wafer lies in a photograph on a plain ground, its mark at the bottom.

    Parameters
    ----------
    brightness : float array, shape (ny, nx) [1]
        The picture, row 0 at the top.
    outline : Round, Rectangle or Polygon
        Of the wafer. Lengths in m.
    from_behind : bool
        Whether the camera looked through the carrier.

    Returns
    -------
    PhotoPlace
        Centre and size of a pixel; of a round wafer by the circle through its rim, flat and notch left out.

    Raises
    ------
    VoidsUnclear
        Nothing as large as a wafer stands out from the rim of the picture.

    Examples
    --------
    >>> from lapwright.model.wafer import Round
    >>> row, column = np.mgrid[0:300, 0:400]
    >>> photo = np.where(np.hypot(column - 210.0, row - 140.0) < 100.0, 120.0, 30.0)
    >>> found = wafer_in_photo(photo, outline=Round(diameter=0.02))
    >>> round(found.column), round(found.row), round(found.pixel * 1e6, 1)
    (210, 140, 100.0)
    """
    image = np.asarray(brightness, dtype=np.float64)
    piece = _piece(image)
    rows, columns = np.flatnonzero(piece.any(axis=1)), np.flatnonzero(piece.any(axis=0))
    low, high = _extent(outline)
    if hasattr(outline, "diameter"):
        column, row, radius = _circle(piece)
        return PhotoPlace(column=column, row=row, pixel=outline.diameter / 2.0 / radius, from_behind=from_behind)
    pixel = (high[0] - low[0]) / (columns[-1] - columns[0] + 1.0)
    middle = (low + high) / 2.0
    sign = -1.0 if from_behind else 1.0
    return PhotoPlace(
        column=(columns[0] + columns[-1]) / 2.0 - sign * middle[0] / pixel,
        row=(rows[0] + rows[-1]) / 2.0 + middle[1] / pixel,
        pixel=pixel,
        from_behind=from_behind,
    )


def pixels_in_wafer_frame(shape: tuple[int, ...], place: PhotoPlace) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """X and y [m] of every pixel of a picture, in the wafer frame.

    Parameters
    ----------
    shape : tuple of int
        Rows and columns of the picture.
    place : PhotoPlace
        Where the wafer lies in it.

    Returns
    -------
    x, y : float array, that shape [m]

    Examples
    --------
    >>> x, y = pixels_in_wafer_frame((3, 5), PhotoPlace(column=2.0, row=1.0, pixel=1e-4, from_behind=False))
    >>> float(x[1, 4]), float(y[0, 2])
    (0.0002, 0.0001)
    """
    row, column = np.indices(shape, dtype=np.float64)
    return in_wafer_frame(column, row, place)


def in_wafer_frame(
    column: NDArray[np.float64], row: NDArray[np.float64], place: PhotoPlace
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """X and y [m] in the wafer frame of places in a picture.

    Parameters
    ----------
    column, row : float array, shape (n,) [1]
        Places in pixels, from the top left.
    place : PhotoPlace
        Where the wafer lies in the picture.

    Returns
    -------
    x, y : float array, shape (n,) [m]

    Examples
    --------
    >>> x, y = in_wafer_frame(np.array([4.0]), np.array([1.0]), PhotoPlace(column=2.0, row=1.0, pixel=1e-4))
    >>> float(x[0])
    -0.0002
    """
    across, up = (column - place.column) * place.pixel, (place.row - row) * place.pixel
    for _ in range(place.quarter_turns % 4):
        across, up = -up, across
    return (-across if place.from_behind else across), up


def robust_deviation(values: NDArray[np.float64]) -> float:
    """Standard deviation by the median absolute deviation, which a few values far off do not move.

    Parameters
    ----------
    values : float array, shape (n,) [1]
        Values of any one unit, normal but for a few.

    Returns
    -------
    float [1]
        In that unit: 1.4826 times the median distance from the median.

    Examples
    --------
    >>> round(robust_deviation(np.array([1.0, 2.0, 3.0, 4.0, 900.0])), 4)
    1.4826
    """
    return 1.4826 * float(np.median(np.abs(values - np.median(values))))


# ----------------------------------------------------------------------------------------------------------------------


def _piece(image: NDArray[np.float64]) -> NDArray[np.bool_]:
    """The largest thing that stands out from the rim of the picture, its holes filled."""
    from scipy import ndimage

    off, scatter = _off_ground(image)
    least = max(6.0 * scatter, 0.1 * float(np.ptp(np.percentile(image, [1.0, 99.0]))))
    labels, count = ndimage.label(np.abs(off) > least)
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    sizes[0] = 0
    largest = labels == int(np.argmax(sizes))
    height = off if float(np.median(off[largest])) > 0.0 else -off
    apart = ndimage.binary_fill_holes(largest & (height > _brightness_near(height, largest) / 2.0))
    labels, count = ndimage.label(apart)
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    sizes[0] = 0
    piece = labels == int(np.argmax(sizes))
    share = np.count_nonzero(piece) / piece.size
    if not sizes.max() or share < 0.05 or share > 0.97:
        raise VoidsUnclear(
            "The wafer does not stand out from the rim of the photograph; expected it whole on a plain ground."
            " Take it on one, or say where the wafer lies."
        )
    return np.asarray(piece, dtype=np.bool_)


def _off_ground(image: NDArray[np.float64]) -> tuple[NDArray[np.float64], float]:
    """How far each pixel stands off the ground, which the light may make uneven, and the scatter of the ground."""
    wide = max(2, min(image.shape) // 50)
    rim = np.ones(image.shape, dtype=np.bool_)
    rim[wide:-wide, wide:-wide] = False
    row, column = np.nonzero(rim)
    v, u = (2.0 * one / max(side - 1, 1) - 1.0 for one, side in zip((row, column), image.shape, strict=True))
    value, terms = image[rim], np.stack([np.ones_like(u), u, v, u * u, u * v, v * v], axis=1)
    off = value - np.median(value)
    weights: Any = None
    for _ in range(5):
        good = np.abs(off) <= 4.0 * max(robust_deviation(off), 1e-12)
        weights = np.linalg.lstsq(terms[good], value[good], rcond=None)[0]
        off = value - terms @ weights
    v, u = np.meshgrid(*(np.linspace(-1.0, 1.0, side) for side in image.shape), indexing="ij")
    ground = weights[0] + weights[1] * u + weights[2] * v + weights[3] * u * u + weights[4] * u * v + weights[5] * v * v
    return image - ground, robust_deviation(off)


def _brightness_near(height: NDArray[np.float64], piece: NDArray[np.bool_]) -> NDArray[np.float64]:
    """How far the piece stands out around each pixel: a mean over its inside, so that uneven light moves no edge."""
    from scipy import ndimage

    width = math.sqrt(np.count_nonzero(piece))
    inside = ndimage.binary_erosion(ndimage.binary_fill_holes(piece), iterations=max(3, round(0.015 * width)))
    if not inside.any():
        return np.full(height.shape, float(np.median(height[piece])))
    reach = max(2.0, 0.03 * width)
    share = ndimage.gaussian_filter(inside.astype(np.float64), reach)
    mean = ndimage.gaussian_filter(np.where(inside, height, 0.0), reach)
    return np.asarray(np.where(share > 1e-6, mean / np.maximum(share, 1e-6), np.inf))


def _circle(piece: NDArray[np.bool_]) -> tuple[float, float, float]:
    """Centre (column, row) and radius [pixels] of the circle through the rim of a piece, flat and notch left out."""
    from scipy import ndimage

    rim = piece & ~ndimage.binary_erosion(piece)
    row, column = (one.astype(np.float64) for one in np.nonzero(rim))
    keep = np.ones(len(row), dtype=np.bool_)
    centre_x = centre_y = radius = 0.0
    solved: Any
    for _ in range(10):
        design = np.column_stack([column[keep], row[keep], np.ones(int(keep.sum()))])
        solved = np.linalg.lstsq(design, column[keep] ** 2 + row[keep] ** 2, rcond=None)[0]
        centre_x, centre_y = float(solved[0]) / 2.0, float(solved[1]) / 2.0
        radius = math.sqrt(max(float(solved[2]) + centre_x**2 + centre_y**2, 0.0))
        off = np.hypot(column - centre_x, row - centre_y) - radius
        now = np.abs(off) <= max(2.5 * robust_deviation(off[keep]), 0.75)
        if np.array_equal(now, keep) or now.sum() < 10:
            break
        keep = now
    return centre_x, centre_y, radius + 0.5  # the rim's pixels lie half a pixel inside


def _extent(outline: Outline) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lowest and highest x and y of an outline [m]."""
    corners = getattr(outline, "corners", None)
    if corners is None:
        half = np.array([getattr(outline, "width", 0.0), getattr(outline, "height", 0.0)]) / 2.0
        return -half, half
    points = np.array(corners)
    return points.min(axis=0), points.max(axis=0)
