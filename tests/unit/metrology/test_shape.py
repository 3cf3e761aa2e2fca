"""Form of faces: apertures, split into terms, lines, rim, sites, bow, two faces, dense scans."""

import math
from dataclasses import replace

import numpy as np
import pytest

from lapwright.errors import MapsDoNotCombine, OutOfValidRange, ShapeMismatch, ShapeNotDetermined
from lapwright.metrology.flatness import flatness, minimum_zone_flatness, plane_deviation
from lapwright.metrology.frames import transformed
from lapwright.metrology.shape import measured_shape
from lapwright.metrology.shape_bow import bow_and_warp
from lapwright.metrology.shape_faces import FaceMap, combined_faces, in_wafer_frame
from lapwright.metrology.shape_grid import Aperture, fitted_aperture, grid_axes, interpolated
from lapwright.metrology.shape_profiles import RadialProfile, radial_profile, roll_off, section, useful_area
from lapwright.metrology.shape_scan import local_variation, robust_surface
from lapwright.metrology.shape_sites import SiteGrid, global_flatness, site_flatness
from lapwright.metrology.zernike import noll_indices, zernike_fit, zernike_surface
from lapwright.model.wafer import Frame, ThicknessMap

PIXEL = (0.5e-3, 0.5e-3)
R = 0.05
X, Y = grid_axes((221, 221), pixel_size=PIXEL)
XX, YY = np.broadcast_arrays(X, Y[:, None])
RADIUS = np.hypot(XX, YY)
DISC = Aperture(radius=R)


def on_disc(surface, radius=R):
    """The surface on a disc only."""
    return np.where(radius >= RADIUS, surface, np.nan)


# ---------------------------------------------------------------------------------------------------- grid and aperture


@pytest.mark.parametrize("flat", [-0.06, -0.047, -0.044])
def test_the_aperture_is_found_with_flat_hole_and_dust(flat):
    """Centre and radius to a pixel, whatever is missing."""
    face = (np.hypot(XX - 3e-3, YY + 2e-3) <= 0.045) & (flat + 0.0 < YY)
    face &= np.hypot(XX, YY) > 0.01
    face &= np.random.default_rng(1).uniform(size=face.shape) > 0.02
    found = fitted_aperture(face, pixel_size=PIXEL)

    assert found.x == pytest.approx(3e-3, abs=0.5e-3)
    assert found.y == pytest.approx(-2e-3, abs=0.5e-3)
    assert found.radius == pytest.approx(0.045, abs=0.6e-3)


def test_a_rectangle_has_the_circle_through_its_corners():
    """40 by 30 mm: 25 mm."""
    found = fitted_aperture((np.abs(XX) <= 0.02) & (np.abs(YY) <= 0.015), pixel_size=PIXEL)
    assert found.radius == pytest.approx(0.025, abs=0.6e-3)


def test_an_empty_or_tiny_face():
    """No pixel is refused; one pixel is its own circle."""
    with pytest.raises(ShapeNotDetermined):
        fitted_aperture(np.zeros((5, 5), dtype=bool), pixel_size=PIXEL)
    one = np.zeros((5, 5), dtype=bool)
    one[2, 2] = True
    assert fitted_aperture(one, pixel_size=PIXEL).radius == pytest.approx(0.25e-3)
    with pytest.raises(OutOfValidRange):
        Aperture(radius=0.0)
    with pytest.raises(OutOfValidRange):
        grid_axes((5, 5), pixel_size=(1e-3, -1e-3))


def test_heights_between_pixels_are_those_of_scipy():
    """map_coordinates of order one."""
    from scipy.ndimage import map_coordinates

    height = np.random.default_rng(2).normal(size=(9, 11))
    rows, columns = np.random.default_rng(3).uniform(0, 8, 50), np.random.default_rng(4).uniform(0, 10, 50)

    assert np.allclose(
        map_coordinates(height, [rows, columns], order=1), interpolated(height, rows=rows, columns=columns)
    )
    assert np.isnan(interpolated(height, rows=np.array([-0.5, 8.5]), columns=np.array([3.0, 3.0]))).all()


# ---------------------------------------------------------------------------------------------------------------- shape


