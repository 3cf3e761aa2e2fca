"""The wafer map: well-formed, to scale, nothing invented between or beyond the sites."""

import math
import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.model.wafer import Polygon, Rectangle, Round, ThicknessMap, Wedge
from lapwright.reports.drawing import Lettering, Scale, map_scale, matched_scales, wafer_map

SVG = "{http://www.w3.org/2000/svg}"
DISC = Round(diameter=50.8e-3, mark="flat", flat_length=16e-3)


def polar(rings, radius=23.4e-3):
    """The centre and rings of sites."""
    places = [(0.0, 0.0)]
    for share, count in rings:
        turn = np.arange(count) * math.tau / count
        places += list(zip(share * radius * np.cos(turn), share * radius * np.sin(turn), strict=True))
    return np.array(places).T.copy()


def site_map(rings=((1.0, 4),), missing=(), offset=100e-6):
    """A tilted, rippled map."""
    x, y = polar(rings)
    value = offset + 1e-6 * x / 23.4e-3 + 0.3e-6 * np.cos(y / 5e-3)
    value[list(missing)] = np.nan
    return ThicknessMap(x=x, y=y, thickness=value)


def texts(svg):
    """All texts of a drawing."""
    return [element.text for element in ET.fromstring(svg).iter(f"{SVG}text")]


def test_five_sites_show_five_values():
    """Every value of a small pattern is written at its site."""
    given = site_map()
    shown = texts(wafer_map(given, DISC, heading="five"))
    for value in given.thickness:
        assert f"{value * 1e6:.2f}" in shown


def test_map_is_named_and_described():
    """Title and description carry the map for those who hear it read."""
    root = ET.fromstring(wafer_map(site_map(), DISC, heading="Wafer 03 <after> & done"))
    assert root.find(f"{SVG}title").text == "Wafer 03 <after> & done"
    assert "site 1: 100.30 µm" in root.find(f"{SVG}desc").text
    assert root.get("role") == "img"


def test_unmeasured_site_is_an_open_ring():
    """NaN is drawn as a ring, counted in words, and never coloured over with a number."""
    svg = wafer_map(site_map(missing=(2,)), DISC)
    assert svg.count('class="not-measured"') == 1
    assert "○ not measured: 1" in texts(svg)
    assert "nan" not in svg.lower()


def test_nothing_measured_has_neither_colours_nor_scale():
    """An empty map claims nothing."""
    svg = wafer_map(site_map(missing=range(5)), DISC)
    assert 'class="colours"' not in svg
    assert 'class="scale"' not in svg


def test_two_sites_are_not_made_into_a_surface():
    """Sites that span no area are shown as values only."""
    line = ThicknessMap(x=np.array([-1e-2, 0.0, 1e-2]), y=np.zeros(3), thickness=np.array([1.0, 2.0, 3.0]) * 1e-6)
    svg = wafer_map(line, DISC)
    assert 'class="colours"' not in svg
    assert "2.00" in texts(svg)


def test_colours_are_cut_at_the_sites_and_at_the_edge_exclusion():
    """The coloured region lies within the hull of the sites: with four rim sites a square on its corner."""
    root = ET.fromstring(wafer_map(site_map(), DISC, edge_exclusion=2e-3))
    clips = root.findall(f"{SVG}clipPath") or root.findall(f".//{SVG}clipPath")
    around = re.findall(r"(-?[\d.]+) (-?[\d.]+)", clips[0].find(f"{SVG}path").get("d"))
    assert len(clips) == 2
    assert len(around) == 4


def test_289_sites_write_only_values_that_fit():
    """A crowded map writes the thickest and the thinnest, and says how many it wrote."""
    given = site_map(rings=[(k / 8, 8 * k) for k in range(1, 9)])
    shown = texts(wafer_map(given, DISC))
    note = next(text for text in shown if "values written" in text)
    written, every = (int(number) for number in re.findall(r"\d+", note))
    assert every == 289
    assert 10 < written < 120
    assert f"{given.thickness.max() * 1e6:.2f}" in shown
    assert f"{given.thickness.min() * 1e6:.2f}" in shown


def boxes(svg):
    """Boxes of the values on the map, from their places and letter counts (0.6 em a digit)."""
    found = []
    for text in ET.fromstring(svg).iter(f"{SVG}text"):
        if text.get("class") == "on-map":
            size, x, y = (float(text.get(name)) for name in ("font-size", "x", "y"))
            wide = 0.6 * size * len(text.text)
            left = {"start": x, "middle": x - wide / 2, "end": x - wide}[text.get("text-anchor")]
            found.append((left, y - 0.8 * size, left + wide, y))
    return found


