"""The drawn surface: through every site, exact where the truth is a plane or a bowl."""

import numpy as np
import pytest
from scipy.interpolate import RBFInterpolator
from scipy.spatial import ConvexHull

from lapwright.reports.drawing.surface import hull, surface_through

RNG = np.random.default_rng(5)
X, Y = RNG.uniform(-1.0, 1.0, (2, 17)) * 25e-3


def test_surface_passes_through_every_site():
    """What was read is what is drawn."""
    value = RNG.normal(100.0, 1.0, 17)
    assert surface_through(X, Y, value).at(X, Y) == pytest.approx(value, abs=1e-6)


def test_plane_is_drawn_exactly_between_and_beyond_the_sites():
    """A tilted plane stays a plane."""
    far = np.array([30e-3, -10e-3]), np.array([5e-3, 40e-3])
    surface = surface_through(X, Y, 100.0 + 40.0 * X - 25.0 * Y)
    assert surface.at(*far) == pytest.approx(100.0 + 40.0 * far[0] - 25.0 * far[1], abs=1e-6)


def test_bowl_is_drawn_exactly():
    """A dome is a trend, not something to ripple around."""
    grid = np.meshgrid(np.linspace(-2e-2, 2e-2, 9), np.linspace(-2e-2, 2e-2, 9))
    surface = surface_through(X, Y, 100.0 + 900.0 * (X**2 + Y**2))
    assert surface.at(*grid) == pytest.approx(100.0 + 900.0 * (grid[0] ** 2 + grid[1] ** 2), abs=1e-6)


def test_spline_agrees_with_another_library():
    """On four sites no bowl is fitted; the rest is the thin-plate spline of SciPy's RBFInterpolator."""
    x, y = np.array([[-1.0, 1.0, 1.0, -1.0], [-1.0, -1.0, 1.0, 1.0]]) * 20e-3
    value = np.array([1.0, 2.0, 1.5, 3.0])
    reference = RBFInterpolator(np.column_stack([x, y]) / 20e-3, value, kernel="thin_plate_spline")
    places = RNG.uniform(-1.0, 1.0, (30, 2)) * 20e-3
    ours = surface_through(x, y, value).at(places[:, 0], places[:, 1])
    assert ours == pytest.approx(reference(places / 20e-3), abs=1e-8)


def test_unmeasured_sites_do_not_pull():
    """NaN is left out."""
    value = 100.0 + 40.0 * X
    value[3] = np.nan
    assert surface_through(X, Y, value).at(X, Y) == pytest.approx(100.0 + 40.0 * X, abs=1e-6)


def test_doubled_place_is_averaged():
    """Two values at one place do not make the spline singular."""
    x, y = np.append(X, X[0]), np.append(Y, Y[0])
    value = np.append(np.full(17, 5.0), 7.0)
    assert surface_through(x, y, value).at(X[:1], Y[:1]) == pytest.approx([6.0], abs=1e-6)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_too_few_sites_have_no_surface(count):
    """Nothing is made up from two sites."""
    assert surface_through(X[:count], Y[:count], np.ones(count)) is None


def test_sites_on_a_line_have_no_surface():
    """A line spans no area."""
    x = np.linspace(-1.0, 1.0, 5)
    assert surface_through(x, 2.0 * x, np.ones(5)) is None


def test_hull_agrees_with_another_library():
    """The same corners as SciPy's ConvexHull."""
    corners = {(float(X[i]), float(Y[i])) for i in ConvexHull(np.column_stack([X, Y])).vertices}
    assert set(hull(X, Y)) == corners