def test_planted_tilt_power_and_astigmatism_are_found():
    """A saddle of axis 30° on a dome on a slope, behind a central hole and a missing sector, is found exactly."""
    axis = math.radians(30)
    turned = XX * math.cos(axis) + YY * math.sin(axis)
    across = -XX * math.sin(axis) + YY * math.cos(axis)
    surface = 2e-6 * XX / R - 1e-6 * YY / R - 3e-6 * RADIUS**2 / R**2 + 0.4e-6 * (turned**2 - across**2) / R**2
    holed = np.where((RADIUS < 0.01) | ((XX > 0.02) & (YY > 0.02)), np.nan, on_disc(surface))
    found = measured_shape(holed, pixel_size=PIXEL, aperture=DISC)

    assert found.tilt == pytest.approx(2 * math.hypot(2e-6, 1e-6), rel=0.5)  # the plane takes some of the rest
    assert found.power == pytest.approx(3e-6, rel=1e-9)
    assert found.astigmatism == pytest.approx(0.8e-6, rel=1e-9)
    assert found.astigmatism_azimuth == pytest.approx(axis, abs=1e-9)
    assert found.residual_rms < 1e-18


def test_a_tilt_is_only_a_tilt():
    """2 R g towards 60°, and nothing else."""
    slope = 1e-5
    found = measured_shape(
        on_disc(slope * (XX * math.cos(math.pi / 3) + YY * math.sin(math.pi / 3))), pixel_size=PIXEL, aperture=DISC
    )
    assert found.tilt == pytest.approx(2 * R * slope)
    assert found.tilt_azimuth == pytest.approx(math.pi / 3)
    assert found.pv < 1e-18
    assert measured_shape(on_disc(0.0 * XX), pixel_size=PIXEL, aperture=DISC).tilt_azimuth is None


def test_the_robust_peak_to_valley_forgives_a_particle():
    """One pixel of 10 µm on a face of 1 µm; the percentiles are told."""
    height = on_disc(1e-6 * np.sin(XX / 0.01))
    particle = height.copy()
    particle[110, 110] += 10e-6
    clean, dirty = (measured_shape(z, pixel_size=PIXEL, aperture=DISC) for z in (height, particle))

    assert dirty.pv > 10e-6
    assert dirty.robust_pv == pytest.approx(clean.robust_pv, rel=1e-2)
    assert dirty.percentiles == (0.5, 99.5)


def test_places_on_one_ring_carry_no_power():
    """Power, astigmatism and residual are not given there; on one line not even a plane."""
    ring = np.full(XX.shape, np.nan)
    angle = np.arange(6) * math.pi / 3
    for x, y in zip(0.03 * np.cos(angle), 0.03 * np.sin(angle), strict=True):
        ring[np.argmin(np.abs(Y - y)), np.argmin(np.abs(X - x))] = 0.0
    found = measured_shape(ring, pixel_size=PIXEL, aperture=Aperture(radius=0.04))
    line = np.where(np.abs(YY) < 1e-4, 0.0, np.nan)

    assert found.n_pixels == 6
    with pytest.raises(ShapeNotDetermined):
        measured_shape(line, pixel_size=PIXEL, aperture=DISC)
    with pytest.raises(ShapeNotDetermined):
        measured_shape(np.full(XX.shape, np.nan), pixel_size=PIXEL)


# ------------------------------------------------------------------------------------------------------------- flatness


def test_flatness_is_that_of_plain_least_squares():
    """Against numpy.linalg.lstsq on scattered places."""
    x, y, z = np.random.default_rng(5).normal(size=(3, 200))
    terms = np.column_stack((np.ones(200), x, y))
    left = z - terms @ np.linalg.lstsq(terms, z, rcond=None)[0]
    found = flatness(x, y, z)

    assert np.allclose(left, plane_deviation(x, y, z))
    assert found.fltt == pytest.approx(np.ptp(left))
    assert found.fltp == pytest.approx(left.max())
    assert found.fltv == pytest.approx(-left.min())
    assert found.fltq == pytest.approx(np.sqrt(np.mean(left**2)))