@pytest.mark.parametrize(
    "rings", [[(1, 4)], [(0.5, 8), (1, 8)], [(0.5, 8), (1, 16)], [(k / 8, 8 * k) for k in range(1, 9)]]
)
def test_values_do_not_cover_each_other(rings):
    """No two values overlap, whatever the pattern."""
    drawn = boxes(wafer_map(site_map(rings=rings), DISC))
    for i, a in enumerate(drawn):
        for b in drawn[:i]:
            assert not (a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3])


@pytest.mark.parametrize("azimuth", [0.0, 90.0, 210.0, 331.0])
def test_wedge_arrow_points_at_the_thickest_edge(azimuth):
    """On paper y runs down, so the arrow is turned by minus the azimuth, outside the rim."""
    svg = wafer_map(site_map(), Round(diameter=50.8e-3), wedge=Wedge(amount=2e-6, azimuth=math.radians(azimuth)))
    x, y, turn = map(float, re.search(r"translate\(([-\d.]+) ([-\d.]+)\) rotate\(([-\d.]+)\)", svg).groups())
    assert turn == pytest.approx(-azimuth)
    assert x == pytest.approx(184.0 + 150.0 * math.cos(math.radians(azimuth)), abs=0.1)
    assert y == pytest.approx(202.0 - 150.0 * math.sin(math.radians(azimuth)), abs=0.1)


def test_wedge_is_told_on_the_clock_and_in_degrees():
    """Azimuth 331° is nearest to 4 o'clock."""
    lines = texts(wafer_map(site_map(), DISC, wedge=Wedge(amount=2.2e-6, azimuth=math.radians(331.0))))
    assert "wedge 2.20 µm · thickest edge 4 o'clock (331°)" in lines


def test_wedge_without_direction_has_no_arrow():
    """A wedge that cannot be told from none says so."""
    svg = wafer_map(site_map(), DISC, wedge=Wedge(amount=0.1e-6, azimuth=None))
    assert 'class="wedge"' not in svg
    assert any("direction cannot be told" in text for text in texts(svg))


def test_common_scale_gives_equal_values_equal_colours():
    """Maps that lie together share one scale; every value is on it."""
    one, two = site_map(), site_map(offset=100.4e-6)
    scale = map_scale(one, two)
    assert matched_scales(one, two) == (scale, scale)
    assert scale.low <= one.thickness.min() * 1e6
    assert scale.high >= two.thickness.max() * 1e6


def test_scales_before_and_after_a_thinning_have_equal_steps():
    """500 µm and 100 µm cannot share a scale; they share the step and the width."""
    before, after = site_map(offset=500e-6), site_map(offset=100e-6)
    first, second = matched_scales(before, after)
    assert first.step == second.step
    assert len(first.ticks) == len(second.ticks)
    assert first.low <= before.thickness.min() * 1e6 <= before.thickness.max() * 1e6 <= first.high
    assert second.low <= after.thickness.min() * 1e6 <= after.thickness.max() * 1e6 <= second.high


def test_value_off_the_scale_is_refused_not_clipped():
    """A scale that does not hold all values is the asker's mistake."""
    with pytest.raises(OutOfValidRange, match="mapped value"):
        wafer_map(site_map(), DISC, scale=Scale(low=99.0, high=100.0, step=0.5))


def test_sites_and_values_must_agree():
    """One value per site."""
    with pytest.raises(ShapeMismatch):
        wafer_map(ThicknessMap(x=np.zeros(3), y=np.zeros(3), thickness=np.zeros(4)), DISC)


@pytest.mark.parametrize(
    "outline",
    [
        Round(diameter=50.8e-3, mark="notch"),
        Rectangle(width=60e-3, height=25e-3),
        Polygon(corners=((-30e-3, -26e-3), (30e-3, -26e-3), (0.0, 40e-3))),
        Polygon(corners=((0.0, 40e-3), (30e-3, -26e-3), (-30e-3, -26e-3))),
    ],
)
def test_every_outline_can_be_drawn(outline):
    """Notch, rectangle and polygon, in either sense of turning."""
    svg = wafer_map(site_map(), outline, edge_exclusion=1e-3, wedge=Wedge(amount=1e-6, azimuth=2.0))
    assert ET.fromstring(svg).tag == f"{SVG}svg"


def test_german_map_has_commas():
    """The decimal sign follows the reader."""
    shown = texts(wafer_map(site_map(), DISC, lettering=Lettering(decimal=",")))
    assert "100,30" in shown
    assert not any(re.fullmatch(r"\d+\.\d+", text) for text in shown)


def test_maps_on_one_page_keep_their_own_clips():
    """Clip names differ when the contents differ."""
    ids = [set(re.findall(r'id="([^"]+)"', wafer_map(site_map(rings=r), DISC))) for r in ([(1, 4)], [(1, 8)])]
    assert not ids[0] & ids[1]


def test_drawing_carries_no_script_and_no_style():
    """The same SVG goes into a page, a PDF and a file."""
    svg = wafer_map(site_map(), DISC, heading="<script>x</script>")
    assert not re.search(r"<script|<style|style=|href=", svg)
