"""Where to read: site patterns in the wafer frame, for round, rectangular and odd outlines.

Every site lies on the outline less the edge exclusion. The outermost sites of a named pattern stand at nine tenths of
the radius (common practice, no source), or at the edge of the exclusion when that is further in. Where a flat, a
notch or the side of an odd outline is nearer than that, the site **moves in** along its own radius; when it would
have to move in to less than half its place, the pattern is refused instead.

Reading order: the centre first, then ring after ring outwards, each counter-clockwise from +x. Labels: ``C`` for the
centre, then ``A1 A2 ...`` for the innermost ring, ``B1 ...`` for the next. Grids and lines are numbered ``1 2 3 ...``:
a line from one end to the other, a grid row by row from the mark (-y) upwards, every second row backwards.
"""

from __future__ import annotations

import math
import string
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault, OutOfValidRange
from lapwright.metrology.outlines import furthest_reach, is_inside, reach
from lapwright.model.wafer import Outline, Rectangle, Round, SitePattern

__all__ = [
    "PATTERN_NAMES",
    "custom_sites",
    "five_sites",
    "is_inside",
    "line_scan",
    "named_pattern",
    "nine_sites",
    "polar_rings",
    "seventeen_sites",
    "square_grid",
    "thirteen_sites",
]

PATTERN_NAMES = ("five", "nine", "thirteen", "seventeen")
OUTER_SHARE = 0.9  # of the radius: common practice, no source
_LEAST_SHARE = 0.5  # of its planned distance that a site may keep when it moves in
_QUARTERS = tuple(i * math.pi / 2 for i in range(4))
_EIGHTHS = tuple(i * math.pi / 4 for i in range(8))


def five_sites(outline: Outline, *, edge_exclusion: float = 0.0) -> SitePattern:
    """Five sites: the centre and four near the edge; on a rectangle the centre and the corners.

    Parameters
    ----------
    outline : Round, Rectangle or Polygon
        Lengths in m.
    edge_exclusion : float [m]
        Zero or more.

    Returns
    -------
    SitePattern

    Raises
    ------
    OutOfValidRange
        The exclusion leaves nothing, or a site would have to move in too far.

    Notes
    -----
    Carries the mean, TTV, wedge and dome. One faulty site cannot be told from form: take nine for that.

    Examples
    --------
    >>> from lapwright.model.wafer import Round
    >>> five_sites(Round(diameter=0.1)).labels
    ('C', 'A1', 'A2', 'A3', 'A4')
    """
    if isinstance(outline, Rectangle):
        return _ringed("five", outline, ((1.0, _EIGHTHS[1::2]),), edge_exclusion)
    return _ringed("five", outline, ((1.0, _QUARTERS),), edge_exclusion)


def nine_sites(outline: Outline, *, edge_exclusion: float = 0.0) -> SitePattern:
    """Nine sites: the centre and eight near the edge; on a rectangle three by three.

    Parameters
    ----------
    outline : Round, Rectangle or Polygon
        Lengths in m.
    edge_exclusion : float [m]
        Zero or more.

    Returns
    -------
    SitePattern

    Raises
    ------
    OutOfValidRange
        The exclusion leaves nothing, or a site would have to move in too far.

    Examples
    --------
    >>> from lapwright.model.wafer import Round
    >>> len(nine_sites(Round(diameter=0.1)).labels)
    9
    """
    return _ringed("nine", outline, ((1.0, _EIGHTHS),), edge_exclusion)


def thirteen_sites(outline: Outline, *, edge_exclusion: float = 0.0) -> SitePattern:
    """Thirteen sites: the centre, four half-way out between the axes, eight near the edge.

    Parameters
    ----------
    outline : Round, Rectangle or Polygon
        Lengths in m.
    edge_exclusion : float [m]
        Zero or more.

    Returns
    -------
    SitePattern

    Raises
    ------
    OutOfValidRange
        The exclusion leaves nothing, or a site would have to move in too far.

    Examples
    --------
    >>> from lapwright.model.wafer import Round
    >>> len(thirteen_sites(Round(diameter=0.1)).labels)
    13
    """
    return _ringed("thirteen", outline, ((0.5, _EIGHTHS[1::2]), (1.0, _EIGHTHS)), edge_exclusion)


