"""Global and site flatness of a wafer as the SEMI standards name it: GBIR, GFLR, SBIR, SFQR and their kin.

Taken from a thickness map: the back is pulled flat on an ideal chuck, so that thickness is the height of the front.
Letters: G whole area or S site; F front or B back as reference; I ideal, L least squares over the whole area,
3 three points, Q least squares over the site; R range or D largest deviation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange, ShapeNotDetermined
from lapwright.metrology.flatness import plane_deviation
from lapwright.metrology.shape_bow import three_point_plane
from lapwright.metrology.shape_grid import Aperture, fitted_aperture, grid_axes

Array = NDArray[np.float64]

_SLACK = 1e-6  # of a pixel: a pixel on the border of a site belongs to it
_LEAST_PIXELS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class GlobalFlatness:
    """Over the quality area [m]: GBIR = TTV; GFLR, GFLD about the least-squares plane; GF3R about three points.

    `gf3r` is None when the three points near the edge are not measured.
    """

    gbir: float
    gflr: float
    gfld: float
    gf3r: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteGrid:
    """Sites of one size, side by side [m]: width, height, and where a corner common to four sites lies."""

    width: float
    height: float
    corner_x: float = 0.0
    corner_y: float = 0.0

    def __post_init__(self) -> None:
        for name, value in (("width", self.width), ("height", self.height)):
            if not (math.isfinite(value) and value > 0.0):
                raise OutOfValidRange(name, value, "a length above zero")


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteFlatness:
    """Flatness site by site, one entry per site that counts; all [m].

    Attributes
    ----------
    x, y : float arrays, shape (n,) [m]
        Middles of the sites, from the aperture's centre.
    is_whole : bool array, shape (n,)
        Whether the site lies wholly inside the quality area.
    sbir : float array, shape (n,) [m]
        Range of thickness: the local thickness variation (LTV) of the site.
    sfqr, sfqd : float arrays, shape (n,) [m]
        Range and largest deviation about the site's own least-squares plane.
    sflr, sfld : float arrays, shape (n,) [m]
        The same about the least-squares plane of the whole area.
    partial_rule : str
        Which sites count, in words.
    """

    x: Array
    y: Array
    is_whole: NDArray[np.bool_]
    sbir: Array
    sfqr: Array
    sfqd: Array
    sflr: Array
    sfld: Array
    partial_rule: str

    def __post_init__(self) -> None:
        for array in (self.x, self.y, self.is_whole, self.sbir, self.sfqr, self.sfqd, self.sflr, self.sfld):
            array.setflags(write=False)


def global_flatness(
    thickness: Array,
    *,
    pixel_size: tuple[float, float],
    aperture: Aperture | None = None,
    edge_exclusion: float = 0.0,
) -> GlobalFlatness:
    """Flatness of the whole quality area from a thickness map.

    Parameters
    ----------
    thickness : float array, shape (ny, nx) [m]
        Thickness, or height of the front of a clamped wafer; NaN = not measured. Row 0 is the top.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    aperture : Aperture or None
        The wafer; None takes the circle that the measured pixels fill.
    edge_exclusion : float [m]
        Rim left out.

    Returns
    -------
    GlobalFlatness

    Raises
    ------
    ShapeNotDetermined
        No measured pixel inside, or all on one line.
    OutOfValidRange
        `edge_exclusion` leaves nothing.

    Notes
    -----
    The three points lie on the edge of the quality area at −90°, 30° and 150°, linear between pixels.

    References
    ----------
    .. [1] SEMI M1 and MF1530: names and reference planes (from memory). Key ``semi_flatness``.

    Examples
    --------
    >>> wedge = np.tile(np.linspace(500e-6, 501e-6, 101), (101, 1))
    >>> found = global_flatness(wedge, pixel_size=(1e-3, 1e-3), aperture=Aperture(radius=0.05))
    >>> round(found.gbir * 1e6, 6), round(found.gflr * 1e6, 6)
    (1.0, 0.0)
    """
    area = _QualityArea(thickness, pixel_size, aperture, edge_exclusion)
    t, deviation = area.thickness[area.inside], area.deviation[area.inside]
    three = area.three_point_deviation()
    return GlobalFlatness(
        gbir=float(np.ptp(t)),
        gflr=float(np.ptp(deviation)),
        gfld=float(np.abs(deviation).max()),
        gf3r=None if three is None else float(np.ptp(three[area.inside])),
    )


def site_flatness(
    thickness: Array,
    *,
    pixel_size: tuple[float, float],
    sites: SiteGrid,
    aperture: Aperture | None = None,
    edge_exclusion: float = 0.0,
    min_measured: float = 1.0,
) -> SiteFlatness:
    """Flatness site by site from a thickness map.

    Parameters
    ----------
    thickness : float array, shape (ny, nx) [m]
        Thickness, or height of the front of a clamped wafer; NaN = not measured. Row 0 is the top.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    sites : SiteGrid
        Size and place of the sites, from the aperture's centre.
    aperture : Aperture or None
        The wafer; None takes the circle that the measured pixels fill.
    edge_exclusion : float [m]
        Rim left out.
    min_measured : float [1]
        Share of a site's pixels that must be measured and inside the quality area for the site to count; 1 takes whole
        sites only.

    Returns
    -------
    SiteFlatness

    Raises
    ------
    ShapeNotDetermined
        No site counts.
    OutOfValidRange
        A site is smaller than two pixels, or `min_measured` is not above 0 and at most 1.

    Notes
    -----
    A pixel on a border shared by two sites belongs to both. A partial site is evaluated over the pixels it has, about a
    plane through those.

    References
    ----------
    .. [1] SEMI M1 and MF1530: names and reference planes (from memory). Key ``semi_flatness``.

    Examples
    --------
    >>> wedge = np.tile(np.linspace(500e-6, 501e-6, 101), (101, 1))
    >>> found = site_flatness(wedge, pixel_size=(1e-3, 1e-3), sites=SiteGrid(width=0.02, height=0.02),
    ...                       aperture=Aperture(radius=0.05))
    >>> found.sbir.size, round(float(found.sbir.max()) * 1e6, 6), round(float(found.sfqr.max()) * 1e6, 6)
    (12, 0.2, 0.0)
    """
    if not 0.0 < min_measured <= 1.0:
        raise OutOfValidRange("min_measured", min_measured, "more than 0 and at most 1")
    for name, size, pixel in (("width", sites.width, pixel_size[1]), ("height", sites.height, pixel_size[0])):
        if size < 2.0 * pixel:
            raise OutOfValidRange(name, size, f"at least two pixels ({2.0 * pixel:g} m)")
    area = _QualityArea(thickness, pixel_size, aperture, edge_exclusion)
    found = [one for place in area.site_places(sites) if (one := area.site(place, sites, min_measured)) is not None]
    if not found:
        raise ShapeNotDetermined(
            f"No site of {sites.width * 1e3:.3g} by {sites.height * 1e3:.3g} mm has {100.0 * min_measured:g} % of its "
            "pixels measured inside the quality area. Take smaller sites, or let partial ones count."
        )
    columns = [np.array(column) for column in zip(*found, strict=True)]
    names = ("x", "y", "is_whole", "sbir", "sfqr", "sfqd", "sflr", "sfld")
    return SiteFlatness(**dict(zip(names, columns, strict=True)), partial_rule=_told_rule(min_measured))


# ----------------------------------------------------------------------------------------------------------------------


class _QualityArea:
    """A thickness map with what lies inside the quality area, and its deviation from the global plane."""

    def __init__(
        self,
        thickness: Array,
        pixel_size: tuple[float, float],
        aperture: Aperture | None,
        edge_exclusion: float,
    ) -> None:
        circle = aperture or fitted_aperture(np.isfinite(thickness), pixel_size=pixel_size)
        self.radius = circle.radius - edge_exclusion
        if not (edge_exclusion >= 0.0 and self.radius > 0.0):
            expected = f"zero or more and less than the radius ({circle.radius:g} m)"
            raise OutOfValidRange("edge_exclusion", edge_exclusion, expected)
        x, y = grid_axes(thickness.shape, pixel_size=pixel_size)
        self.x, self.y, self.pixel_size = x - circle.x, y - circle.y, pixel_size
        slack = _SLACK * max(pixel_size)
        self.on_disc = np.hypot(self.x, self.y[:, None]) <= self.radius + slack
        self.inside = self.on_disc & np.isfinite(thickness)
        self.thickness = thickness
        rows, columns = np.nonzero(self.inside)
        self.deviation = np.full(thickness.shape, np.nan)
        self.deviation[self.inside] = plane_deviation(self.x[columns], self.y[rows], thickness[self.inside])

    def three_point_deviation(self) -> Array | None:
        axes = (self.x, self.y)
        plane = three_point_plane(self.thickness, axes=axes, pixel_size=self.pixel_size, radius=self.radius)
        return None if plane is None else self.thickness - plane

    def site_places(self, sites: SiteGrid) -> list[tuple[float, float]]:
        """Lower left corners of all sites that touch the quality area."""
        return [
            (sites.corner_x + column * sites.width, sites.corner_y + row * sites.height)
            for row in _reaching(sites.corner_y, sites.height, self.radius)
            for column in _reaching(sites.corner_x, sites.width, self.radius)
        ]

    def site(self, corner: tuple[float, float], sites: SiteGrid, min_measured: float) -> tuple[float, ...] | None:
        left, bottom = corner
        corners = [math.hypot(px, py) for px in (left, left + sites.width) for py in (bottom, bottom + sites.height)]
        whole = max(corners) <= self.radius + _SLACK * max(self.pixel_size)
        if min_measured >= 1.0 and not whole:
            return None
        columns = _within(self.x, left, sites.width, self.pixel_size[1])
        rows = _within(self.y, bottom, sites.height, self.pixel_size[0])
        part = np.ix_(rows, columns)
        counted = self.inside[part]
        wanted = _expected_pixels(sites, self.pixel_size, counted.size)
        if int(counted.sum()) < max(_LEAST_PIXELS, min_measured * wanted - 1e-9):
            return None
        inner_rows, inner_columns = np.nonzero(counted)
        t = self.thickness[part][counted]
        from_global = self.deviation[part][counted]
        own = plane_deviation(self.x[columns][inner_columns], self.y[rows][inner_rows], t)
        middle = (left + 0.5 * sites.width, bottom + 0.5 * sites.height)
        ranges = [value for d in (own, from_global) for value in (float(np.ptp(d)), float(np.abs(d).max()))]
        return (*middle, whole, float(np.ptp(t)), *ranges)


def _reaching(corner: float, size: float, radius: float) -> range:
    return range(math.floor((-radius - corner) / size), math.ceil((radius - corner) / size))


def _within(axis: Array, start: float, size: float, pixel: float) -> NDArray[np.intp]:
    slack = _SLACK * pixel
    return np.flatnonzero((axis >= start - slack) & (axis <= start + size + slack))


def _expected_pixels(sites: SiteGrid, pixel_size: tuple[float, float], seen: int) -> float:
    """Pixels of a whole site; a site that reaches over the border of the map has more than are seen there."""
    across = math.floor(sites.width / pixel_size[1] * (1.0 + 1e-9))
    return max(float(seen), float(across * math.floor(sites.height / pixel_size[0] * (1.0 + 1e-9))))


def _told_rule(min_measured: float) -> str:
    if min_measured >= 1.0:
        return "Only sites that lie wholly inside the quality area and are measured everywhere count."
    return (
        f"A site counts when at least {100.0 * min_measured:g} % of its pixels are measured and inside the quality "
        "area; a partial site is evaluated over the pixels it has."
    )
