"""Sites never leave the piece."""

import math

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from lapwright.errors import OutOfValidRange
from lapwright.metrology.site_patterns import (
    PATTERN_NAMES,
    is_inside,
    line_scan,
    named_pattern,
    polar_rings,
    square_grid,
)
from lapwright.model.wafer import Polygon, Rectangle, Round

sizes = st.floats(min_value=0.01, max_value=0.2)


@st.composite
def outlines(draw):
    """Discs with and without mark, rectangles, irregular polygons about the origin."""
    kind = draw(st.sampled_from(["disc", "flat", "notch", "rectangle", "polygon"]))
    size = draw(sizes)
    if kind == "disc":
        return Round(diameter=size)
    if kind == "flat":
        return Round(diameter=size, mark="flat", flat_length=size * draw(st.floats(min_value=0.05, max_value=0.85)))
    if kind == "notch":
        return Round(diameter=size, mark="notch")
    if kind == "rectangle":
        return Rectangle(width=size, height=size * draw(st.floats(min_value=0.3, max_value=1.0)))
    radii = draw(st.lists(st.floats(min_value=0.6, max_value=1.0), min_size=4, max_size=8))
    step = 2 * math.pi / len(radii)
    corners = tuple((size / 2 * r * math.cos(i * step), size / 2 * r * math.sin(i * step)) for i, r in enumerate(radii))
    return Polygon(corners=corners)


@settings(max_examples=60, deadline=None)
@given(outlines(), st.floats(min_value=0.0, max_value=0.15), st.integers(min_value=0, max_value=6))
def test_every_site_is_inside_the_outline_less_its_exclusion(outline, share, choice):
    """Or the pattern is refused; no site is moved out, doubled or lost."""
    size = outline.diameter if isinstance(outline, Round) else 0.02
    edge_exclusion = share * min(size, 0.05)
    asks = [
        *(lambda name=name: named_pattern(name, outline, edge_exclusion=edge_exclusion) for name in PATTERN_NAMES),
        lambda: polar_rings(outline, rings=3, per_ring=7, edge_exclusion=edge_exclusion),
        lambda: square_grid(outline, pitch=size / 9, edge_exclusion=edge_exclusion),
        lambda: line_scan(outline, sites=9, azimuth=0.7, edge_exclusion=edge_exclusion),
    ]
    try:
        pattern = asks[choice]()
    except OutOfValidRange:
        assume(False)
    assert is_inside(outline, pattern.x, pattern.y, edge_exclusion=edge_exclusion).all()
    assert len(pattern.labels) == len(np.unique(np.round(np.column_stack((pattern.x, pattern.y)), 9), axis=0))
