"""Preston's law, its units, and the starting value of its coefficient."""

import math

import numpy as np
import pytest

from lapwright.errors import CannotAnswer, OutOfValidRange
from lapwright.library import load
from lapwright.process.removal import (
    drawn_coefficients,
    predicted_rate,
    preston_coefficient,
    preston_rate,
    prior_coefficient,
    removal_from_mass,
    removal_index,
)
from lapwright.units import STANDARD_GRAVITY


@pytest.fixture(scope="module")
def library():
    """The shipped library."""
    return load()


def prior(library, material, abrasive, plate):
    """The belief about one combination."""
    return prior_coefficient(library, material, abrasive=library.abrasive(abrasive), plate=plate)


def test_rate_of_a_round_example():
    """1e-13 1/Pa at 3 psi and 0.5 m/s: 62.0529 nm/min (derived)."""
    assert preston_rate(1e-13, 20684.3, 0.5) * 60e9 == pytest.approx(62.0529, abs=5e-5)


def test_one_micrometre_a_minute_at_one_kilopascal_and_one_metre_a_second():
    """1e-6 / 60 / 1e3 = 1.667e-11 1/Pa."""
    assert preston_coefficient(1e-6 / 60, 1e3, 1.0) == pytest.approx(1.667e-11, rel=3e-4)


def test_depth_from_lost_mass():
    """12.0 mg off a 100 mm silicon disc of 2.329 g/cm3: 0.656027 um (derived)."""
    assert removal_from_mass(12e-6, density=2329, area=math.pi * 0.05**2) * 1e6 == pytest.approx(0.656027, abs=5e-7)


def test_the_published_lapping_figure_in_si():
    """1.68 um per metre of sliding and kgf/cm2 is 1.713e-11 1/Pa; at 10 kPa and 0.5 m/s 5.14 um/min (derived)."""
    coefficient = 1.68e-6 / (STANDARD_GRAVITY * 1e4)

    assert coefficient == pytest.approx(1.713e-11, rel=5e-4)
    assert preston_rate(coefficient, 10e3, 0.5) * 60e6 == pytest.approx(5.14, abs=5e-3)


@pytest.mark.parametrize(
    ("material", "expected"), [("Ge", 2.5), ("GaAs", 3.2), ("InP", 6.4), ("fused silica", 2.3), ("sapphire", 0.6)]
)
def test_the_index_ranks_materials_as_derived_elsewhere(library, material, expected):
    """Relative to silicon, to a factor of 1.4: the property values differ a little from those of the other table."""

    def index(name):
        found = library.material(name)
        return removal_index(*(found.value(p) for p in ("youngs_modulus", "hardness", "toughness")))

    ratio = index(material) / index("Si")
    assert expected / 1.4 < ratio < expected * 1.4


def test_a_row_is_used_as_it_stands(library):
    """Band 3 at 95 %: log deviation ln 3 / 1.96."""
    found = prior(library, "LiTaO3", "sic-jis1000", "cast-iron")

    assert found.median == 1.71e-11
    assert found.log_deviation == pytest.approx(math.log(3) / 1.96, rel=1e-4)
    assert found.trust == "read"


def test_another_grain_is_carried_over_with_a_wider_band(library):
    """9-15 um row to 3 um: a quarter of the rate, twice the band, and the row is named."""
    found = prior(library, "LiTaO3", "al2o3-3", "cast-iron")

    assert found.median == pytest.approx(2e-11 * 3 / 12)
    assert found.log_deviation == pytest.approx(math.log(8) / 1.96, rel=1e-4)
    assert found.row_id == "lt-al2o3-coarse"
    assert "carried over" in found.method
    assert found.trust == "derived"


def test_another_material_is_carried_over_by_the_index(library):
    """Quartz has no row: one is scaled from another brittle solid, band at least x/÷ 9."""
    found = prior(library, "quartz", "al2o3-9", "cast-iron")

    assert found.row_id in {row.row_id for row in library.removal_coefficients}
    assert "removal index" in found.method
    assert found.log_deviation >= math.log(9) / 1.96


@pytest.mark.parametrize(("material", "abrasive"), [("quartz", "silica-colloidal"), ("ZnSe", "al2o3-3")])
def test_no_rate_is_made_up(library, material, abrasive):
    """A polish without a row, and a soft crystal outside the index, have no answer."""
    with pytest.raises(CannotAnswer, match="Add a row"):
        prior(library, material, abrasive, "glass")


def test_the_predicted_interval_holds_band_and_run_spread(library):
    """At 95 %: median times exp(+/- 1.96 sqrt(s0^2 + 0.15^2))."""
    found = prior(library, "Si", "al2o3-9", "cast-iron")
    rate = predicted_rate(found, 10e3, 0.5)
    spread = math.exp(1.959964 * math.hypot(math.log(3) / 1.959964, 0.15))

    assert rate.median == pytest.approx(6e-12 * 10e3 * 0.5)
    assert rate.high / rate.median == pytest.approx(spread, rel=1e-6)
    assert rate.low * rate.high == pytest.approx(rate.median**2)


def test_drawn_coefficients_follow_the_belief(library):
    """20 000 draws: median within 2 %, 95 % of them in the predicted interval to 1 %."""
    found = prior(library, "Si", "al2o3-9", "cast-iron")
    drawn = drawn_coefficients(found, generator=np.random.default_rng(7), draws=20_000)
    rate = predicted_rate(found, 1.0, 1.0)

    assert np.median(drawn) == pytest.approx(found.median, rel=0.02)
    assert np.mean((drawn > rate.low) & (drawn < rate.high)) == pytest.approx(0.95, abs=0.01)


def test_common_practice_rates_lie_in_the_band_of_their_row(library):
    """The trade's ranges for Si, GaAs, InP, glass, sapphire, LiTaO3 overlap the interval predicted at their conditions."""
    pairs = {
        "L20": ("al2o3-9", "cast-iron"), "L22": ("al2o3-9", "glass"), "L23": ("b4c-45", "cast-iron"),
        "L24": ("diamond-3", "copper"), "L27a": ("al2o3-3", "glass"), "L28b": ("al2o3-9", "cast-iron"),
        "L29": ("sic-jis1000", "cast-iron"), "L30": ("al2o3-3", "glass"),
    }  # fmt: skip
    for row in library.published_rates:
        if row.row_id not in pairs:
            continue
        abrasive, plate = pairs[row.row_id]
        pressure, speed = (row.pressure_low + row.pressure_high) / 2, (row.speed_low + row.speed_high) / 2
        rate = predicted_rate(prior(library, row.material, abrasive, plate), pressure, speed)
        assert rate.low < row.rate_high, row.row_id
        assert row.rate_low < rate.high, row.row_id


@pytest.mark.parametrize(("pressure", "speed"), [(0.0, 1.0), (1.0, 0.0), (-1.0, 1.0)])
def test_a_coefficient_needs_pressure_and_speed(pressure, speed):
    """Neither may be zero."""
    with pytest.raises(OutOfValidRange):
        preston_coefficient(1e-9, pressure, speed)
