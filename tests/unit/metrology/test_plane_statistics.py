"""Many wafers in one call against one at a time."""

import numpy as np
import pytest

from lapwright.errors import BadInput, OutOfValidRange, ShapeMismatch
from lapwright.metrology.plane_statistics import plane_statistics
from lapwright.metrology.site_patterns import line_scan, seventeen_sites
from lapwright.metrology.thickness import thickness_statistics
from lapwright.model.readings import ThicknessSet
from lapwright.model.wafer import Round

DISC = Round(diameter=0.1)
SITES = seventeen_sites(DISC)


def test_batch_equals_loop_with_missing_sites():
    """Thirty wafers, one in five sites missing: every statistic agrees to 1e-12 of a micrometre."""
    generator = np.random.default_rng(4)
    thickness = 5e-4 + generator.normal(0, 3e-6, (30, 17)) + 1e-4 * np.outer(generator.normal(size=30), SITES.x)
    thickness[generator.uniform(size=(30, 17)) < 0.2] = np.nan
    found = plane_statistics(thickness, SITES.x, SITES.y, diameter=0.1)
    for i in range(30):
        taken = ThicknessSet(
            piece="w", labels=SITES.labels, x=SITES.x, y=SITES.y, site=np.arange(17), thickness=thickness[i].copy()
        )
        one = thickness_statistics(taken, outline=DISC)
        expected = (one.n_sites, one.mean, one.minimum, one.maximum, one.ttv, one.wedge.amount)
        batch = (
            found.n_sites[i],
            found.mean[i],
            found.minimum[i],
            found.maximum[i],
            found.ttv[i],
            found.wedge[i],
        )
        assert expected == pytest.approx(batch, rel=1e-12, abs=1e-18)
        assert np.arctan2(one.wedge_vector[1], one.wedge_vector[0]) == pytest.approx(found.wedge_azimuth[i])


def test_a_wafer_with_too_few_sites_gets_no_number():
    """None measured, one, two, three of seventeen: mean from one, TTV from two, wedge from three."""
    thickness = np.full((4, 17), np.nan)
    thickness[1, 1] = thickness[2, 1:3] = 5e-4
    thickness[3, [1, 4, 6]] = 5e-4
    found = plane_statistics(thickness, SITES.x, SITES.y, diameter=0.1)
    assert found.n_sites.tolist() == [0, 1, 2, 3]
    assert np.isnan(found.mean).tolist() == [True, False, False, False]
    assert np.isnan(found.ttv).tolist() == [True, True, False, False]
    assert np.isnan(found.wedge).tolist() == [True, True, True, False]
    assert np.isnan(found.residual_rms).all()


def test_sites_on_a_line_carry_no_wedge():
    """A slope along x only."""
    line = line_scan(DISC, sites=7, edge_exclusion=0.005)
    found = plane_statistics(5e-4 + 1e-4 * line.x[None, :], line.x, line.y, diameter=0.1)
    assert np.isnan(found.wedge[0])
    assert pytest.approx(9e-6) == found.ttv[0]


def test_faults_are_all_listed():
    """Two cells not above nought, named by wafer and site."""
    thickness = np.full((2, 17), 5e-4)
    thickness[0, 3], thickness[1, 4] = -1e-4, np.inf
    with pytest.raises(BadInput) as caught:
        plane_statistics(thickness, SITES.x, SITES.y, diameter=0.1)
    assert [(fault.row, fault.field) for fault in caught.value.faults] == [(1, "site 4"), (2, "site 5")]


def test_shapes_and_diameter_are_checked():
    """One place per column; a diameter above nought."""
    with pytest.raises(ShapeMismatch):
        plane_statistics(np.full((2, 16), 5e-4), SITES.x, SITES.y, diameter=0.1)
    with pytest.raises(OutOfValidRange):
        plane_statistics(np.full((2, 17), 5e-4), SITES.x, SITES.y, diameter=0.0)


def test_no_wafers_give_no_numbers():
    """An empty table is answered with empty arrays."""
    assert plane_statistics(np.zeros((0, 17)), SITES.x, SITES.y, diameter=0.1).ttv.shape == (0,)
