"""Stack, routes, jig and chart: the numbers are there, to scale, and told by more than colour."""

import math
import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange, ShapeMismatch, TooFewSites
from lapwright.model.plan import Plan, Stage
from lapwright.reports.drawing import (
    Band,
    Lettering,
    Level,
    Line,
    StackStep,
    WheelAdjuster,
    jig_wheel,
    line_chart,
    route_rulers,
    stack_through_stages,
)
from lapwright.reports.drawing.ink import clean, element

SVG = "{http://www.w3.org/2000/svg}"
STEPS = (
    StackStep(label="incoming", wafer=500e-6, damage=12e-6, state="done"),
    StackStep(label="coarse <lap>", wafer=200e-6, carrier=6.03e-3, bond=6.4e-6, damage=20e-6, state="next"),
    StackStep(label="polish", wafer=100e-6, carrier=6.03e-3, bond=6.4e-6),
)
PLAN = Plan(
    name="A & B",
    stages=(
        Stage(kind="lap", name="coarse lap", removal=300e-6, time=5700.0, abrasive="alumina 9 µm", plate="cast iron"),
        Stage(kind="measure", name="measure", time=600.0),
        Stage(kind="polish", name="polish", removal=100e-6, time=4200.0),
    ),
    start_thickness=500e-6, target_thickness=100e-6, total_time=10500.0, chance_in_tolerance=0.9964, damage_left=0.0,
)  # fmt: skip


def texts(svg):
    """All texts of a drawing."""
    return ["".join(found.itertext()) for found in ET.fromstring(svg).iter(f"{SVG}text")]


def wheel(azimuth, divisions, turn="clockwise", label=""):
    """An adjuster that moves 2 µm a division."""
    return WheelAdjuster(
        azimuth=math.radians(azimuth), correction=2e-6 * divisions, divisions=divisions, turn=turn, label=label
    )


def test_stack_is_to_scale():
    """Heights on paper are proportional to thickness: 500 : 200 : 100."""
    root = ET.fromstring(stack_through_stages(STEPS, target_thickness=100e-6))
    tall = [float(r.get("height")) for r in root.iter(f"{SVG}rect") if r.get("stroke") == "#18222c"]
    assert tall[0] / tall[1] == pytest.approx(2.5, abs=0.01)
    assert tall[0] / tall[2] == pytest.approx(5.0, abs=0.03)


def test_stack_shows_removal_damage_and_target():
    """What was taken has its number, damage is hatched and in the description."""
    svg = stack_through_stages(STEPS, target_thickness=100e-6)
    shown = texts(svg)
    for piece in ("−300.0 µm", "−100.0 µm", "bond 6.4 µm", "6.03 mm", "target", "done", "next", "planned"):
        assert piece in shown
    assert svg.count('class="damage"') == 2
    assert "coarse <lap> (next): 200.0 µm, damage left 20.0 µm" in ET.fromstring(svg).find(f"{SVG}desc").text


def test_last_steps_of_a_stack_are_enlarged():
    """Faces at 110, 104 and 100 µm of 500: below once more, their distances as 6 : 4 and each with what it took."""
    faces = (500e-6, 110e-6, 104e-6, 100e-6)
    svg = stack_through_stages([StackStep(label=f"{one:g}", wafer=one) for one in faces], target_thickness=100e-6)
    end = next(g for g in ET.fromstring(svg).iter(f"{SVG}g") if g.get("class") == "enlarged")
    tops = [float(re.search(r"V([\d.]+)h", p.get("d"))[1]) for p in end.iter(f"{SVG}path") if p.get("class") == "face"]
    assert (tops[1] - tops[0]) / (tops[2] - tops[1]) == pytest.approx(6.0 / 4.0, abs=0.01)
    assert [t.text for t in end.iter(f"{SVG}text")][-2:] == ["−6.0 µm", "−4.0 µm"]
    assert texts(svg).count("−390.0 µm") == 1
    assert 'class="enlarged"' not in stack_through_stages([StackStep(label="a", wafer=5e-4)], target_thickness=1e-4)


def test_stack_refuses_nothing_and_negative_lengths():
    """No step, or a thickness below zero, is a wrong question."""
    with pytest.raises(TooFewSites):
        stack_through_stages(())
    with pytest.raises(OutOfValidRange):
        StackStep(label="x", wafer=-1e-6)
    with pytest.raises(OutOfValidRange):
        StackStep(label="x", wafer=float("nan"))


def test_rulers_are_to_scale_and_numbered():
    """Stages that remove are lengths of material; the one that measures is not."""
    svg = route_rulers([PLAN])
    wide = [float(r.get("width")) for r in ET.fromstring(svg).iter(f"{SVG}rect") if r.get("stroke")]
    assert pytest.approx(wide) == [336.0, 112.0, 112.0]
    shown = texts(svg)
    assert "2 h 55 min" in shown
    assert "1  coarse lap · 300.0 µm · 1 h 35 min · alumina 9 µm / cast iron" in shown
    assert "2  polish · 100.0 µm · 1 h 10 min" in shown


def test_short_ends_are_enlarged_on_one_scale():
    """Of 400 µm the last 20 are too short to be seen: they stand below once more, 20 times as long as above."""
    stages = (replace(PLAN.stages[0], removal=380e-6), replace(PLAN.stages[2], removal=20e-6))
    svg = route_rulers([replace(PLAN, stages=stages)])
    wide = [float(r.get("width")) for r in ET.fromstring(svg).iter(f"{SVG}rect") if r.get("fill") == "#e8cf9a"]
    assert wide[1] > 15.0 * wide[0]
    assert "the last of it enlarged, µm" in texts(svg)
    assert "the last of it enlarged, µm" not in texts(route_rulers([PLAN]))


