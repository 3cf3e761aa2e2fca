"""Where ring and jig wear the plate."""

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.process.plate_wear import Footprint, Land, domed_part, groove_contact, neutral_offset, wear_profile

LAND = Land(inner_radius=0.04, outer_radius=0.15)
RING = (Footprint(outer_radius=0.065, inner_radius=0.05),)
FULL = (Footprint(outer_radius=0.065),)
JIG = (Footprint(outer_radius=0.05),)


@pytest.mark.parametrize(
    ("parts", "offset", "thirds"),
    [
        (RING, 0.085, (1.55, 0.89, 0.84)), (RING, 0.095, (1.26, 0.75, 1.07)), (RING, 0.105, (0.64, 0.74, 1.34)),
        (FULL, 0.085, (1.63, 1.21, 0.57)), (FULL, 0.105, (0.66, 1.07, 1.10)), (FULL, 0.110, (0.42, 1.01, 1.25)),
        (JIG, 0.090, (1.35, 1.42, 0.55)), (JIG, 0.110, (0.37, 1.21, 1.13)),
    ],
)  # fmt: skip
def test_wear_of_the_thirds_of_the_land(parts, offset, thirds):
    """Mean wear of inner, middle and outer third over that of the land (derived elsewhere on its own grid)."""
    found = wear_profile(LAND, parts, offset=offset)
    zones = np.array_split(np.arange(len(found.radius)), 3)
    means = [float(np.sum(found.wear[z] * found.radius[z]) / np.sum(found.radius[z])) for z in zones]

    assert means == pytest.approx(thirds, abs=0.03)


@pytest.mark.parametrize(("parts", "place"), [(RING, 0.097), (FULL, 0.099), (JIG, 0.100)])
def test_the_neutral_place_lies_a_little_outside_the_middle(parts, place):
    """97, 99, 100 mm for a land with its middle at 95 mm (derived)."""
    assert neutral_offset(LAND, parts) == pytest.approx(place, abs=0.0015)


@pytest.mark.parametrize("parts", [RING, FULL, JIG])
def test_outward_grows_domed_inward_dished(parts):
    """Outside wears the rim, inside the centre (common practice, no source); steadily so over the whole range."""
    trends = [wear_profile(LAND, parts, offset=e).dome_trend for e in (0.085, 0.09, 0.095, 0.1, 0.105, 0.11)]

    assert trends == sorted(trends)
    assert trends[0] < 0.0 < trends[-1]


def test_the_share_covered_is_the_share_of_the_circle():
    """A full disc of 50 mm at 90 mm: by the cosine rule at each radius."""
    found = wear_profile(LAND, JIG, offset=0.09)
    cosine = (found.radius**2 + 0.09**2 - 0.05**2) / (2 * found.radius * 0.09)
    expected = np.arccos(np.clip(cosine, -1, 1)) / np.pi

    assert found.covered_share == pytest.approx(expected, abs=1.5e-3)


def test_wear_follows_the_load_share_and_adds_up():
    """Ring and wafer together are the weighted mean of each alone."""
    both = (
        Footprint(outer_radius=0.065, inner_radius=0.05, load_share=0.25),
        Footprint(outer_radius=0.03, load_share=0.75),
    )
    sum_of = wear_profile(LAND, both, offset=0.1).wear
    ring, wafer = (wear_profile(LAND, (part,), offset=0.1).wear for part in both)

    assert sum_of == pytest.approx(0.25 * ring + 0.75 * wafer, rel=1e-9)


def test_a_sweep_smears_the_wear():
    """The deepest circle under a small jig is less deep when it sweeps."""
    still = wear_profile(LAND, JIG, offset=0.095).wear.max()

    assert wear_profile(LAND, JIG, offset=0.095, half_stroke=0.03).wear.max() < still


@pytest.mark.parametrize("dome", [-4e-6, 0.0, 7e-6])
def test_the_domed_part_of_a_parabola_is_itself(dome):
    """Whatever level it stands on."""
    r = np.array([0.041, 0.06, 0.11, 0.149])

    assert domed_part(r, 3e-6 - dome * (r / 0.15) ** 2, 0.15) == pytest.approx(dome, abs=1e-15)


def test_grooves_leave_lands():
    """2 mm of every 10 mm; squared when crossed."""
    assert groove_contact(0.002, 0.01) == pytest.approx(0.8)
    assert groove_contact(0.002, 0.01, crossed=True) == pytest.approx(0.64)
    assert groove_contact(0.0, 0.01) == 1.0


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Land(inner_radius=0.1, outer_radius=0.1),
        lambda: Footprint(outer_radius=0.05, inner_radius=0.06),
        lambda: Footprint(outer_radius=0.05, load_share=0.0),
        lambda: wear_profile(LAND, (), offset=0.1),
        lambda: wear_profile(LAND, RING, offset=-0.1),
        lambda: wear_profile(LAND, RING, offset=0.4),
        lambda: wear_profile(LAND, (Footprint(outer_radius=0.02),), offset=0.155),
        lambda: wear_profile(LAND, (Footprint(outer_radius=0.03),), offset=0.0, speed_ratio=1.0),
        lambda: groove_contact(0.01, 0.01),
        lambda: domed_part([0.1, 0.1], [0.0, 0.0], 0.15),
    ],
)
def test_what_cannot_be_is_refused(wrong):
    """A land without width, a ring beside the plate or tipping over its edge, a groove as wide as its pitch."""
    with pytest.raises(OutOfValidRange):
        wrong()