@pytest.mark.parametrize("seed", range(5))
def test_the_minimum_zone_is_the_best_of_a_search(seed):
    """Never above the least-squares zone; a simplex search from there finds nothing smaller."""
    from scipy.optimize import minimize

    x, y, z = np.random.default_rng(seed).normal(size=(3, 400))
    found = minimum_zone_flatness(x, y, z)
    search = min(
        minimize(
            lambda slope: np.ptp(z - slope[0] * x - slope[1] * y), start, method="Nelder-Mead",
            options={"xatol": 1e-10, "fatol": 1e-12, "maxiter": 4000},
        ).fun
        for start in np.random.default_rng(seed + 100).normal(0, 0.3, (6, 2))
    )  # fmt: skip

    assert found <= flatness(x, y, z).fltt
    assert found <= search + 1e-9
    assert found == pytest.approx(search, rel=1e-3)


def test_the_minimum_zone_of_a_tilted_plane_is_nought():
    """To rounding; missing places do not matter."""
    x, y = np.random.default_rng(6).normal(size=(2, 100))
    z = 3e-6 * x - 1e-6 * y + 5e-4
    z[::9] = np.nan
    assert minimum_zone_flatness(x, y, z) < 1e-18


def test_flatness_needs_a_plane():
    """Two places, three on a line, arrays of different length."""
    line = np.arange(5.0)
    for x, y in ((line[:2], line[:2]), (line, 2 * line), (0 * line, 0 * line)):
        with pytest.raises(ShapeNotDetermined):
            flatness(x, y, 0.0 * x)
    with pytest.raises(ShapeMismatch):
        minimum_zone_flatness(line, line, line[:3])


# -------------------------------------------------------------------------------------------------------------- zernike


def test_a_small_patch_does_not_carry_many_terms():
    """A fifth of the radius, off centre: 22 terms would raise noise a hundredfold."""
    patch = np.where(np.hypot(XX - 0.03, YY) < 0.01, 1e-7 * XX, np.nan)
    with pytest.raises(ShapeNotDetermined, match="fewer terms"):
        zernike_fit(patch, pixel_size=PIXEL, terms=22, aperture=DISC)
    with pytest.raises(ShapeNotDetermined):
        zernike_fit(np.full(XX.shape, np.nan), pixel_size=PIXEL, terms=4, aperture=DISC)


def test_the_condition_is_one_on_a_whole_disc_and_grows_with_a_hole():
    """And so does the gain of noise."""
    height = on_disc(0.0 * XX)
    whole = zernike_fit(height, pixel_size=PIXEL, terms=15, aperture=DISC)
    holed = zernike_fit(np.where(RADIUS < 0.02, np.nan, height), pixel_size=PIXEL, terms=15, aperture=DISC)

    assert whole.condition == pytest.approx(1.0, abs=0.05)
    assert holed.condition > 1.3
    assert holed.noise_gain > whole.noise_gain


def test_the_rms_of_a_fit_is_the_root_of_its_squares():
    """sqrt(sum of a_j², j >= 2) = rms of the surface on a whole disc, 1 %."""
    coefficients = np.array([5.0, 0.0, 0.0, 3.0, -2.0, 1.0, 0.5]) * 1e-7
    surface = zernike_surface(coefficients, shape=XX.shape, pixel_size=PIXEL, aperture=DISC)
    found = zernike_fit(surface, pixel_size=PIXEL, terms=7, aperture=DISC)

    assert found.fitted_rms == pytest.approx(math.sqrt(np.sum(coefficients[1:] ** 2)))
    assert found.fitted_rms == pytest.approx(np.nanstd(surface), rel=0.01)


@pytest.mark.parametrize("term", [0, -1, 232])
def test_terms_outside_the_order_are_wrong_questions(term):
    """From 1 to 231."""
    with pytest.raises(OutOfValidRange):
        noll_indices(term)
    with pytest.raises(OutOfValidRange):
        zernike_fit(on_disc(XX), pixel_size=PIXEL, terms=term, aperture=DISC)


# ----------------------------------------------------------------------------------------------------- sections and rim