def test_chance_is_never_rounded_to_certainty():
    """99.64 % is not 100 %, and the drawing says it as the table beside it does."""
    assert "> 99 %" in texts(route_rulers([PLAN]))


def test_kinds_of_stage_differ_by_hatching():
    """Lapping and polishing have patterns of their own."""
    assert len(set(re.findall(r'<pattern id="([^"]+)"', route_rulers([PLAN])))) == 2


def test_no_route_is_a_wrong_question():
    """There is nothing to compare."""
    with pytest.raises(TooFewSites):
        route_rulers([])


def places(svg):
    """Centres of the drawn adjusters, from the middle of the jig, y up."""
    found = []
    for group in ET.fromstring(svg).iter(f"{SVG}g"):
        if group.get("class") == "adjuster":
            circle = group.find(f"{SVG}circle")
            found.append((float(circle.get("cx")), -float(circle.get("cy"))))
    middle = next(one for one in ET.fromstring(svg).iter(f"{SVG}circle"))
    across, up = float(middle.get("cx")), -float(middle.get("cy"))
    return [(x - across, y - up) for x, y in found]


def test_operator_view_is_the_mirror_of_the_face_view():
    """Both views name the same physical screw: x changes sign, y stays."""
    given = [wheel(0.0, 1.0), wheel(100.0, -2.0), wheel(230.0, 0.5)]
    face, operator = places(jig_wheel(given, view="worked_face")), places(jig_wheel(given))
    for (x, y), (mirrored_x, mirrored_y) in zip(face, operator, strict=True):
        assert mirrored_x == pytest.approx(-x, abs=0.11)
        assert mirrored_y == pytest.approx(y, abs=0.11)
    assert face[0] == pytest.approx((100.0, 0.0))


def test_wheel_tells_divisions_direction_and_micrometres():
    """Divisions never stand alone, signs never without the direction."""
    turned = [wheel(90.0, 1.0), wheel(210.0, -2.25, "counter_clockwise"), wheel(330.0, 0.0)]
    shown = " ".join(texts(jig_wheel(turned)))
    for piece in ("1.00 division", "2.25 divisions", "counter-clockwise", "−4.5 µm", "+2.0 µm", "stays"):
        assert piece in shown.replace("counter- clockwise", "counter-clockwise")


def test_adjuster_that_stays_has_no_arrow():
    """Two are turned, two arrows are drawn."""
    svg = jig_wheel([wheel(90.0, 1.0), wheel(210.0, -1.0), wheel(330.0, 0.0)])
    assert svg.count('class="accent-line"') == 2


def test_wheel_says_from_which_side_it_is_seen():
    """A mirrored drawing says so."""
    assert any("mirrored" in text for text in texts(jig_wheel([wheel(a, 1.0) for a in (0.0, 120.0, 240.0)])))


def test_two_adjusters_make_no_jig():
    """A plane needs three."""
    with pytest.raises(TooFewSites):
        jig_wheel([wheel(0.0, 1.0), wheel(180.0, 1.0)])


def chart(**more):
    """A chart with one reading missing."""
    x = np.arange(10.0)
    y = np.where(x == 4.0, np.nan, 3.0 * x)
    return line_chart([Line(x=x, y=y, name="gauge")], x_label="time, min", y_label="removed, µm", title="Run 4", **more)


def test_chart_breaks_where_nothing_was_read():
    """NaN leaves a gap: two pieces of line."""
    root = ET.fromstring(chart())
    line = next(group for group in root.iter(f"{SVG}g") if group.get("class") == "line")
    assert len(line.findall(f"{SVG}path")) == 2


def test_chart_names_axes_and_levels():
    """Units on both axes, limits by name."""
    x = np.arange(10.0)
    shown = texts(chart(bands=[Band(x=x, low=2.0 * x, high=4.0 * x, name="95 %")], levels=[Level(y=40.0, name="stop")]))
    for piece in ("time, min", "removed, µm", "gauge", "stop", "95 %", "40"):
        assert piece in shown


def test_chart_of_nothing_is_refused():
    """All NaN is nothing to draw; arrays must agree."""
    empty = np.full(3, np.nan)
    with pytest.raises(TooFewSites):
        line_chart([Line(x=np.arange(3.0), y=empty)], x_label="x", y_label="y", title="t")
    with pytest.raises(ShapeMismatch):
        Line(x=np.arange(3.0), y=np.arange(4.0))
    with pytest.raises(ShapeMismatch):
        Band(x=np.arange(3.0), low=np.arange(3.0), high=np.arange(4.0))


@pytest.mark.parametrize(
    "svg",
    [
        stack_through_stages(STEPS, target_thickness=100e-6),
        route_rulers([PLAN, PLAN]),
        jig_wheel([wheel(a, 1.0, label="<x>") for a in (0.0, 120.0, 240.0)]),
        chart(),
    ],
    ids=["stack", "rulers", "wheel", "chart"],
)
def test_drawing_stands_alone(svg):
    """Well-formed, named, described, without script or style."""
    root = ET.fromstring(svg)
    assert root.find(f"{SVG}title").text
    assert len(root.find(f"{SVG}desc").text) > 20
    assert not re.search(r"<script|<style|style=|href=", svg)


def test_german_drawings_have_commas():
    """The decimal sign follows the reader."""
    shown = texts(stack_through_stages(STEPS, lettering=Lettering(decimal=",")))
    assert "500,0 µm" in shown
    assert not any("500.0" in text for text in shown)


def test_text_is_made_fit_for_markup():
    """Escapes and forbidden characters."""
    assert clean('<&">\x00') == "&lt;&amp;&quot;&gt;\ufffd"
    assert element("g", title='a"b') == '<g title="a&quot;b"/>'
