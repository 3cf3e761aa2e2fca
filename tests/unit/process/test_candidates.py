"""Which cuts the trade rules allow."""

import math

import pytest

from lapwright.library import load
from lapwright.model.order import Limit, Order
from lapwright.model.wafer import Round
from lapwright.process.candidates import possible_chains, possible_cuts
from lapwright.process.kinematics import Motion
from lapwright.process.workplaces import USUAL_WORKPLACES, Workplace

LIBRARY = load()


def cuts(material, places=USUAL_WORKPLACES):
    """The cuts of a 100 mm wafer of this material."""
    order = Order(
        order_id="A", customer="B", material=material, outline=Round(diameter=0.1), quantity=1, start_thickness=5e-4,
        target_thickness=2e-4, limits=(Limit(quantity="ttv", upper=5e-6),), edge_exclusion=2e-3, hold="free",
    )  # fmt: skip
    return possible_cuts(order, LIBRARY, places)


@pytest.mark.parametrize("material", ["sapphire", "4H-SiC", "Si", "LiTaO3", "GaAs"])
def test_the_abrasive_is_half_as_hard_again_as_the_sample(material):
    """Common practice, no source: alumina does not lap sapphire."""
    hardness = LIBRARY.material(material).value("hardness")

    assert all(c.abrasive.hardness >= 1.5 * hardness for c in cuts(material) if c.workplace.process == "lap")


def test_fine_laps_of_soft_samples_stay_on_glass():
    """Gallium arsenide: grains below 7 um on glass only; coarse ones on iron too."""
    found = {(c.abrasive.grain >= 7e-6, c.workplace.plate) for c in cuts("GaAs") if c.workplace.process == "lap"}

    assert found == {(True, "cast-iron"), (True, "glass"), (False, "glass")}


def test_pressures_are_what_is_usual_for_the_material():
    """Indium phosphide laps at 2 to 8 kPa; 5 kPa on 78.54 cm2 is 39.3 N."""
    laps = [c for c in cuts("InP") if c.workplace.process == "lap"]

    assert {c.pressure for c in laps} == {2e3, 5e3, 8e3}
    assert next(c.load for c in laps if c.pressure == 5e3) == pytest.approx(5e3 * math.pi * 0.05**2)


def test_several_pieces_a_spring_and_a_foot_raise_the_load():
    """Two pieces at 10 kPa: 157.08 N, over 0.8 for the foot, and 5 N for the spring."""
    place = Workplace(
        name="L1", process="lap", plate="cast-iron", motion=Motion(offset=0.1, plate_speed=4, jig_speed=4), pieces=2,
        pressures=(10e3,), spring_lift=5.0, carried_share=0.2,
    )  # fmt: skip

    assert cuts("Si", (place,))[0].load == pytest.approx(2 * 10e3 * math.pi * 0.05**2 / 0.8 + 5.0)


def test_rates_of_another_material_are_used_only_where_there_are_none():
    """Silicon has rows of its own and uses no other; quartz has none and says where its own come from."""
    own = {row.row_id for row in LIBRARY.removal_coefficients if row.material == "Si"}

    assert {c.prior.row_id for c in cuts("Si")} <= own
    assert all("removal index" in c.prior.method for c in cuts("quartz"))


def test_a_second_lap_is_clearly_finer():
    """At most 0.6 of the grain before."""
    pairs = [chain for chain in possible_chains(cuts("Si"), roughness_limit=None) if len(chain) == 2]

    assert pairs
    assert all(second.abrasive.grain <= 0.6 * first.abrasive.grain for first, second in pairs)