@pytest.mark.parametrize("azimuth", [0.0, 0.7, math.pi / 2, 4.0])
def test_a_section_of_a_plane_is_a_line(azimuth):
    """Through any point in any direction."""
    through = (0.01, -0.004)
    found = section(3.0 * XX - 2.0 * YY, pixel_size=PIXEL, azimuth=azimuth, through=through)
    expected = 3.0 * (through[0] + found.distance * math.cos(azimuth)) - 2.0 * (
        through[1] + found.distance * math.sin(azimuth)
    )

    assert np.allclose(expected, found.height, atol=1e-12)
    assert np.ptp(found.distance) > 0.09


def test_rings_of_a_bowl():
    """Mean of r² over a ring is the square of its radius to the width of the ring."""
    found = radial_profile(on_disc(RADIUS**2), pixel_size=PIXEL, aperture=DISC)

    assert np.allclose(found.radius**2, found.height, atol=1e-7)
    assert found.pixels.sum() == np.count_nonzero(RADIUS <= R)
    with pytest.raises(ShapeNotDetermined):
        radial_profile(np.full(XX.shape, np.nan), pixel_size=PIXEL, aperture=DISC)


@pytest.mark.parametrize("begin", [0.040, 0.0455, 0.048])
@pytest.mark.parametrize("power", [1.0, 2.0, 3.0])
def test_a_planted_roll_off_is_found_to_half_a_millimetre(begin, power):
    """A fall of 1 µm with noise of 20 nm a pixel on a dome of 2 µm."""
    noise = 20e-9 * np.random.default_rng(7).normal(size=XX.shape)
    fall = 1e-6 * (np.clip(RADIUS - begin, 0, None) / (R - begin)) ** power
    height = on_disc(-2e-6 * RADIUS**2 / R**2 - fall + noise)
    found = roll_off(radial_profile(height, pixel_size=PIXEL, aperture=DISC), edge=R)

    assert found.radius == pytest.approx(begin, abs=0.5e-3)
    assert found.drop == pytest.approx(1e-6, rel=0.15)


def test_no_roll_off_is_found_where_there_is_none():
    """A dome with noise."""
    height = on_disc(-2e-6 * RADIUS**2 / R**2 + 20e-9 * np.random.default_rng(8).normal(size=XX.shape))
    found = roll_off(radial_profile(height, pixel_size=PIXEL, aperture=DISC), edge=R)
    assert (found.radius, found.width, found.drop) == (None, None, None)


def test_the_roll_off_amount_is_the_fall_below_the_reference_line():
    """A kink at 3 mm from the edge with 0.1 µm a millimetre: 0.2 µm at 1 mm."""
    radius = np.arange(0.0, R, 0.25e-3)
    height = -1e-4 * np.clip(radius - (R - 3e-3), 0, None) + 1e-5 * radius
    rings = RadialProfile(radius=radius, height=height, spread=0 * radius, pixels=np.ones(radius.size, dtype=np.intp))
    found = roll_off(rings, edge=R)

    assert found.amount == pytest.approx(0.2e-6, rel=1e-6)
    assert roll_off(rings, edge=R + 0.02).amount is None
    with pytest.raises(OutOfValidRange):
        roll_off(rings, edge=R, place=4e-3)
    with pytest.raises(ShapeNotDetermined):
        roll_off(
            RadialProfile(radius=radius[:5], height=height[:5], spread=radius[:5], pixels=rings.pixels[:5]), edge=R
        )


def test_the_useful_area_ends_where_the_limit_does():
    """A linear fall of 1 µm over 10 mm about a plane at the inner level: 0.2 µm holds to about 42 mm."""
    height = on_disc(-1e-4 * np.clip(RADIUS - 0.04, 0, None))
    found = useful_area(height, pixel_size=PIXEL, limit=0.2e-6, aperture=DISC)

    assert found.radius == pytest.approx(0.042, abs=0.5e-3)
    assert found.exclusion == pytest.approx(R - found.radius)
    assert found.fltt <= 0.2e-6
    assert useful_area(height, pixel_size=PIXEL, limit=2e-6, aperture=DISC).exclusion == 0.0
    rough = on_disc(1e-6 * np.random.default_rng(9).normal(size=XX.shape))
    assert useful_area(rough, pixel_size=PIXEL, limit=1e-9, aperture=DISC).radius is None
    with pytest.raises(OutOfValidRange):
        useful_area(height, pixel_size=PIXEL, limit=0.0)


