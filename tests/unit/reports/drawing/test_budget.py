"""The drawing of contributions: largest on top, all told in words."""

import xml.etree.ElementTree as ET

import pytest

from lapwright.errors import TooFewSites
from lapwright.metrology.uncertainty import Budget, Contribution
from lapwright.reports.drawing.budget import BudgetBar, bars_of_budget, budget_bars

SVG = "{http://www.w3.org/2000/svg}"
BUDGET = Budget(
    contributions=(
        Contribution(name="repeats <1>", standard_uncertainty=3e-7),
        Contribution(name="calibration", standard_uncertainty=4e-7, sensitivity=-1.0),
    )
)


def test_the_largest_stands_on_top_and_lengths_follow_sizes():
    """0.64 above 0.36, 4 : 3."""
    bars = bars_of_budget(BUDGET, per_unit=1e6)
    root = ET.fromstring(budget_bars(bars, title="Thickness", unit="µm", combined=0.5))
    texts = [element.text for element in root.iter(f"{SVG}text")]
    assert texts.index("calibration") < texts.index("repeats <1>")
    assert "64.0 % of the variance" in texts
    widths = [float(one.get("width")) for one in root.iter(f"{SVG}rect") if one.get("class") == "bar"]
    assert pytest.approx(widths[0] / widths[1], rel=0.01) == 4 / 3
    assert "calibration: 0.4 µm" in root.find(f"{SVG}desc").text


def test_a_line_that_takes_away_is_hatched():
    """Not by colour alone."""
    bars = (BudgetBar(name="a", size=3.0, share=1.2), BudgetBar(name="b", size=1.0, share=-0.2))
    drawn = budget_bars(bars, title="t", unit="1", combined=2.0)
    assert "url(#takes-away" in drawn
    assert "−20.0 %" in drawn


def test_nothing_to_draw():
    """Refused."""
    with pytest.raises(TooFewSites):
        budget_bars((), title="t", unit="1", combined=1.0)
