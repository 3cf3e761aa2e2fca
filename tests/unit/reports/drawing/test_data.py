"""The numbers that a drawing carries along: they are those drawn, as CSV, and paper goes without them."""

import csv
import io
import re
from html import unescape

import numpy as np
import pytest

from lapwright.model.wafer import Round, ThicknessMap
from lapwright.reports.drawing.budget import BudgetBar, budget_bars
from lapwright.reports.drawing.chart import Line, line_chart
from lapwright.reports.drawing.damage_ruler import DamageColumn, damage_ruler
from lapwright.reports.drawing.ink import MOST_ROWS, table, without_data
from lapwright.reports.drawing.limit_line import JudgedValue, limit_line
from lapwright.reports.drawing.signal_chart import SignalChart, signal_chart
from lapwright.reports.drawing.stack import StackStep, stack_through_stages
from lapwright.reports.drawing.wafer_map import wafer_map
from lapwright.reports.drawing.wheel import WheelAdjuster, jig_wheel

MAP = ThicknessMap(
    x=np.array([0.0, 0.02, -0.01]), y=np.array([0.0, 0.01, 0.02]), thickness=np.array([1e-4, np.nan, 1.002e-4]),
    labels=("C", "A<1>", "A, 2"),
)  # fmt: skip


def numbers_of(svg):
    """The rows of the CSV in a drawing, its head first."""
    found = re.search(r'<metadata class="data">(.*?)</metadata>', svg, re.DOTALL)
    return list(csv.reader(io.StringIO(unescape(found[1]))))


def test_a_map_carries_its_sites():
    """Names with commas and brackets come back whole; a site that was not measured has no value."""
    assert numbers_of(wafer_map(MAP, Round(diameter=0.0508))) == [
        ["site", "x_mm", "y_mm", "value_um"],
        ["C", "0", "0", "100"],
        ["A<1>", "20", "10", ""],
        ["A, 2", "-10", "20", "100.2"],
    ]


def test_charts_carry_their_points():
    """A line point by point; a control chart with the points at which a rule fires; a stack stage by stage."""
    line = line_chart(
        [Line(x=np.arange(2.0), y=np.array([1.0, 3.5]), name="dome")], x_label="h", y_label="µm", title="t"
    )
    assert numbers_of(line)[1:] == [["dome", "0", "1"], ["dome", "1", "3.5"]]
    chart = SignalChart(
        points=np.array([1.0, 2.0]),
        values=None,
        centre=1.5,
        lower=None,
        upper=None,
        signalled=frozenset({1}),
        events=(),
    )
    assert numbers_of(signal_chart(chart, title="t", unit="µm"))[2] == ["2", "2", "yes"]
    stack = stack_through_stages([StackStep(label="as it came", wafer=5e-4, bond=None, carrier=6e-3, state="done")])
    assert numbers_of(stack)[1] == ["as it came", "done", "500", "", "6000", "0"]


def test_what_is_to_be_done_and_judged_is_carried_too():
    """The turns of a jig, the damage by stage, the values at a limit with what is accepted, the parts of a budget."""
    screws = [
        WheelAdjuster(azimuth=np.pi / 2.0, correction=2e-6, divisions=1.0, turn="clockwise", label="1"),
        WheelAdjuster(azimuth=np.pi, correction=0.0, divisions=0.0, label="2"),
        WheelAdjuster(azimuth=-np.pi / 2.0, correction=-2e-6, divisions=-1.0, label="3"),
    ]
    assert numbers_of(jig_wheel(screws))[1:3] == [["1", "90", "2", "1", "clockwise"], ["2", "180", "0", "0", ""]]
    damage = damage_ruler([DamageColumn(label="lap", median=5e-6, high=9e-6, is_done=True)])
    assert numbers_of(damage)[1] == ["lap", "yes", "5", "9"]
    judged = JudgedValue(
        name="W1",
        value=1.5,
        expanded_uncertainty=0.2,
        accepted_low=None,
        accepted_high=1.8,
        look="full",
        word="keeps it",
    )
    line = limit_line([judged], lower=None, upper=2.0, unit="µm", title="TTV")
    assert numbers_of(line)[1] == ["W1", "1.5", "0.2", "", "1.8", "keeps it"]
    budget = budget_bars([BudgetBar(name="repeats", size=3.0, share=1.0)], title="t", unit="µm", combined=3.0)
    assert numbers_of(budget)[1] == ["repeats", "3", "100"]


def test_a_drawing_takes_the_focus_on_a_page_and_none_on_paper():
    """With its name and description it is what a reader without eyes comes to by Tab."""
    svg = wafer_map(MAP, Round(diameter=0.0508), heading="As it came")
    assert 'tabindex="0"' in svg
    assert "<title>As it came</title><desc>" in svg
    bare = without_data(svg)
    assert "tabindex" not in bare
    assert "metadata" not in bare


@pytest.mark.parametrize(("rows", "is_kept"), [(MOST_ROWS, True), (MOST_ROWS + 1, False)])
def test_too_many_numbers_are_left_out(rows, is_kept):
    """A dense scan would make the page heavy; its readings can be exported."""
    assert bool(table(("n",), ((i,) for i in range(rows)))) is is_kept