# ---------------------------------------------------------------------------------------------------------------- sites


def test_partial_sites_count_by_the_stated_rule():
    """Whole ones only, or those with half of their pixels; the rule is told."""
    wedge = on_disc(5e-4 + 1e-5 * XX)
    sites = SiteGrid(width=0.02, height=0.02)
    whole = site_flatness(wedge, pixel_size=PIXEL, sites=sites, aperture=DISC)
    half = site_flatness(wedge, pixel_size=PIXEL, sites=sites, aperture=DISC, min_measured=0.5)

    assert whole.is_whole.all()
    assert whole.x.size == 12
    assert half.x.size > 12
    assert int(half.is_whole.sum()) == 12
    assert "wholly inside" in whole.partial_rule
    assert "50 %" in half.partial_rule
    assert half.sfqr == pytest.approx(0.0, abs=1e-16)


def test_edge_exclusion_and_missing_pixels_take_sites_away():
    """A hole in one site, a rim of 5 mm."""
    thickness = on_disc(5e-4 + 0 * XX)
    thickness[np.hypot(XX - 0.01, YY - 0.01) < 0.002] = np.nan
    sites = SiteGrid(width=0.02, height=0.02)
    found = site_flatness(thickness, pixel_size=PIXEL, sites=sites, aperture=DISC)
    small = site_flatness(thickness, pixel_size=PIXEL, sites=sites, aperture=DISC, edge_exclusion=0.006)

    assert found.x.size == 11
    assert small.x.size == 3
    for wrong in ({"min_measured": 0.0}, {"edge_exclusion": 0.06}, {"sites": SiteGrid(width=0.5e-3, height=0.02)}):
        with pytest.raises(OutOfValidRange):
            site_flatness(thickness, **{"pixel_size": PIXEL, "sites": sites, "aperture": DISC} | wrong)
    with pytest.raises(ShapeNotDetermined):
        site_flatness(thickness, pixel_size=PIXEL, sites=SiteGrid(width=0.09, height=0.09), aperture=DISC)
    with pytest.raises(OutOfValidRange):
        SiteGrid(width=0.0, height=0.02)


def test_three_points_that_are_not_measured_give_no_three_point_figure():
    """GF3R and bow are None then; the least-squares figures stay."""
    thickness = on_disc(1e-6 * RADIUS**2 / R**2)
    thickness[Y < -0.04] = np.nan

    assert global_flatness(thickness, pixel_size=PIXEL, aperture=DISC).gf3r is None
    found = bow_and_warp(thickness, pixel_size=PIXEL, aperture=DISC)
    assert (found.bow, found.warp_three_point) == (None, None)
    assert found.warp > 0
    with pytest.raises(OutOfValidRange):
        bow_and_warp(thickness, pixel_size=PIXEL, aperture=DISC, edge_exclusion=R)


def test_a_domed_wafer_has_a_bow_above_nought():
    """Towards the worked face."""
    assert bow_and_warp(-1e-6 * RADIUS**2 / R**2, pixel_size=PIXEL, aperture=DISC).bow == pytest.approx(1e-6, rel=1e-3)


# ------------------------------------------------------------------------------------------------------------ two faces


def faces(front, back, **changes):
    """Maps of both faces, the back seen from below."""
    told = {"pixel_size": PIXEL, "hold": "free", "sign_ambiguous": False} | changes
    return (
        FaceMap(height=front, frame=Frame(), **told),
        FaceMap(height=back[:, ::-1].copy(), frame=Frame(seen_from="bonded"), **told),
    )


def test_thickness_variation_and_median_come_out_of_two_faces():
    """A planted bulge on the front, a hollow elsewhere on the back, and a common bend that is no thickness."""
    bend = 5e-6 * XX**2 / R**2
    bulge = 0.3e-6 * np.exp(-((XX - 0.02) ** 2 + YY**2) / 0.005**2)
    hollow = -0.2e-6 * np.exp(-((XX + 0.01) ** 2 + (YY - 0.02) ** 2) / 0.005**2)
    found = combined_faces(*faces(on_disc(bend + bulge), on_disc(-bend + hollow)))
    thickness = on_disc(bulge + hollow)

    assert np.nanmax(np.abs(found.thickness_variation - (thickness - np.nanmean(thickness)))) < 1e-18
    assert np.nanmax(np.abs(found.median_surface - on_disc(bend + 0.5 * (bulge - hollow)))) < 1e-18
    assert not found.has_tilt
    assert "constant and a tilt" in found.limits