def seventeen_sites(outline: Outline, *, edge_exclusion: float = 0.0) -> SitePattern:
    """Seventeen sites: the centre, eight half-way out, eight near the edge.

    Parameters
    ----------
    outline : Round, Rectangle or Polygon
        Lengths in m.
    edge_exclusion : float [m]
        Zero or more.

    Returns
    -------
    SitePattern

    Raises
    ------
    OutOfValidRange
        The exclusion leaves nothing, or a site would have to move in too far.

    Examples
    --------
    >>> from lapwright.model.wafer import Round
    >>> len(seventeen_sites(Round(diameter=0.1)).labels)
    17
    """
    return _ringed("seventeen", outline, ((0.5, _EIGHTHS), (1.0, _EIGHTHS)), edge_exclusion)


def named_pattern(name: str, outline: Outline, *, edge_exclusion: float = 0.0) -> SitePattern:
    """The pattern of one of the names ``five, nine, thirteen, seventeen``.

    Parameters
    ----------
    name : str
        One of `PATTERN_NAMES`.
    outline : Round, Rectangle or Polygon
        Lengths in m.
    edge_exclusion : float [m]
        Zero or more.

    Returns
    -------
    SitePattern

    Raises
    ------
    BadInput
        There is no pattern of that name.
    OutOfValidRange
        The exclusion leaves nothing, or a site would have to move in too far.

    Examples
    --------
    >>> from lapwright.model.wafer import Round
    >>> named_pattern("five", Round(diameter=0.1)).name
    'five'
    """
    patterns = {"five": five_sites, "nine": nine_sites, "thirteen": thirteen_sites, "seventeen": seventeen_sites}
    if name not in patterns:
        sentence = f"There is no site pattern {name!r}; the named ones are {', '.join(PATTERN_NAMES)}."
        raise BadInput((Fault(sentence=sentence, field="pattern"),))
    return patterns[name](outline, edge_exclusion=edge_exclusion)


def polar_rings(outline: Outline, *, rings: int, per_ring: int, edge_exclusion: float = 0.0) -> SitePattern:
    """The centre and `rings` evenly spaced rings of `per_ring` sites each.

    Parameters
    ----------
    outline : Round, Rectangle or Polygon
        Lengths in m.
    rings : int [1]
        Number of rings, 1 to 26.
    per_ring : int [1]
        Sites on each ring, at least 3.
    edge_exclusion : float [m]
        Zero or more.

    Returns
    -------
    SitePattern

    Raises
    ------
    OutOfValidRange
        Too few or too many rings or sites; the exclusion leaves nothing; a site would have to move in too far.

    Examples
    --------
    >>> from lapwright.model.wafer import Round
    >>> len(polar_rings(Round(diameter=0.1), rings=3, per_ring=12).labels)
    37
    """
    if not 1 <= rings <= len(string.ascii_uppercase):
        raise OutOfValidRange("number of rings", rings, f"1 to {len(string.ascii_uppercase)}")
    if per_ring < 3:
        raise OutOfValidRange("sites per ring", per_ring, "at least 3")
    azimuths = tuple(2 * math.pi * i / per_ring for i in range(per_ring))
    shares = tuple(((k + 1) / rings, azimuths) for k in range(rings))
    return _ringed("polar rings", outline, shares, edge_exclusion)


