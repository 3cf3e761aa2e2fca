"""Small charts of one signal, and the readings of a gauge study."""

import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from lapwright.errors import TooFewSites
from lapwright.reports.drawing.difference_chart import difference_chart
from lapwright.reports.drawing.signal_chart import ChartEvent, SignalChart, signal_chart
from lapwright.reports.drawing.study_chart import study_chart

SVG = "{http://www.w3.org/2000/svg}"


def chart(**changes):
    """Five points, the fourth signalled, an event before the third."""
    given = {
        "points": np.array([1.0, 1.1, 0.9, 3.0, 1.0]), "values": None, "centre": 1.0, "lower": None, "upper": 1.6,
        "signalled": frozenset({3}), "events": (ChartEvent(before_point=2, letter="A", words="new <lot>"),),
    }  # fmt: skip
    return SignalChart(**{**given, **changes})


def test_a_signal_is_a_square_with_a_ring_and_not_merely_red():
    """One square, one ring, four plain dots."""
    drawn = ET.fromstring(signal_chart(chart(), title="Rate", unit="µm/min"))
    circles = drawn.findall(f".//{SVG}circle")
    assert len(drawn.findall(f".//{SVG}rect")) == 1
    assert sorted(one.get("r") for one in circles) == ["2.6"] * 4 + ["8"]


def test_an_event_stands_between_its_points():
    """Before point 3 of 5: left of the third, right of the second; its words are escaped in the description."""
    drawn = ET.fromstring(signal_chart(chart(), title="Rate", unit="µm/min"))
    places = sorted(float(one.get("cx")) for one in drawn.findall(f".//{SVG}circle"))
    letter = next(one for one in drawn.findall(f".//{SVG}text") if one.text == "A")
    assert places[1] < float(letter.get("x")) < places[2]
    assert "A before point 3: new <lot>" in drawn.find(f"{SVG}desc").text


def test_values_behind_averages_are_small_dots():
    """Five more circles."""
    drawn = signal_chart(chart(values=np.ones(5)), title="Rate", unit="µm/min")
    assert drawn.count('r="1.8"') == 5


def test_nothing_to_draw_is_refused():
    """No point, no chart; no reading, no study."""
    empty = chart(points=np.empty(0), centre=None, upper=None, signalled=frozenset(), events=())
    with pytest.raises(TooFewSites):
        signal_chart(empty, title="Rate", unit="µm")
    codes = np.empty(0, dtype=np.intp)
    with pytest.raises(TooFewSites):
        study_chart(np.empty(0), codes, codes, names=(("W1",), ("ada",)), unit="µm", title="Study")


def test_every_reading_of_a_study_has_a_mark_by_operator():
    """Two parts, two people, two repeats: four circles and four squares, and one of each in the key."""
    part, operator = np.repeat([0, 1], 4), np.tile([0, 0, 1, 1], 2)
    value = np.arange(8.0)
    drawn = study_chart(value, part, operator, names=(("W1", "W2"), ("ada", "ben")), unit="µm", title="Study")
    found = ET.fromstring(drawn)
    assert len(found.findall(f".//{SVG}circle")) == 5
    assert len(found.findall(f".//{SVG}rect")) == 5


def test_the_chart_of_two_gauges_puts_its_points_at_difference_over_mean():
    """First 2, 4, 6 and second 1, 3, 5: all differences are 1, at means of 1.5, 3.5 and 5.5, evenly apart."""
    svg = difference_chart(
        np.array([2.0, 4.0, 6.0]), np.array([1.0, 3.0, 5.0]), agreement=(0.5, 1.5), allowed=2.0, unit="µm", title="t"
    )
    places = [(float(x), float(y)) for x, y in re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)"', svg)]
    assert len({y for _x, y in places}) == 1
    assert places[1][0] - places[0][0] == pytest.approx(places[2][0] - places[1][0], abs=0.11)
    assert "on average 1" in svg