def test_wedge_is_told_only_by_maps_that_know_their_level():
    """The same tilted faces: the range counts the tilt only then."""
    slope = 1e-5 * XX
    blind = combined_faces(*faces(on_disc(slope), on_disc(slope)))
    seeing = combined_faces(*faces(on_disc(slope), on_disc(slope), knows_level=True))

    assert blind.range == pytest.approx(0.0, abs=1e-15)
    assert seeing.range == pytest.approx(2 * 2 * R * 1e-5)
    assert seeing.has_tilt


def test_the_frame_is_brought_about_as_for_thickness_maps():
    """Mirror first, then turn, for every quarter turn and both sides: as `frames.transformed` does with sites."""
    height = np.random.default_rng(1).normal(size=(5, 7))
    x, y = grid_axes(height.shape, pixel_size=(1.0, 1.0))
    px, py = (a.ravel() for a in np.broadcast_arrays(x, y[:, None]))
    for seen in ("worked", "bonded"):
        for quarter in range(-1, 4):
            frame = Frame(seen_from=seen, turn=quarter * math.pi / 2)
            face = FaceMap(height=height, pixel_size=(1.0, 1.0), frame=frame, hold="free", sign_ambiguous=False)
            turned = in_wafer_frame(face)
            sites = transformed(ThicknessMap(x=px.copy(), y=py.copy(), thickness=height.ravel().copy(), frame=frame))
            rows = np.rint((turned.shape[0] - 1) / 2 - sites.y).astype(int)
            columns = np.rint(sites.x + (turned.shape[1] - 1) / 2).astype(int)
            assert np.array_equal(turned[rows, columns], height.ravel())


def test_maps_that_do_not_belong_together_are_refused_with_every_reason():
    """Both from one side, one without sign, other hold, other pixels."""
    front, back = faces(on_disc(0 * XX), on_disc(0 * XX))
    wrong = replace(back, frame=Frame(), hold="clamped", sign_ambiguous=True, pixel_size=(1e-3, 1e-3))
    with pytest.raises(MapsDoNotCombine) as caught:
        combined_faces(front, wrong)
    assert len(caught.value.faults) == 4
    for change in (
        {"hold": None},
        {"height": back.height[:-1]},
        {"height": np.where(RADIUS < 0.02, back.height, np.nan)},
        {"frame": Frame(seen_from="bonded", turn=0.1)},
    ):
        with pytest.raises(MapsDoNotCombine):
            combined_faces(front, replace(back, **change))


# ----------------------------------------------------------------------------------------------------------- dense scan


def scan(count=20_000, seed=1):
    """Scattered places on the disc."""
    generator = np.random.default_rng(seed)
    radius, angle = R * np.sqrt(generator.uniform(size=count)), generator.uniform(0, 2 * np.pi, count)
    return radius * np.cos(angle), radius * np.sin(angle), generator


def test_odd_points_do_not_pull_the_robust_surface():
    """A tenth of the points 30 µm too high on one side: plane and dome to the noise, all of them named."""
    x, y, generator = scan()
    true = 5e-4 + 1e-6 * x / R - 2e-6 * (x**2 + y**2) / R**2
    thickness = true + 5e-8 * generator.normal(size=x.size)
    odd = np.flatnonzero(x > 0.03)[:2000]
    thickness[odd] += 30e-6
    found = robust_surface(x, y, thickness, reach=R)

    assert found.coefficients == pytest.approx([5e-4, 1e-6, 0.0, -2e-6], abs=5e-9)
    assert found.scale == pytest.approx(5e-8, rel=0.1)
    assert set(odd) == set(found.odd)


