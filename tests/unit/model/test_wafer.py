"""Invariants of outlines, wafers, patterns and maps."""

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.model.order import DecisionRule, Limit
from lapwright.model.plan import Stage
from lapwright.model.readings import Gauge, ThicknessSet
from lapwright.model.wafer import Carrier, Polygon, Rectangle, Round, SitePattern, ThicknessMap, Wafer, Wedge


@pytest.mark.parametrize("diameter", [0.0, -0.1, np.nan, np.inf])
def test_a_disc_has_a_finite_diameter(diameter):
    """Zero, negative, not a number and infinite are refused."""
    with pytest.raises(OutOfValidRange, match="diameter"):
        Round(diameter=diameter)


@pytest.mark.parametrize("length", [0.0, 0.1, 0.2])
def test_a_flat_is_shorter_than_the_diameter(length):
    """A flat needs a length between zero and the diameter."""
    with pytest.raises(OutOfValidRange, match="flat_length"):
        Round(diameter=0.1, mark="flat", flat_length=length)


def test_a_rectangle_and_a_polygon_have_an_inside():
    """No side of nothing, no outline of two corners."""
    with pytest.raises(OutOfValidRange, match="height"):
        Rectangle(width=0.01, height=0.0)
    with pytest.raises(OutOfValidRange, match="corners"):
        Polygon(corners=((0.0, 0.0), (1.0, 0.0)))


def test_thickness_is_above_zero():
    """Wafers and carriers of no thickness do not exist."""
    with pytest.raises(OutOfValidRange, match="nominal_thickness"):
        Wafer(wafer_id="A", material="silicon", outline=Round(diameter=0.1), nominal_thickness=0.0)
    with pytest.raises(OutOfValidRange, match="nominal_thickness"):
        Carrier(carrier_id="C", material="glass", diameter=0.1, nominal_thickness=-1.0)


def test_a_pattern_names_each_site_once():
    """As many labels as sites, all different."""
    two = np.array([0.0, 0.01])
    with pytest.raises(OutOfValidRange, match="labels"):
        SitePattern(name="own", labels=("1",), x=two, y=two)
    with pytest.raises(OutOfValidRange, match="different labels"):
        SitePattern(name="own", labels=("1", "1"), x=two, y=two)


def test_arrays_inside_frozen_values_are_read_only():
    """Frozen means frozen all the way down."""
    sites = ThicknessMap(x=np.zeros(2), y=np.zeros(2), thickness=np.ones(2))

    with pytest.raises(ValueError, match="read-only"):
        sites.thickness[0] = 2.0


def test_a_wedge_has_no_negative_amount():
    """The direction is in the azimuth."""
    with pytest.raises(OutOfValidRange, match="wedge"):
        Wedge(amount=-1e-6, azimuth=0.0)


def test_a_set_has_one_thickness_per_reading_and_one_place_per_site():
    """Arrays that belong together have one length."""
    two, three = np.zeros(2), np.zeros(3)
    with pytest.raises(ShapeMismatch):
        ThicknessSet(piece="A", labels=("1", "2"), x=two, y=three, site=np.zeros(2, int), thickness=two)
    with pytest.raises(ShapeMismatch):
        ThicknessSet(piece="A", labels=("1", "2"), x=two, y=two, site=np.zeros(3, int), thickness=two)


def test_a_gauge_has_no_negative_limit():
    """A half-width is zero or more."""
    with pytest.raises(OutOfValidRange):
        Gauge(gauge_id="G", name="drop gauge", limit=-1e-6)


def test_limits_and_rules_make_sense():
    """A limit has a side; the lower lies below the upper; a risk lies between nothing and one half."""
    with pytest.raises(OutOfValidRange, match="at least one"):
        Limit(quantity="ttv")
    with pytest.raises(OutOfValidRange, match="less than the upper"):
        Limit(quantity="thickness", lower=2.0, upper=1.0)
    with pytest.raises(OutOfValidRange, match="false_accept"):
        DecisionRule(kind="guarded", false_accept=0.5)


def test_a_stage_takes_nothing_back():
    """Material can be taken away, never added."""
    with pytest.raises(OutOfValidRange, match="removal"):
        Stage(kind="lap", name="coarse lap", removal=-1e-6)