def square_grid(outline: Outline, *, pitch: float, edge_exclusion: float = 0.0) -> SitePattern:
    """All crossings of a square grid, with one at the centre, that lie inside; those outside are left out.

    Parameters
    ----------
    outline : Round, Rectangle or Polygon
        Lengths in m.
    pitch : float [m]
        Spacing of the grid, above zero.
    edge_exclusion : float [m]
        Zero or more.

    Returns
    -------
    SitePattern

    Raises
    ------
    OutOfValidRange
        `pitch` is not above zero, or the exclusion leaves no site.

    Examples
    --------
    >>> from lapwright.model.wafer import Rectangle
    >>> len(square_grid(Rectangle(width=0.025, height=0.025), pitch=0.01).labels)
    9
    """
    if not (math.isfinite(pitch) and pitch > 0.0):
        raise OutOfValidRange("pitch", pitch, "a finite length above zero")
    half = int(furthest_reach(outline) / pitch * (1 + 1e-12))
    steps = np.arange(-half, half + 1)
    columns, rows = np.meshgrid(steps, steps)
    columns[1::2] = columns[1::2, ::-1]  # every second row backwards
    x, y = columns.ravel() * float(pitch), rows.ravel() * float(pitch)
    keep = is_inside(outline, x, y, edge_exclusion=edge_exclusion)
    if not bool(keep.any()):
        raise _nothing_left(edge_exclusion)
    return _numbered("square grid", np.asarray(x[keep], dtype=np.float64), np.asarray(y[keep], dtype=np.float64))


def line_scan(outline: Outline, *, sites: int, azimuth: float = 0.0, edge_exclusion: float = 0.0) -> SitePattern:
    """Evenly spaced sites on a straight line through the centre, from edge to edge.

    Parameters
    ----------
    outline : Round, Rectangle or Polygon
        Lengths in m.
    sites : int [1]
        Number of sites, at least 2.
    azimuth : float [rad]
        Direction in which the line runs, counter-clockwise from +x.
    edge_exclusion : float [m]
        Zero or more.

    Returns
    -------
    SitePattern

    Raises
    ------
    OutOfValidRange
        Fewer than two sites, or the exclusion leaves nothing.

    Notes
    -----
    A line carries a slope along itself, but no wedge vector.

    Examples
    --------
    >>> from lapwright.model.wafer import Round
    >>> (1e3 * line_scan(Round(diameter=0.1), sites=3, edge_exclusion=0.005).x).round(3).tolist()
    [-45.0, 0.0, 45.0]
    """
    if sites < 2:
        raise OutOfValidRange("number of sites", sites, "at least 2")
    back = reach(outline, azimuth=azimuth + math.pi, edge_exclusion=edge_exclusion)
    forth = reach(outline, azimuth=azimuth, edge_exclusion=edge_exclusion)
    along = np.linspace(-back, forth, sites)
    return _numbered("line", along * math.cos(azimuth), along * math.sin(azimuth))


def custom_sites(
    labels: Sequence[str],
    x: Sequence[float],
    y: Sequence[float],
    *,
    outline: Outline,
    edge_exclusion: float = 0.0,
    name: str = "own",
) -> SitePattern:
    """A pattern of one's own, in the order given.

    Parameters
    ----------
    labels : sequence of str, length n
        One name per site, all different.
    x, y : sequences of float, length n [m]
        Places in the wafer frame.
    outline : Round, Rectangle or Polygon
        Lengths in m.
    edge_exclusion : float [m]
        Zero or more.
    name : str
        Name of the pattern.

    Returns
    -------
    SitePattern

    Raises
    ------
    BadInput
        Sites outside the outline less its exclusion, repeated labels or unequal lengths; all of them listed.

    Examples
    --------
    >>> from lapwright.model.wafer import Round
    >>> custom_sites(["a", "b"], [0.0, 0.01], [0.0, 0.0], outline=Round(diameter=0.1)).labels
    ('a', 'b')
    """
    if not len(labels) == len(x) == len(y):
        sentence = f"{len(labels)} labels, {len(x)} x and {len(y)} y were given; expected one of each per site."
        raise BadInput((Fault(sentence=sentence),))
    px, py = np.array(x, dtype=float), np.array(y, dtype=float)
    inside = is_inside(outline, px, py, edge_exclusion=edge_exclusion)
    faults = [
        Fault(
            sentence=f"Site {label!r} at ({1e3 * px[i]:g}, {1e3 * py[i]:g}) mm is not on the piece less its edge "
            f"exclusion of {1e3 * edge_exclusion:g} mm; move it in.",
            row=i + 1,
            field="site",
        )
        for i, label in enumerate(labels)
        if not inside[i]
    ]
    faults += [
        Fault(sentence=f"The label {label!r} is used twice; give every site its own.", row=i + 1, field="site")
        for i, label in enumerate(labels)
        if label in labels[:i]
    ]
    if faults or not labels:
        raise BadInput(faults or (Fault(sentence="No site was given; expected at least one."),), subject="The pattern")
    return SitePattern(name=name, labels=tuple(labels), x=px, y=py)


