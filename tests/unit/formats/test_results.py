"""Result dictionaries: every field from its dataclass, in the unit its name says."""

import math

import numpy as np
import pytest

from lapwright.formats.results import bond_dict, conditions_dict, jig_dict, load_dict, notice_dicts, thickness_dict
from lapwright.metrology.bond_line import bond_line
from lapwright.metrology.bond_verdict import bond_verdict
from lapwright.metrology.thickness import thickness_statistics
from lapwright.model.readings import Conditions, Gauge, ThicknessSet
from lapwright.model.wafer import Round, ThicknessMap, Wedge
from lapwright.process.jig import Adjuster, JigGeometry, adjuster_corrections

X = np.array([0.0, 0.04, 0.0, -0.04, 0.0, 0.02, -0.02, 0.02, -0.02])
Y = np.array([0.0, 0.0, 0.04, 0.0, -0.04, 0.02, 0.02, -0.02, -0.02])
LABELS = tuple(f"s{n}" for n in range(9))


def _result():
    flat = 5e-4 + 1e-4 * X
    thickness = np.concatenate([flat + 1e-8, flat - 1e-8])
    taken = ThicknessSet(
        piece="W1", labels=LABELS, x=X.copy(), y=Y.copy(), site=np.tile(np.arange(9), 2), thickness=thickness,
        conditions=Conditions(hold="free", temperature=294.15, soaked=True, zero_before=0.0, zero_after=0.0),
    )  # fmt: skip
    gauge = Gauge(gauge_id="g", name="g", limit=1e-6, local=3e-7)
    return thickness_statistics(taken, outline=Round(diameter=0.1), gauge=gauge)


def test_a_thickness_result_speaks_in_micrometres_and_degrees():
    """A slope of 0.1 µm/mm: TTV 8 µm over +-40 mm, wedge 10 µm over 100 mm, 0.1 µm/mm (closed form)."""
    answer = thickness_dict(_result(), with_sites=True)
    assert (answer["wafer"], answer["n_sites"], answer["n_readings"]) == ("W1", 9, 18)
    assert (answer["mean_um"], answer["centre_um"]) == (500.0, 500.0)
    assert (answer["min_um"], answer["max_um"], answer["ttv_um"]) == (496.0, 504.0, 8.0)
    assert answer["wedge_um"] == pytest.approx(10.0)
    assert answer["wedge_um_per_mm"] == pytest.approx(0.1)
    assert answer["wedge_arcsec"] == pytest.approx(math.degrees(1e-4) * 3600, rel=1e-6)
    assert answer["ttv_corrected_um"] == pytest.approx(answer["ttv_um"] - answer["ttv_noise_bias_um"])
    assert (answer["hold"], answer["temperature_c"], answer["soaked"]) == ("free", 21.0, True)
    assert answer["sites"][1] == {"site": "s1", "x_mm": 40.0, "y_mm": 0.0, "thickness_um": 504.0}


def test_budgets_list_what_each_part_adds():
    """The gauge's limit of 1 µm is rectangular: 1/sqrt(3) µm in the mean, absent from TTV (GUM 4.3.7)."""
    answer = thickness_dict(_result())
    assert answer["mean_budget"][0]["standard_uncertainty_um"] == pytest.approx(1 / math.sqrt(3))
    assert "accuracy limit of the gauge" not in {line["name"] for line in answer["ttv_budget"]}


def test_a_bond_names_its_frames_and_its_verdict():
    """Bond 6 µm with 10 µm of wedge: the wafer ends thick on the other side."""
    maps = [
        ThicknessMap(x=X.copy(), y=Y.copy(), thickness=values, labels=LABELS)
        for values in (np.full(9, 5e-4), np.full(9, 3e-3), 3.506e-3 + 1e-4 * X)
    ]
    result = bond_line(*maps, diameter=0.1, target_thickness=1e-4)
    answer = bond_dict(result, bond_verdict(result, ttv_limit=2e-6), with_sites=True)
    assert (answer["mean_um"], answer["range_um"]) == (6.0, 8.0)
    assert answer["predicted_wedge_azimuth_deg"] == pytest.approx(180.0)
    assert answer["frame"]["wafer"] == {"seen_from": "worked", "turn_deg": 0.0}
    assert answer["verdict"]["advice"] == "rebond"
    assert answer["sites"][1]["bond_um"] == 10.0
    assert answer["sites"][1]["predicted_thickness_um"] == 96.0
    assert "predicted_deviation_um" in bond_dict(bond_line(*maps, diameter=0.1), None, with_sites=True)["sites"][0]


def test_a_jig_correction_lists_its_adjusters_in_order():
    """As asked: azimuths, corrections, divisions exact and to set."""
    adjusters = tuple(Adjuster(azimuth=math.radians(a), radius=0.07, travel_per_division=2e-6) for a in (90, 210, 330))
    wedge = Wedge(amount=6e-6, azimuth=math.radians(30))
    answer = jig_dict(adjuster_corrections(wedge, 0.1, JigGeometry(adjusters=adjusters)))
    assert [one["azimuth_deg"] for one in answer["adjusters"]] == [90.0, 210.0, 330.0]
    assert answer["adjusters"][1]["divisions_exact"] == -2.1
    assert answer["adjusters"][1]["divisions_to_set"] == -2.0


def test_loads_are_given_as_force_and_as_mass():
    """1 kg weighs 9.80665 N (3rd CGPM, 1901)."""
    assert load_dict(9.80665, 5e3) == {"load_n": 9.80665, "load_kg": 1.0, "pressure_kpa": 5.0}


def test_what_is_not_known_is_none():
    """A set that says nothing of itself, and notices about a wafer."""
    assert conditions_dict(Conditions()) == {"hold": None, "temperature_c": None, "soaked": None}
    assert notice_dicts([("a.b", "c")], wafer="W1") == [{"code": "a.b", "sentence": "c", "wafer": "W1"}]
