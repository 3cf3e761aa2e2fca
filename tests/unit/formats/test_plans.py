"""Plans and orders as dictionaries with units in the names."""

from datetime import date

import pytest

from lapwright.formats.plans import order_dict, outline_dict, plan_dict, route_dict
from lapwright.model.order import Limit, Order
from lapwright.model.plan import Plan, Stage
from lapwright.model.wafer import Polygon, Rectangle, Round

STAGE = Stage(
    kind="lap", name="Coarse lap", abrasive="al2o3-15", plate="cast-iron", removal=300e-6, preset=295e-6,
    preset_datum="first_touch", allowance=5e-6, pressure=10e3, speed=0.5, load=9.80665, plate_speed=6.283185307179586,
    rate=1e-7, rate_low=0.5e-7, rate_high=2e-7, time=3000.0, thickness_after=200e-6, damage_left=10e-6,
    damage_left_high=15e-6, cautions=("mind",), why="fast",
)  # fmt: skip
PLAN = Plan(
    name="p", stages=(STAGE, Stage(kind="clean", name="Rinse", thickness_after=200e-6, time=600.0)), start_thickness=500e-6,
    target_thickness=200e-6, total_time=3600.0, chance_in_tolerance=0.97, damage_left=10e-6, assumptions=("a",), warnings=("w",),
)  # fmt: skip


def test_a_stage_is_given_in_the_units_of_the_shop():
    """1e-7 m/s are 6 µm/min; 2 pi rad/s are 60 rpm; 9.80665 N are 1 kg under standard gravity."""
    stage = plan_dict(PLAN)["stages"][0]
    expected = {
        "kind": "lap", "removal_um": 300.0, "preset_um": 295.0, "preset_datum": "first_touch", "allowance_um": 5.0,
        "pressure_kpa": 10.0, "load_kg": 1.0, "speed_m_per_s": 0.5, "plate_speed_rpm": 60.0, "rate_um_per_min": 6.0,
        "rate_low_um_per_min": 3.0, "rate_high_um_per_min": 12.0, "time_min": 50.0, "thickness_after_um": 200.0,
    }  # fmt: skip
    assert {name: stage[name] for name in expected} == expected


def test_a_stage_that_removes_nothing_has_no_preset():
    """Null, not zero."""
    stage = plan_dict(PLAN)["stages"][1]
    assert (stage["preset_um"], stage["preset_datum"], stage["rate_um_per_min"], stage["removal_um"]) == (
        None,
        None,
        None,
        0.0,
    )


def test_routes_keep_their_order():
    """Best first, as planned."""
    assert [plan["name"] for plan in route_dict([PLAN])["alternatives"]] == ["p"]
    assert plan_dict(PLAN)["total_time_min"] == 60.0


def test_an_order_is_given_with_all_its_definitions():
    """Limits in µm, share in percent, date as text."""
    order = Order(
        order_id="O", customer="C", material="Si", outline=Round(diameter=0.1), quantity=2, start_thickness=500e-6, due=date(2026, 3, 31),
        target_thickness=100e-6, limits=(Limit(quantity="roughness_ra", upper=1e-9),), edge_exclusion=3e-3, hold="free",
    )  # fmt: skip
    answer = order_dict(order)
    assert answer["limits"] == [{"quantity": "roughness_ra", "lower_um": None, "upper_um": 0.001}]
    assert (answer["false_accept_percent"], answer["edge_exclusion_mm"], answer["due"]) == (2.0, 3.0, "2026-03-31")


@pytest.mark.parametrize(
    ("outline", "expected"),
    [
        (Rectangle(width=0.025, height=0.01), {"shape": "rectangle", "width_mm": 25.0, "height_mm": 10.0}),
        (Polygon(corners=((0, 0), (0.01, 0), (0, 0.01))), {"shape": "polygon", "corners_mm": [[0.0, 0.0], [10.0, 0.0], [0.0, 10.0]]}),
        (Round(diameter=0.1), {"shape": "round", "diameter_mm": 100.0, "mark": "none", "flat_length_mm": None}),
    ],
)  # fmt: skip
def test_an_outline_names_its_shape(outline, expected):
    """Rectangle, polygon, disc."""
    assert outline_dict(outline) == expected