# ----------------------------------------------------------------------------------------------------------------------


def _ringed(
    name: str, outline: Outline, rings: tuple[tuple[float, tuple[float, ...]], ...], edge_exclusion: float
) -> SitePattern:
    """The centre, then rings given as (share of the outermost distance, azimuths)."""
    labels, x, y = ["C"], [0.0], [0.0]
    for letter, (share, azimuths) in zip(string.ascii_uppercase, rings, strict=False):
        for number, azimuth in enumerate(azimuths, start=1):
            direction, planned = _planned(outline, azimuth, edge_exclusion)
            most = reach(outline, azimuth=direction, edge_exclusion=edge_exclusion)
            if most < _LEAST_SHARE * share * planned or most <= 0.0:
                raise OutOfValidRange(
                    "edge_exclusion",
                    edge_exclusion,
                    f"small enough to keep site {letter}{number} at more than half its distance of "
                    f"{share * planned:g} m from the centre",
                    "Ask for a smaller exclusion, or give sites of your own.",
                )
            distance = min(share * planned, most)
            labels.append(f"{letter}{number}")
            x.append(distance * math.cos(direction))
            y.append(distance * math.sin(direction))
    return SitePattern(name=name, labels=tuple(labels), x=np.array(x), y=np.array(y))


def _planned(outline: Outline, azimuth: float, edge_exclusion: float) -> tuple[float, float]:
    """Direction and distance of an outermost site; on a rectangle the eighths go to corners and middles of sides."""
    if isinstance(outline, Rectangle):
        half_x = min(OUTER_SHARE * outline.width / 2, outline.width / 2 - edge_exclusion)
        half_y = min(OUTER_SHARE * outline.height / 2, outline.height / 2 - edge_exclusion)
        if min(half_x, half_y) <= 0.0:
            raise _nothing_left(edge_exclusion)
        stretch = 1.0 / max(abs(math.cos(azimuth)), abs(math.sin(azimuth)))
        to_x, to_y = half_x * stretch * math.cos(azimuth), half_y * stretch * math.sin(azimuth)
        return math.atan2(to_y, to_x), math.hypot(to_x, to_y)
    radius = outline.diameter / 2 if isinstance(outline, Round) else reach(outline, azimuth=azimuth)
    planned = min(OUTER_SHARE * radius, radius - edge_exclusion)
    if planned <= 0.0:
        raise _nothing_left(edge_exclusion)
    return azimuth, planned


def _nothing_left(edge_exclusion: float) -> OutOfValidRange:
    return OutOfValidRange(
        "edge_exclusion",
        edge_exclusion,
        "less than the distance from the centre to the nearest edge [m]",
        "Nothing is left to measure: ask for a smaller exclusion, or check the outline and its units.",
    )


def _numbered(name: str, x: NDArray[np.float64], y: NDArray[np.float64]) -> SitePattern:
    labels = tuple(str(i + 1) for i in range(len(x)))
    return SitePattern(name=name, labels=labels, x=np.asarray(x, dtype=float), y=np.asarray(y, dtype=float))
