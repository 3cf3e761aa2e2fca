"""Corrections from the curve of a certificate."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.errors import OutOfValidRange
from lapwright.metrology.correction_curve import curve_corrections
from lapwright.model.readings import CurvePoint


def curve(*points):
    """Points in µm: reading, correction, expanded uncertainty."""
    return tuple(
        CurvePoint(value=value * 1e-6, correction=correction * 1e-6, expanded_uncertainty=reach * 1e-6)
        for value, correction, reach in points
    )


CURVE = curve((0, 0, 0.1), (500, 0.2, 0.3), (1000, -0.4, 0.1))


@pytest.mark.parametrize(
    ("reading", "correction", "reach"),
    [(0, 0, 0.1), (250, 0.1, 0.2), (500, 0.2, 0.3), (750, -0.1, 0.2), (1000, -0.4, 0.1)],
)
def test_between_two_points_it_is_a_straight_line(reading, correction, reach):
    """Half way between 0 and 0.2 is 0.1; at a point the point itself."""
    found = curve_corrections(np.array([reading * 1e-6]), curve=CURVE)
    assert found.correction[0] == pytest.approx(correction * 1e-6, abs=1e-15)
    assert found.expanded_uncertainty[0] == pytest.approx(reach * 1e-6)


def test_a_site_not_measured_stays_so():
    """NaN in, NaN out, the others corrected."""
    found = curve_corrections(np.array([np.nan, 500e-6]), curve=CURVE)
    assert np.isnan(found.correction[0])
    assert np.isnan(found.expanded_uncertainty[0])
    assert found.correction[1] == pytest.approx(0.2e-6)


@pytest.mark.parametrize("reading", [-1e-9, 1000.001e-6])
def test_nothing_is_extrapolated(reading):
    """A hair beyond either end is refused, with the ends named."""
    with pytest.raises(OutOfValidRange, match="from 0 µm to 1000 µm"):
        curve_corrections(np.array([500e-6, reading]), curve=CURVE)


def test_a_curve_without_points_is_refused():
    """Nothing says nothing."""
    with pytest.raises(OutOfValidRange):
        curve_corrections(np.array([1e-6]), curve=())


@given(st.floats(0, 1000), st.floats(0.1, 10.0))
def test_lengths_scale_together(reading, factor):
    """All lengths k times as long: corrections k times as large."""
    scaled = tuple(
        CurvePoint(
            value=one.value * factor,
            correction=one.correction * factor,
            expanded_uncertainty=one.expanded_uncertainty * factor,
        )
        for one in CURVE
    )
    value = min(reading * 1e-6 * factor, scaled[-1].value)
    plain = curve_corrections(np.array([min(reading * 1e-6, 1e-3)]), curve=CURVE)
    found = curve_corrections(np.array([value]), curve=scaled)
    assert found.correction[0] == pytest.approx(plain.correction[0] * factor, abs=1e-16)
