"""Circle and polygon by hand."""

import numpy as np
import pytest

from lapwright.errors import BadInput
from lapwright.metrology.fringes import circle_mask, polygon_mask


def test_circle_holds_its_area():
    """Pi r squared within 1 %."""
    assert np.pi * 50**2 == pytest.approx(circle_mask((120, 120), centre=(60.0, 60.0), radius=50.0).sum(), rel=0.01)


def test_square_of_corners_holds_its_pixels():
    """Corners half a pixel outside 10 x 20 pixels."""
    corners = np.array([[4.5, 9.5], [14.5, 9.5], [14.5, 29.5], [4.5, 29.5]])
    mask = polygon_mask((40, 40), corners=corners)

    assert mask.sum() == 200
    assert mask[5:15, 10:30].all()


def test_order_of_corners_does_not_matter():
    """The same polygon the other way round."""
    corners = np.array([[2.0, 3.0], [30.0, 10.0], [20.0, 35.0]])
    np.testing.assert_array_equal(
        polygon_mask((40, 40), corners=corners), polygon_mask((40, 40), corners=corners[::-1])
    )


def test_two_corners_are_no_polygon():
    """At least three."""
    with pytest.raises(BadInput, match="at least 3"):
        polygon_mask((40, 40), corners=np.zeros((2, 2)))