def test_a_surface_without_noise_is_found_at_once():
    """And missing points stay missing."""
    x, y, _ = scan(500)
    thickness = 5e-4 + 1e-6 * x / R
    thickness[::5] = np.nan
    found = robust_surface(x, y, thickness, surface="saddle", reach=R)

    assert found.coefficients == pytest.approx([5e-4, 1e-6, 0, 0, 0, 0], abs=1e-15)
    assert np.array_equal(np.isnan(found.residuals), np.isnan(thickness))
    with pytest.raises(ShapeNotDetermined):
        robust_surface(x, 0 * x, thickness)
    with pytest.raises(ShapeNotDetermined):
        robust_surface(x, y, np.full(x.size, np.nan))
    with pytest.raises(ShapeMismatch):
        robust_surface(x, y[:-1], thickness)


def test_the_worst_square_is_where_the_step_is():
    """A step of 0.3 µm at x = 12 mm on a lattice; brute force over all squares agrees."""
    lattice = np.arange(-40, 41) * 1e-3
    x, y = (a.ravel() for a in np.meshgrid(lattice, lattice))
    inside = np.hypot(x, y) <= 0.04
    x, y = x[inside], y[inside]
    thickness = 5e-4 + 3e-7 * (x > 0.0121) + 1e-8 * np.random.default_rng(2).normal(size=x.size)
    found = local_variation(x, y, thickness, side=5e-3)
    worst = max(
        np.ptp(thickness[(np.abs(x - mx) <= 2.5001e-3) & (np.abs(y - my) <= 2.5001e-3)])
        for mx in np.arange(-37.5, 38) * 1e-3
        for my in np.arange(-37.5, 38) * 1e-3
        if math.hypot(abs(mx) + 2.5e-3, abs(my) + 2.5e-3) <= 0.04
    )

    assert found.worst >= worst
    assert found.worst == pytest.approx(worst, rel=0.05)
    assert abs(found.x - 0.0125) < 3e-3


def test_scattered_points_give_the_variation_of_a_wedge():
    """Side times (|gx| + |gy|), to the step by which it slides."""
    x, y, _ = scan(100_000)
    found = local_variation(x, y, 5e-4 + 1e-5 * x - 2e-5 * y, side=10e-3)
    assert found.worst == pytest.approx(10e-3 * 3e-5, rel=0.08)
    assert found.pitch == pytest.approx(2 * math.sqrt(4 * R * R / 100_000), rel=0.1)


def test_a_square_that_fits_nowhere_is_refused():
    """Wider than the face, narrower than two pitches, no points."""
    x, y, _ = scan(5000)
    with pytest.raises(ShapeNotDetermined):
        local_variation(x, y, 0 * x, side=0.09)
    with pytest.raises(ShapeNotDetermined):
        local_variation(x, y, 0 * x, side=0.2)
    with pytest.raises(ShapeNotDetermined):
        local_variation(x, y, np.full(x.size, np.nan), side=0.01)
    with pytest.raises(OutOfValidRange):
        local_variation(x, y, 0 * x, side=1e-3)
    with pytest.raises(ShapeMismatch):
        local_variation(x, y, x[1:], side=1e-2)


def test_a_pure_dome_has_no_axis_and_a_level_plane_no_zone():
    """Nothing to point at, nothing between the planes."""
    x, y = (a.ravel() for a in np.meshgrid([-1.0, 0.0, 1.0], [-1.0, 0.0, 1.0]))
    assert minimum_zone_flatness(x, y, 0.0 * x) == 0.0
    assert measured_shape(np.zeros((5, 5)), pixel_size=PIXEL).astigmatism_azimuth is None


def test_an_uneven_lattice_counts_as_scattered():
    """Few different columns at uneven steps: cells of two pitches."""
    columns = np.cumsum(np.tile([1e-3, 1.5e-3], 20))
    x, y = (a.ravel() for a in np.meshgrid(columns, np.arange(50) * 1e-3))
    found = local_variation(x, y, 1e-5 * x, side=10e-3)
    assert found.pitch == pytest.approx(2.2e-3, rel=0.2)


def test_a_face_of_one_line_has_its_ends_as_rim():
    """No circle is determined by a line; the reach of the pixels is taken."""
    line = np.zeros((21, 21), dtype=bool)
    line[10, 3:18] = True
    assert fitted_aperture(line, pixel_size=PIXEL).radius == pytest.approx(7.25 * 0.5e-3, rel=0.1)
