"""A limit drawn with the values judged against it: places on one scale, escaped names, words beside shapes."""

import re
from xml.etree import ElementTree as ET

import pytest

from lapwright.errors import TooFewSites
from lapwright.reports.drawing.limit_line import JudgedValue, limit_line

SVG = "{http://www.w3.org/2000/svg}"


def row(name="W1", value=100.0, expanded=0.5, low=98.4, high=101.6, look="full", word="keeps it"):
    """One judged value."""
    return JudgedValue(
        name=name,
        value=value,
        expanded_uncertainty=expanded,
        accepted_low=low,
        accepted_high=high,
        look=look,
        word=word,
    )


def drawn(*rows, lower=98.0, upper=102.0):
    """The drawing as a tree."""
    return ET.fromstring(limit_line(rows, lower=lower, upper=upper, unit="µm", title="thickness"))


def bars(tree):
    """Where the upright bars of the limits stand."""
    found = [one for one in tree.iter(f"{SVG}path") if one.get("stroke-width") == "3"]
    return [float(re.match(r"M([\d.]+)", one.get("d"))[1]) for one in found]


def test_a_value_in_the_middle_of_its_limits_stands_in_the_middle():
    """100 between 98 and 102: half-way between the bars; 99 a quarter of the way."""
    tree = drawn(row(), row("W2", 99.0))
    low, high = bars(tree)
    places = [float(one.get("cx")) for one in tree.iter(f"{SVG}circle")]
    assert places[0] == pytest.approx((low + high) / 2.0, abs=0.2)
    assert places[1] == pytest.approx(low + (high - low) / 4.0, abs=0.2)


def test_the_guard_band_reaches_from_the_limit_to_what_is_accepted():
    """0.4 of 4 µm on each side: a tenth of the distance of the bars."""
    tree = drawn(row())
    low, high = bars(tree)
    strips = [one for one in tree.iter(f"{SVG}rect") if one.get("height") == "22"]
    assert [float(one.get("width")) for one in strips] == [pytest.approx((high - low) / 10.0, abs=0.2)] * 2


def test_the_look_is_a_shape_and_a_word():
    """Full dot, ring, diamond, each with its word and its numbers in the description."""
    tree = drawn(
        row(), row("W2", 101.8, look="ring", word="cannot be told"), row("W3", 103.0, look="diamond", word="no")
    )
    said = tree.find(f"{SVG}desc").text
    assert said == "W1: 100.00 ± 0.50 µm, keeps it; W2: 101.80 ± 0.50 µm, cannot be told; W3: 103.00 ± 0.50 µm, no"
    assert len(list(tree.iter(f"{SVG}circle"))) == 2


def test_an_upper_limit_alone_has_one_bar_and_a_name_is_only_text():
    """No lower bar; markup in a name stays text; a long one is cut with a mark."""
    svg = limit_line(
        [row("<script>alert(1)</script>", 0.8, 0.1, None, 1.8), row("W2", 0.9, None, None, None)],
        lower=None, upper=2.0, unit="µm", title="TTV",
    )  # fmt: skip
    assert "<script" not in svg
    assert len(bars(ET.fromstring(svg))) == 1


def test_nothing_to_draw_is_refused():
    """No value, no drawing."""
    with pytest.raises(TooFewSites):
        limit_line([], lower=None, upper=2.0, unit="µm", title="TTV")
