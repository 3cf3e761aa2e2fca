"""How far a ball sinks into a flat, by the closed form."""

import pytest

from lapwright.metrology.ready_budgets import probe_sinking


def test_a_ball_of_five_millimetres_at_ten_newtons():
    """Steel on steel, E* 115.384615 GPa: 0.945407 µm."""
    found = probe_sinking(force=10.0, tip_radius=5e-3, contact_modulus=115.384615e9)
    assert pytest.approx(0.945407e-6, rel=1e-6) == found
