"""A published Preston coefficient of fused silica in old units, and the library row that uses it."""

import pytest

from lapwright.library import load

DYNE = 1e-5  # N, exact
CM2_PER_DYNE = 1e-4 / DYNE  # 1/Pa


def test_coefficient_in_si():
    """16e-14 cm3/(dyn cm) is 1.6e-12 1/Pa."""
    coefficient = 16e-14 * CM2_PER_DYNE

    assert coefficient == pytest.approx(1.6e-12, rel=1e-12)


def test_the_library_band_reaches_the_published_ends():
    """The row's band holds the earlier 1.6e-13 and the best 1.6e-12."""
    row = next(r for r in load().removal_coefficients if r.row_id == "fs-ceria")

    assert row.coefficient / row.band <= 1.6e-13
    assert row.coefficient * row.band >= 1.6e-12
