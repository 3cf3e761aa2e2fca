"""The rim of a piece to scale: disc with flat or notch, rectangle, polygon; and the same rim moved inward."""

from __future__ import annotations

import math

import numpy as np

from lapwright.model.wafer import Outline, Polygon, Rectangle, Round

#: Depth and half opening of a notch: 1.0 mm, 45° to each side (SEMI M1 dimensions of notched wafers, from memory).
NOTCH_DEPTH = 1.0e-3
_ARC_STEPS = 180

Corners = list[tuple[float, float]]


def rim(outline: Outline) -> Corners:
    """Corners of the outline in the wafer frame [m], counter-clockwise, fine enough to look round."""
    if isinstance(outline, Round):
        return _disc(outline)
    if isinstance(outline, Rectangle):
        x, y = outline.width / 2.0, outline.height / 2.0
        return [(-x, -y), (x, -y), (x, y), (-x, y)]
    return [(float(x), float(y)) for x, y in outline.corners]


def inner_rim(outline: Outline, exclusion: float) -> Corners:
    """The rim of the region inside the edge exclusion [m]; for a polygon it is drawn toward its centroid."""
    if isinstance(outline, Round):
        if exclusion >= outline.diameter / 2.0:
            return []
        return _arc(outline.diameter / 2.0 - exclusion, _flat_height(outline) - exclusion)
    if isinstance(outline, Rectangle):
        x, y = outline.width / 2.0 - exclusion, outline.height / 2.0 - exclusion
        return [(-x, -y), (x, -y), (x, y), (-x, y)] if min(x, y) > 0.0 else []
    return _moved_inward(outline, exclusion)


def reach(outline: Outline) -> tuple[float, float, float, float]:
    """Least x, least y, greatest x, greatest y of the outline [m]."""
    x, y = np.array(rim(outline)).T
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


# ----------------------------------------------------------------------------------------------------------------------


def _flat_height(outline: Round) -> float:
    """Distance of the flat from the centre; the radius when there is none."""
    radius = outline.diameter / 2.0
    return math.sqrt(radius**2 - (outline.flat_length / 2.0) ** 2) if outline.mark == "flat" else radius


def _disc(outline: Round) -> Corners:
    radius = outline.diameter / 2.0
    if outline.mark != "notch":
        return _arc(radius, _flat_height(outline))
    half = math.asin(NOTCH_DEPTH / radius)
    turn = np.linspace(-math.pi / 2.0 + half, 1.5 * math.pi - half, _ARC_STEPS)
    points = [(radius * math.cos(a), radius * math.sin(a)) for a in turn]
    return [*points, (0.0, -radius + NOTCH_DEPTH)]


def _arc(radius: float, flat_height: float) -> Corners:
    """A disc, cut straight at y = −flat_height."""
    half = math.acos(min(1.0, max(flat_height, 0.0) / radius))
    turn = np.linspace(-math.pi / 2.0 + half, 1.5 * math.pi - half, _ARC_STEPS)
    return [(radius * math.cos(a), radius * math.sin(a)) for a in turn]


def _moved_inward(outline: Polygon, exclusion: float) -> Corners:
    """Each edge of a convex polygon moved inward; neighbours meet where the moved edges cross."""
    corners = np.array(outline.corners, dtype=float)
    x, y = corners.T
    if float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) < 0.0:
        corners = corners[::-1]
    edges = np.roll(corners, -1, axis=0) - corners
    normal = np.column_stack([-edges[:, 1], edges[:, 0]]) / np.linalg.norm(edges, axis=1)[:, None]
    moved = corners + exclusion * normal
    return [_crossing(moved[i - 1], edges[i - 1], moved[i], edges[i]) for i in range(len(corners))]


def _crossing(p: np.ndarray, d: np.ndarray, q: np.ndarray, e: np.ndarray) -> tuple[float, float]:
    across = d[0] * e[1] - d[1] * e[0]
    if abs(across) < 1e-30:
        return float(q[0]), float(q[1])
    along = ((q[0] - p[0]) * e[1] - (q[1] - p[1]) * e[0]) / across
    return float(p[0] + along * d[0]), float(p[1] + along * d[1])
