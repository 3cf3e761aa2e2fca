"""Where a wafer lies in a photograph: places worked out by hand, the deviation against SciPy."""

import numpy as np
import pytest
from scipy import stats

from lapwright.errors import VoidsUnclear
from lapwright.metrology.photo_places import PhotoPlace, in_wafer_frame, robust_deviation, wafer_in_photo
from lapwright.model.wafer import Round

MARKED = {"column": 10.0, "row": 20.0, "pixel": 1e-4}


@pytest.mark.parametrize(
    ("turns", "from_behind", "expected"),
    [(0, False, (3e-4, 2e-4)), (0, True, (-3e-4, 2e-4)), (1, False, (-2e-4, 3e-4)), (2, True, (3e-4, -2e-4))],
)
def test_a_place_three_right_and_two_up(turns, from_behind, expected):
    """By hand: quarter turns counter-clockwise take (x, y) to (-y, x); from behind left and right change."""
    place = PhotoPlace(**MARKED, quarter_turns=turns, from_behind=from_behind)
    x, y = in_wafer_frame(np.array([13.0]), np.array([18.0]), place)
    assert (x[0], y[0]) == pytest.approx(expected)


def test_the_deviation_is_that_of_a_reference():
    """SciPy's median absolute deviation scaled to the normal distribution."""
    values = np.random.default_rng(7).normal(3.0, 2.0, 400)
    assert robust_deviation(values) == pytest.approx(stats.median_abs_deviation(values, scale="normal"), rel=1e-4)


def test_an_even_picture_holds_no_wafer():
    """Nothing stands out from the rim: refused, and said what to do."""
    with pytest.raises(VoidsUnclear, match="does not stand out"):
        wafer_in_photo(np.full((100, 100), 7.0), outline=Round(diameter=15e-3))
