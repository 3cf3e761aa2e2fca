"""A plate from the side."""

import re

import pytest

from lapwright.reports.drawing.plate_side import SideRing, SideShape, plate_side

LAND = {"inner_radius": 0.04, "outer_radius": 0.15}
RING = SideRing(outer_radius=0.065, inner_radius=0.05, offset=0.105, advised=0.09)


def shapes(*domes_um):
    """Checks by number."""
    return [SideShape(name=f"check {n}", dome=d * 1e-6, readings=((0.1, d * 0.5e-6),)) for n, d in enumerate(domes_um)]


def test_the_summary_says_all_that_is_drawn():
    """The last four shapes, newest first, the ring and where it goes."""
    svg = plate_side(shapes(1.0, -2.0, 3.0, 4.0, 5.5), RING, **LAND)
    told = re.search(r"<desc>(.*?)</desc>", svg)[1]

    assert told == (
        "check 4: domed 5.5 µm; check 3: domed 4.0 µm; check 2: domed 3.0 µm; check 1: dished 2.0 µm;"
        " ring at 105.0 mm; to 90.0 mm."
    )


@pytest.mark.parametrize("dome_um", [0.0, 0.3, -80.0])
def test_any_shape_stays_inside_the_picture(dome_um):
    """Heights are stretched to fit, and the stretch is written."""
    svg = plate_side(shapes(dome_um), RING, **LAND)
    heights = [float(y) for y in re.findall(r"[ML](?:-?[\d.]+) (-?[\d.]+)", svg)]

    assert all(0.0 <= y <= 300.0 for y in heights)
    assert "times" in svg


def test_a_plate_never_read_shows_its_ring():
    """No line, no fault; a ring that stays has no arrow."""
    svg = plate_side([], SideRing(outer_radius=0.065, inner_radius=0.0, offset=0.1), **LAND)

    assert "ring at 100.0 mm" in svg
    assert "accent-line" not in svg
    assert svg.count('stroke-dasharray="4 3"') == 0


def test_names_cannot_break_the_picture():
    """Escaped."""
    svg = plate_side([SideShape(name="<b>&", dome=1e-6)], RING, **LAND)

    assert "<b>" not in svg
