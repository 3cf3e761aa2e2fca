"""Voids of a bond line from a photograph taken through the carrier: where, how large, how near the edge.

A void shows where the adhesive does not join the two faces: lighter or darker than the film around it. The shading of
the picture is taken out by a surface through the film; what stands off it is outlined at half its height, where a
blurred edge keeps its place. Everything comes out in the wafer frame, whichever side the camera looked from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault, OutOfValidRange, VoidsUnclear
from lapwright.metrology.outlines import is_inside
from lapwright.metrology.photo_places import PhotoPlace, in_wafer_frame, pixels_in_wafer_frame, robust_deviation
from lapwright.model.wafer import Outline

Look = Literal["lighter", "darker", "either"]

LARGEST_PIXEL = 0.1e-3  # m; ten across the void of 1 mm that must not be missed
LEAST_DIAMETER = 0.3e-3  # m; what is smaller is dust on the lens as often as a void (common practice, no source)
MOST_SHARE = 0.4  # of the face that may stand off before film and void can be taken for each other (own judgement)
MOST_UNEVEN = 0.3  # of the brightness that voids may have to stand off (own judgement)
MOST_BLIND = 0.5e-2  # of the face that may be overexposed: a void of 1 mm on a wafer of 15 mm (own judgement)
_NEAR_FULL = 0.85  # of the full scale; where the film is darker, a void that fills it stands off plainly
_AGAIN = "Light it evenly and take it again, or judge it by eye."
_SIGMAS = 5.0  # of the smoothed noise that a void must stand off
_LEAST_CONTRAST = 0.03  # of the film's brightness that it must stand off besides
_SMOOTHING = 0.1e-3  # m, standard deviation of the smoothing that voids are looked for in
_DIFFERENCE = 1.0 / 3.0  # pixels2: the variance that a difference over two pixels adds to a slope's blur
_SHADING_TERMS = 4  # degree of the surface through the film
_FIT_POINTS = 40_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Void:
    """One void, in the wafer frame. Lengths in m, area in m2.

    `longest` is its greatest width, `diameter` that of a disc of its area, `edge_distance` from its rim to the edge of
    the wafer; `rim` has shape (n, 2). `contrast` is how far it stands off, as a share of the film's brightness.
    """

    x: float
    y: float
    area: float
    diameter: float
    longest: float
    edge_distance: float
    contrast: float
    rim: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class VoidMap:
    """The voids of a bond, the longest first; their area and that of the face looked at [m2].

    `least_contrast` is the least share of the film's brightness that would have been seen.
    """

    voids: tuple[Void, ...]
    void_area: float
    face_area: float
    least_contrast: float

    @property
    def longest(self) -> float:
        """Greatest width of any void [m], zero where there is none."""
        return max((one.longest for one in self.voids), default=0.0)


def bond_voids(
    brightness: NDArray[np.floating],
    place: PhotoPlace,
    *,
    outline: Outline,
    edge_exclusion: float = 0.3e-3,
    look: Look = "either",
    full_scale: float = math.inf,
) -> VoidMap:
    r"""Voids of a bond line in a photograph.

    Parameters
    ----------
    brightness : float array, shape (ny, nx) [1]
        The picture, row 0 at the top, any linear scale.
    place : PhotoPlace
        Where the wafer lies in it.
    outline : Round, Rectangle or Polygon
        Of the wafer. Lengths in m.
    edge_exclusion : float [m]
        Band along the edge that is not looked at: its bevel shines.
    look : str
        Whether voids are ``lighter`` or ``darker`` than the film, or ``either``.
    full_scale : float [1]
        Brightness beyond which the camera tells nothing, on the scale of the picture.

    Returns
    -------
    VoidMap

    Raises
    ------
    OutOfValidRange
        A pixel is larger than 0.1 mm.
    BadInput
        The wafer reaches beyond the picture.
    VoidsUnclear
        More than 40 % of the face stands off, or the film is so uneven that only what stands off by more than 30 %
        would be seen, or more than 0.5 % of the face is overexposed film: film and void cannot be told apart.

    Notes
    -----
    A void is what stands off the film by more than five standard deviations of the smoothed noise and by more than
    3 % of the film's brightness, over at least 0.3 mm. It is outlined at half its height. Blur of standard deviation
    s moves that line inward by :math:`s^2/2R` at a rim of radius R, which takes :math:`\pi s^2` from the area of a
    round void; s is found from the steepness of the rim and that much is given back. Holes in a void count as void.
    Dust, scratches and labels on the carrier stand off as well: the photograph is looked at by a person.

    Examples
    --------
    >>> from lapwright.metrology.photo_places import PhotoPlace
    >>> from lapwright.model.wafer import Round
    >>> row, column = np.mgrid[0:500, 0:500]
    >>> photo = np.where(np.hypot(column - 330.0, row - 250.0) < 20.0, 140.0, 100.0)
    >>> found = bond_voids(photo, PhotoPlace(column=250.0, row=250.0, pixel=1e-4), outline=Round(diameter=0.045))
    >>> one = found.voids[0]
    >>> len(found.voids), round(one.x * 1e3, 1), round(one.diameter * 1e3, 1), round(one.edge_distance * 1e3, 1)
    (1, -8.0, 4.0, 12.5)
    """
    if not 0.0 < place.pixel <= LARGEST_PIXEL:
        raise OutOfValidRange(
            "pixel",
            place.pixel,
            "at most 0.0001 m, so that a void of 1 mm is ten pixels wide",
            "Take the photograph nearer, or with more pixels.",
        )
    image = np.asarray(brightness, dtype=np.float64)
    x, y = pixels_in_wafer_frame(image.shape, place)
    whole = is_inside(outline, x, y)
    face = is_inside(outline, x, y, edge_exclusion=edge_exclusion)
    if not face.any() or _is_cut_off(whole):
        sentence = "The wafer reaches beyond the photograph; expected it whole. Mend its place, or take it anew."
        raise BadInput([Fault(sentence=sentence, field="place")])
    film = _film(image, face)
    level = float(np.median(film[face]))
    _need_exposed(face & (image >= full_scale) & (film >= _NEAR_FULL * full_scale), face)
    off = np.where(face, image - film, 0.0) / (level if level > 0.0 else 1.0)
    off = {"lighter": off, "darker": -off, "either": off}[look]
    smooth = _smoothed(off, _SMOOTHING / place.pixel)
    least = max(_SIGMAS * robust_deviation(smooth[face]), _LEAST_CONTRAST)
    stands_off = (np.abs(smooth) if look == "either" else smooth) > least
    stands_off &= face
    _need_clear(np.count_nonzero(stands_off) / np.count_nonzero(face), least)
    voids = _outlined(off, stands_off, whole, place)
    voids.sort(key=lambda one: one.longest, reverse=True)
    return VoidMap(
        voids=tuple(voids),
        void_area=math.fsum(one.area for one in voids),
        face_area=float(np.count_nonzero(face)) * place.pixel**2,
        least_contrast=least,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _is_cut_off(whole: NDArray[np.bool_]) -> bool:
    """Whether the wafer reaches over the rim of the picture for more than a quarter of its width."""
    rims = (whole[0], whole[-1], whole[:, 0], whole[:, -1])
    return max(int(rim.sum()) for rim in rims) > 0.25 * math.sqrt(np.count_nonzero(whole))


def _need_exposed(blind: NDArray[np.bool_], face: NDArray[np.bool_]) -> None:
    share = np.count_nonzero(blind) / np.count_nonzero(face)
    if share > MOST_BLIND:
        raise VoidsUnclear(
            f"{share * 100.0:.1f} % of the face is overexposed, so that no void would be seen there; up to"
            f" {MOST_BLIND * 100.0:.1f} % is taken. {_AGAIN}"
        )


def _need_clear(share: float, least: float) -> None:
    if share > MOST_SHARE:
        raise VoidsUnclear(
            f"{share * 100.0:.0f} % of the face stands off the rest; up to {MOST_SHARE * 100.0:.0f} % film and voids"
            f" can be told from each other. {_AGAIN}"
        )
    if least > MOST_UNEVEN:
        raise VoidsUnclear(
            f"The film is so uneven that a void would be seen only from {least * 100.0:.0f} % of its brightness on; up"
            f" to {MOST_UNEVEN * 100.0:.0f} % it can be told. {_AGAIN}"
        )


def _film(image: NDArray[np.float64], face: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Brightness of the film over the picture: a smooth surface through what is not void."""
    row, column = np.nonzero(face)
    step = max(1, len(row) // _FIT_POINTS)
    row, column = row[::step], column[::step]
    value = image[row, column]
    middle_row, middle_column = float(row.mean()), float(column.mean())
    reach = max(float(np.ptp(row)), float(np.ptp(column)), 1.0) / 2.0
    u, v = (column - middle_column) / reach, (row - middle_row) / reach
    columns = _powers(u, v)
    good = np.abs(value - np.median(value)) <= 4.0 * max(robust_deviation(value), 1e-12)
    weights: Any = None
    for _ in range(12):
        weights = np.linalg.lstsq(columns[good], value[good], rcond=None)[0]
        off = value - columns @ weights
        now = np.abs(off - np.median(off[good])) <= 2.5 * max(robust_deviation(off[good]), 1e-12)
        if np.array_equal(now, good) or np.count_nonzero(now) < 2 * columns.shape[1]:
            break
        good = now
    film = np.zeros(image.shape)
    rows, columns_there = np.nonzero(face)
    u, v = (columns_there - middle_column) / reach, (rows - middle_row) / reach
    film[face] = _powers(u, v) @ weights
    return film


def _powers(u: NDArray[np.floating], v: NDArray[np.floating]) -> NDArray[np.float64]:
    powers = [u**i * v**j for i in range(_SHADING_TERMS + 1) for j in range(_SHADING_TERMS + 1 - i)]
    return np.stack(powers, axis=1).astype(np.float64)


def _smoothed(image: NDArray[np.float64], sigma: float) -> NDArray[np.float64]:
    from scipy import ndimage

    return np.asarray(ndimage.gaussian_filter(image, max(sigma, 0.7)), dtype=np.float64)


def _outlined(
    off: NDArray[np.float64], stands_off: NDArray[np.bool_], whole: NDArray[np.bool_], place: PhotoPlace
) -> list[Void]:
    from scipy import ndimage

    labels, _count = ndimage.label(stands_off, structure=np.ones((3, 3)))
    to_edge = ndimage.distance_transform_edt(np.pad(whole, 1))[1:-1, 1:-1] * place.pixel
    least_pixels = math.pi / 4.0 * (LEAST_DIAMETER / place.pixel) ** 2
    voids: list[Void] = []
    for number, box in enumerate(ndimage.find_objects(labels), start=1):
        part = labels[box] == number
        if np.count_nonzero(part) < 0.5 * least_pixels:
            continue
        around = tuple(slice(max(one.start - 5, 0), one.stop + 5) for one in box)
        mine = labels[around] == number
        voids += _rims(off[around], mine, to_edge, place, (around[0].start, around[1].start), least_pixels)
    return voids


def _rims(
    off: NDArray[np.float64],
    mine: NDArray[np.bool_],
    to_edge: NDArray[np.float64],
    place: PhotoPlace,
    corner: tuple[int, int],
    least_pixels: float,
) -> list[Void]:
    """The voids of one patch that stands off: each closed line at half its height, holes filled."""
    import contourpy
    from scipy import ndimage

    sign = 1.0 if float(np.mean(off[mine])) > 0.0 else -1.0
    height = sign * _smoothed(off, 0.7)
    depth = ndimage.distance_transform_edt(np.pad(mine, 1))[1:-1, 1:-1]
    top = float(np.median(height[depth >= 0.7 * depth.max()]))  # away from the rim, where blur does not reach
    lines: Any = contourpy.contour_generator(z=np.pad(height, 1)).filled(top / 2.0, np.inf)
    found = []
    for points, offsets in zip(*lines, strict=True):
        rim = points[offsets[0] : offsets[1]] - 1.0  # the outer line of each; of the padding one pixel
        blur = _blur(height, rim, top)
        area = abs(_shoelace(rim)) + math.pi * blur**2
        at_column = int(np.clip(round(float(rim[:, 0].mean())), 0, mine.shape[1] - 1))
        at_row = int(np.clip(round(float(rim[:, 1].mean())), 0, mine.shape[0] - 1))
        near = mine[max(at_row - 2, 0) : at_row + 3, max(at_column - 2, 0) : at_column + 3].any()
        if area >= least_pixels and (near or area > 0.2 * np.count_nonzero(mine)):
            found.append(_void(rim, area, top, to_edge, place, corner))
    return found


def _void(
    rim: NDArray[np.float64],
    area: float,
    contrast: float,
    to_edge: NDArray[np.float64],
    place: PhotoPlace,
    corner: tuple[int, int],
) -> Void:
    column, row = rim[:, 0] + corner[1], rim[:, 1] + corner[0]
    x, y = in_wafer_frame(column, row, place)
    rows = np.clip(np.rint(row).astype(int), 0, to_edge.shape[0] - 1)
    columns = np.clip(np.rint(column).astype(int), 0, to_edge.shape[1] - 1)
    middle_x, middle_y = _centroid(x, y)
    square = area * place.pixel**2
    return Void(
        x=middle_x,
        y=middle_y,
        area=square,
        diameter=math.sqrt(4.0 * square / math.pi),
        longest=_longest(x, y),
        edge_distance=float(to_edge[rows, columns].min()),
        contrast=contrast,
        rim=np.column_stack([x, y]),
    )


def _blur(height: NDArray[np.float64], rim: NDArray[np.float64], top: float) -> float:
    """Standard deviation of the blur [pixels], from the steepness of the rim: top / (slope · √(2π))."""
    from scipy import ndimage

    along_row, along_column = np.gradient(height, axis=0), np.gradient(height, axis=1)
    at = np.stack([rim[:, 1], rim[:, 0]])
    down, across = (ndimage.map_coordinates(one, at, order=1, mode="nearest") for one in (along_row, along_column))
    slope = float(np.median(np.hypot(down, across)))
    if slope <= 0.0:
        return 0.0
    seen = top / (slope * math.sqrt(2.0 * math.pi))
    return math.sqrt(min(max(seen**2 - _DIFFERENCE, 0.0), 9.0))


def _shoelace(points: NDArray[np.float64]) -> float:
    x, y = points[:, 0], points[:, 1]
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _centroid(x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[float, float]:
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    total = float(cross.sum())
    if total == 0.0:
        return float(x.mean()), float(y.mean())
    return (
        float(np.sum((x + np.roll(x, -1)) * cross)) / (3.0 * total),
        float(np.sum((y + np.roll(y, -1)) * cross)) / (3.0 * total),
    )


def _longest(x: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    """Greatest width, over 90 directions."""
    angles = np.arange(90) * math.pi / 90.0
    along = np.outer(x, np.cos(angles)) + np.outer(y, np.sin(angles))
    return float(np.max(np.ptp(along, axis=0)))
