"""Drawings of what fringes say: scale, both ways round, what was not measured."""

import base64
import io
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from PIL import Image

from lapwright.reports.drawing.colour import ramp_colour, ramp_pixels
from lapwright.reports.drawing.fringe_view import (
    HeightMap,
    Profile,
    Seen,
    form_sketch,
    fringe_picture,
    height_maps,
    trust_picture,
)
from lapwright.reports.drawing.relief import relief
from lapwright.reports.drawing.scale import common_scale, even_scale

DOME = np.where(
    np.hypot(*np.mgrid[-1:1:41j, -1:1:41j]) <= 1.0, 1e-6 * (1.0 - np.hypot(*np.mgrid[-1:1:41j, -1:1:41j]) ** 2), np.nan
)
PIXEL = (1e-3, 1e-3)
SVG = "{http://www.w3.org/2000/svg}"


def carried(svg):
    """The first picture that a drawing carries, as pixels."""
    data = re.search(r'href="data:image/\w+;base64,([^"]+)"', svg)
    return np.asarray(Image.open(io.BytesIO(base64.b64decode(data[1]))))


def test_one_fringe_and_a_round_scale_stand_in_the_picture():
    """320 pixels of 0.2 mm are 64 mm; a quarter of that is 16 mm, so the bar is 10 mm."""
    seen = Seen(intensity=np.eye(320), pixel_size=(2e-4, 2e-4), fringe="one fringe = 0.5 µm")
    svg = fringe_picture(seen, title="t")
    assert "one fringe = 0.5 µm" in svg
    assert ">10 mm<" in svg


def test_words_from_outside_cannot_become_markup():
    """A name with brackets is escaped."""
    svg = fringe_picture(Seen(intensity=np.eye(8), fringe="<script>"), title="<b>")
    ET.fromstring(svg)
    assert "<script>" not in svg


def test_a_picture_of_one_grey_is_drawn():
    """Nothing bright, nothing dark: no division by nought."""
    assert carried(fringe_picture(Seen(intensity=np.full((4, 4), 7)), title="t")).max() == 0


def test_unmeasured_pixels_of_a_map_are_left_out():
    """Corners of the dome's square are clear, its middle has the brightest colour."""
    pixels = carried(height_maps([HeightMap(height=DOME, pixel_size=PIXEL)], title="Map", removed="tilt")[0])
    assert pixels[0, 0, 3] == 0
    assert pixels[20, 20, 3] == 255
    assert pixels[20, 20, :3].sum() > pixels[20, 0, :3].sum()


def test_two_maps_share_one_scale_and_name_what_was_taken_out():
    """A dome of 2 µm beside one of 1 µm: the middle of the lower one is darker."""
    high, low = height_maps(
        [HeightMap(height=2.0 * DOME, pixel_size=PIXEL, name="a"), HeightMap(height=DOME, pixel_size=PIXEL, name="b")],
        title="Map",
        removed="Taken out: tilt.",
    )
    assert carried(low)[20, 20, :3].sum() < carried(high)[20, 20, :3].sum()
    assert "Taken out: tilt." in low


def test_a_map_names_its_lines_of_equal_height_and_its_extremes():
    """A dome of 1 µm above its rim: a line for each step of the scale inside, the top at 1.0 and the rim at 0.0."""
    drawn = ET.fromstring(height_maps([HeightMap(height=DOME, pixel_size=PIXEL)], title="Map", removed="tilt")[0])
    lines = drawn.find(f".//{SVG}g[@class='isolines']")
    named = {one.text for one in lines.findall(f"{SVG}text")}
    steps = {f"{tick:.1f}" for tick in common_scale([DOME * 1e6]).ticks[1:-1]}
    assert named == steps
    top, rim = (one.text for one in drawn.findall(f".//{SVG}g[@class='extremes']/{SVG}text"))
    assert (top, rim) == ("1.0", "0.0")


@pytest.mark.parametrize("unsure", [False, True])
def test_cross_sections_stand_on_one_scale_and_a_question_mark_between_what_nobody_knows(unsure):
    """Two bodies of one reach, 400 µm of a parabola over ± 20 mm: its bar is the round length below its half."""
    x = np.linspace(-0.02, 0.02, 50)
    both = [Profile(distance=x, height=sign * x**2, name=name) for sign, name in ((1.0, "A"), (-1.0, "B"))]
    svg = form_sketch(both, unsure=unsure, title="t")
    assert svg.count('fill-opacity="0.25"') == 2
    assert (">?<" in svg) is unsure
    assert ">200 µm<" in svg
    assert svg.count(">40.0 mm<") == 2


def test_what_was_not_trusted_is_covered():
    """A veil outside the sample, and two over the doubted part."""
    mask = np.zeros((40, 40), bool)
    mask[5:35, 5:35] = True
    trusted = mask.copy()
    trusted[5:10] = False
    seen = Seen(intensity=np.ones((40, 40)), mask=mask, trusted=trusted)
    assert trust_picture(seen, title="t", desc="d").count("<image") == 4


def test_the_view_from_above_needs_something_measured():
    """Nothing measured, nothing drawn."""
    assert relief(np.full((9, 9), np.nan), PIXEL, even_scale(0.0, 1.0), title="t", desc="d") == ""


def test_a_body_seen_from_above_has_the_colours_of_its_map_and_a_bar_for_its_height():
    """The top of a dome of 1 µm has the brightest colour; the bar is the round length below three quarters of it."""
    svg = relief(DOME, PIXEL, even_scale(0.0, 1.0), title="t", desc="d")
    cells = re.findall(r'fill="(#[0-9a-f]{6})"', svg)
    brightest = max(cells, key=lambda colour: sum(bytes.fromhex(colour[1:])))
    assert sum(bytes.fromhex(brightest[1:])) > 0.97 * sum(bytes.fromhex(ramp_colour(1.0)[1:]))
    assert ">0.5 µm<" in svg


def test_the_ramp_in_pixels_is_the_ramp():
    """The ends as text and as bytes."""
    ends = ramp_pixels(np.array([0.0, 1.0]))
    assert [f"#{r:02x}{g:02x}{b:02x}" for r, g, b in ends.tolist()] == [ramp_colour(0.0), ramp_colour(1.0)]
