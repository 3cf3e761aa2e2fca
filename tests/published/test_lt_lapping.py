"""The one fully normalised lapping figure: lithium tantalate, #1000 silicon carbide, cast iron."""

import pytest

from lapwright.library import load
from lapwright.process.damage import damage_left, roughness_left
from lapwright.process.removal import prior_coefficient

LIBRARY = load()
PRINTED = 1.68e-6 / 98066.5  # 1.68 um per metre of sliding, per kgf/cm2


def test_the_library_row_is_the_printed_figure():
    """1.713e-11 1/Pa, held to three digits."""
    found = prior_coefficient(LIBRARY, "LiTaO3", abrasive=LIBRARY.abrasive("sic-jis1000"), plate="cast-iron")

    assert found.median == pytest.approx(PRINTED, rel=3e-3)


def test_the_trade_estimate_agrees_within_its_band():
    """The row from common practice (alumina, 2e-11, x/÷ 4) holds the measured figure."""
    row = next(r for r in LIBRARY.removal_coefficients if r.row_id == "lt-al2o3-coarse")

    assert row.coefficient / row.band < PRINTED < row.coefficient * row.band


def test_damage_and_roughness_are_the_printed_ones():
    """12 um damaged layer; Rmax 1.3 um."""
    abrasive = LIBRARY.abrasive("sic-jis1000")
    row = next(r for r in LIBRARY.roughness if r.row_id == "lt-sic1000")

    assert damage_left(LIBRARY, "LiTaO3", abrasive).expected == pytest.approx(12e-6)
    assert row.peak_to_valley == pytest.approx(1.3e-6)
    assert roughness_left(LIBRARY, "LiTaO3", abrasive).high < row.peak_to_valley
