"""Thickness statistics on hand-made sets."""

import dataclasses
import math

import numpy as np
import pytest

from lapwright.errors import BadInput, SetVoid, TooFewSites
from lapwright.metrology.site_patterns import line_scan, nine_sites, polar_rings, seventeen_sites
from lapwright.metrology.thickness import thickness_statistics
from lapwright.metrology.uncertainty import Contribution
from lapwright.model.readings import Conditions, Gauge, ThicknessSet
from lapwright.model.wafer import Rectangle, Round

DISC = Round(diameter=0.1)
NINE = nine_sites(DISC)
DROP_GAUGE = Gauge(gauge_id="g", name="drop gauge", limit=1e-6, local=0.3e-6, repeatability=0.4e-6)
STATED = Conditions(hold="free", temperature=295.0, soaked=True, zero_before=0.0, zero_after=0.0)


def taken(thickness, pattern=NINE, *, repeats=1, conditions=STATED, noise=None):
    """A set with the same thickness in every repeat, plus noise where given, shape (sites, repeats)."""
    values = np.repeat(np.asarray(thickness, dtype=float)[:, None], repeats, axis=1)
    if noise is not None:
        values = values + noise
    return ThicknessSet(
        piece="w",
        labels=pattern.labels,
        x=pattern.x.copy(),
        y=pattern.y.copy(),
        site=np.repeat(np.arange(len(values)), repeats),
        thickness=values.ravel(),
        conditions=conditions,
    )


def tilted(wedge, azimuth, pattern=NINE):
    """Thickness of a plane of that wedge over 100 mm."""
    return 5e-4 + wedge * (pattern.x * math.cos(azimuth) + pattern.y * math.sin(azimuth)) / 0.1


def codes(result):
    """The codes of the warnings."""
    return {code for code, _ in result.warnings}


def test_wedge_counts_in_full_in_ttv():
    """A wedge of 10 µm over 100 mm, read at 45 mm: TTV 9 µm, wedge 10 µm, no dome."""
    result = thickness_statistics(taken(tilted(10e-6, 0.0)), outline=DISC, gauge=DROP_GAUGE)
    assert pytest.approx(9e-6) == result.ttv
    assert pytest.approx(10e-6) == result.wedge.amount
    assert pytest.approx(0.0, abs=1e-9) == result.wedge.azimuth
    assert pytest.approx(1e-4) == result.wedge_angle
    assert pytest.approx(0.0, abs=1e-15) == result.dome


def test_azimuth_points_at_the_thickest_edge():
    """Thickest towards 210 degrees."""
    result = thickness_statistics(taken(tilted(10e-6, math.radians(210))), outline=DISC)
    assert pytest.approx(-150.0) == math.degrees(result.wedge.azimuth)


def test_dome_is_thicker_in_the_middle_and_reaches_the_full_radius():
    """4 µm thicker in the middle than at 50 mm, though the outermost site stands at 45 mm."""
    dome = 5e-4 + 4e-6 * (1 - (NINE.x**2 + NINE.y**2) / 0.05**2)
    result = thickness_statistics(taken(dome), outline=DISC)
    assert pytest.approx(4e-6) == result.dome
    assert pytest.approx(4e-6 * 0.81) == result.ttv
    assert pytest.approx(5e-4 + 4e-6) == result.centre


def test_sites_on_one_ring_carry_no_dome_and_no_centre():
    """Eight sites on one ring: both are None, each with its warning; the wedge stands."""
    ring = dataclasses.replace(NINE, labels=NINE.labels[1:], x=NINE.x[1:], y=NINE.y[1:])
    result = thickness_statistics(taken(tilted(10e-6, 0.0, ring), ring), outline=DISC)
    assert (result.dome, result.centre) == (None, None)
    assert {"thickness.dome_not_carried", "thickness.centre_not_measured"} <= codes(result)
    assert pytest.approx(10e-6) == result.wedge.amount


def test_sites_on_one_line_carry_no_wedge():
    """Nine sites along x: no plane, and a warning says so."""
    line = line_scan(DISC, sites=9, edge_exclusion=0.005)
    result = thickness_statistics(taken(tilted(10e-6, 0.0, line), line), outline=DISC)
    assert (result.wedge, result.wedge_angle, result.wedge_vector) == (None, None, None)
    assert "thickness.wedge_not_carried" in codes(result)


def test_saddle_names_its_thick_ridge():
    """3 µm up at the rim along 30 degrees, 3 µm down a quarter turn away."""
    pattern = seventeen_sites(DISC)
    angle = np.arctan2(pattern.y, pattern.x) - math.radians(30)
    saddle = 5e-4 + 3e-6 * (pattern.x**2 + pattern.y**2) / 0.05**2 * np.cos(2 * angle)
    result = thickness_statistics(taken(saddle, pattern), outline=DISC)
    assert pytest.approx(3e-6) == result.saddle.amount
    assert pytest.approx(30.0) == math.degrees(result.saddle.azimuth)


def test_wedge_of_a_rectangle_is_over_its_extent():
    """A slope of 1e-4 along the diagonal of 30 x 20 mm: 1e-4 times its extent there."""
    piece, azimuth = Rectangle(width=0.03, height=0.02), math.atan2(2, 3)
    pattern = nine_sites(piece)
    result = thickness_statistics(taken(tilted(1e-5, azimuth, pattern), pattern), outline=piece)
    extent = 0.03 * math.cos(azimuth) + 0.02 * math.sin(azimuth)
    assert pytest.approx(1e-4 * extent) == result.wedge.amount


def test_gauge_limit_is_undiminished_in_the_mean_and_absent_in_ttv():
    """Limit 1 µm over nine sites: 1/sqrt(3) µm in the mean, nothing in TTV and wedge."""
    perfect = dataclasses.replace(DROP_GAUGE, local=0.0, repeatability=0.0)
    result = thickness_statistics(taken(tilted(10e-6, 0.0)), outline=DISC, gauge=perfect)
    assert pytest.approx(1e-6 / math.sqrt(3)) == result.mean_uncertainty.standard_uncertainty
    assert pytest.approx(0.0, abs=1e-15) == result.ttv_uncertainty.standard_uncertainty
    assert pytest.approx(0.0, abs=1e-15) == result.wedge_uncertainty.standard_uncertainty


def test_local_error_enters_differences():
    """0.3 µm at each of two sites, nothing else: sqrt(2) 0.3/sqrt(3) µm in TTV, a third of 0.3/sqrt(3) in the mean."""
    local = dataclasses.replace(DROP_GAUGE, limit=0.0, repeatability=0.0)
    result = thickness_statistics(taken(tilted(10e-6, 0.0)), outline=DISC, gauge=local)
    assert pytest.approx(math.sqrt(2) * 0.3e-6 / math.sqrt(3)) == result.ttv_uncertainty.standard_uncertainty
    assert pytest.approx(0.1e-6 / math.sqrt(3)) == result.mean_uncertainty.standard_uncertainty
    assert pytest.approx(1.959964 * result.ttv_uncertainty.standard_uncertainty) == (
        result.ttv_uncertainty.expanded_uncertainty
    )


def test_repeat_scatter_is_pooled_and_averaged():
    """Repeats -1, 0, +1 µm at every site: 1 µm from 18 degrees; 1/sqrt(27) µm in the mean, sqrt(2/3) in TTV."""
    noise = np.tile([-1e-6, 0.0, 1e-6], (9, 1))
    gauge = Gauge(gauge_id="g", name="g", limit=0.0, local=0.0)
    result = thickness_statistics(taken(tilted(10e-6, 0.0), repeats=3, noise=noise), outline=DISC, gauge=gauge)
    zero = 1e-6 / math.sqrt(2)  # two zero readings, each with the scatter of one reading
    assert (pytest.approx(1e-6), 18, 27) == (
        result.repeat_deviation,
        result.repeat_degrees_of_freedom,
        result.n_readings,
    )
    assert pytest.approx(math.hypot(1e-6 / math.sqrt(27), zero)) == result.mean_uncertainty.standard_uncertainty
    # the two ends are read 24 readings of 28 apart: the zeros come in with sqrt(2) times that
    drifted = math.sqrt(2) * (14 - 2) / 28
    assert result.ttv_budget.contributions[1].effect == pytest.approx(math.hypot(math.sqrt(2 / 3), drifted) * 1e-6)
    assert pytest.approx(2.1009, abs=1e-3) == result.ttv_uncertainty.coverage_factor  # t of 18 degrees


def test_wedge_uncertainty_is_that_of_the_slope():
    """Nine sites, 0.5 µm each: D s / sqrt(sum x^2) = 0.1 * 0.5 / 0.0900 µm = 0.556 µm."""
    gauge = Gauge(gauge_id="g", name="g", limit=1e-6, repeatability=0.5e-6)
    conditions = dataclasses.replace(STATED, zero_before=None, zero_after=None)
    result = thickness_statistics(taken(tilted(9e-6, 0.3), conditions=conditions), outline=DISC, gauge=gauge)
    assert pytest.approx(0.5556e-6, rel=1e-3) == result.wedge_uncertainty.standard_uncertainty


def test_a_wedge_within_its_uncertainty_has_no_azimuth():
    """0.5 µm of wedge against 1.3 µm of expanded uncertainty."""
    result = thickness_statistics(taken(tilted(0.5e-6, 0.0)), outline=DISC, gauge=DROP_GAUGE)
    assert result.wedge.azimuth is None
    assert pytest.approx(0.5e-6) == result.wedge.amount


def test_without_gauge_the_mean_has_no_uncertainty():
    """Unknown is None with a reason, never nought."""
    result = thickness_statistics(taken(tilted(10e-6, 0.0)), outline=DISC)
    assert (result.mean_uncertainty, result.mean_budget) == (None, None)
    assert {"thickness.gauge_limit_unknown", "thickness.local_error_unknown"} <= codes(result)


def test_single_readings_take_their_scatter_from_the_residual():
    """No repeats, no known repeatability: residual scatter, no noise bias, and a warning that says so."""
    uneven = tilted(10e-6, 0.0) + np.array([0, 1, -1, 1, -1, 1, -1, 1, -1]) * 1e-7
    gauge = Gauge(gauge_id="g", name="g", limit=1e-6)
    result = thickness_statistics(taken(uneven), outline=DISC, gauge=gauge)
    assert (result.scatter.source, result.ttv_noise_bias, result.ttv_corrected) == ("residual", None, None)
    assert result.scatter.deviation == result.residual_rms
    assert "thickness.repeat_scatter_unknown" in codes(result)


def test_three_single_readings_leave_no_uncertainty():
    """Three sites carry a plane and nothing to judge it by."""
    three = dataclasses.replace(NINE, labels=NINE.labels[1:7:2], x=NINE.x[1:7:2], y=NINE.y[1:7:2])
    result = thickness_statistics(taken(tilted(10e-6, 0.0, three), three), outline=DISC)
    assert (result.scatter, result.ttv_uncertainty, result.residual_rms) == (None, None, None)
    assert "thickness.repeat_scatter_unknown" in codes(result)


def test_corrected_ttv_may_be_negative():
    """Sites that happen to agree better than the gauge can: the correction is shown, not clipped."""
    result = thickness_statistics(taken(np.full(9, 5e-4)), outline=DISC, gauge=DROP_GAUGE)
    assert result.ttv == 0.0
    assert result.ttv_corrected == -result.ttv_noise_bias < 0.0


def test_drift_is_taken_out_in_reading_order():
    """Nine readings, each 0.1 µm higher than the one before, between zeros of 0 and 1 µm: an even wafer."""
    rising = 5e-4 + np.arange(1, 10) * 0.1e-6
    conditions = dataclasses.replace(STATED, zero_after=1e-6)
    result = thickness_statistics(taken(rising, conditions=conditions), outline=DISC, gauge=DROP_GAUGE)
    assert pytest.approx(0.0, abs=1e-15) == result.ttv
    assert pytest.approx(5e-4) == result.mean
    assert pytest.approx(1e-6) == result.zero_drift
    assert "thickness.drift_corrected" in codes(result)


def test_drift_leaves_its_uncertainty_in_the_mean():
    """A jump at an unknown moment: d/sqrt(12) in the mean of many readings."""
    conditions = dataclasses.replace(STATED, zero_after=1e-6)
    pattern = polar_rings(DISC, rings=9, per_ring=12, edge_exclusion=0.003)
    result = thickness_statistics(
        taken(np.full(109, 5e-4), pattern, conditions=conditions), outline=DISC, gauge=DROP_GAUGE
    )
    line = next(line for line in result.mean_budget.contributions if line.name.startswith("drift"))
    assert pytest.approx(1e-6 / math.sqrt(12), rel=0.01) == line.effect


def test_drift_beyond_what_is_allowed_voids_the_set():
    """2.1 µm against a limit of 1 µm."""
    conditions = dataclasses.replace(STATED, zero_after=2.1e-6)
    with pytest.raises(SetVoid, match=r"moved 2\.10 µm"):
        thickness_statistics(taken(np.full(9, 5e-4), conditions=conditions), outline=DISC, gauge=DROP_GAUGE)


def test_drift_without_a_known_limit_voids_the_set():
    """Nothing says how much is allowed, so nothing is assumed; a stated allowance answers."""
    drifted = taken(np.full(9, 5e-4), conditions=dataclasses.replace(STATED, zero_after=0.1e-6))
    with pytest.raises(SetVoid, match="nothing says how much"):
        thickness_statistics(drifted, outline=DISC)
    assert thickness_statistics(drifted, outline=DISC, allowed_drift=0.2e-6).zero_drift == pytest.approx(0.1e-6)


def test_one_zero_reading_is_subtracted_and_told():
    """A zero of +1 µm before, none after."""
    conditions = dataclasses.replace(STATED, zero_before=1e-6, zero_after=None)
    result = thickness_statistics(taken(np.full(9, 5e-4), conditions=conditions), outline=DISC, gauge=DROP_GAUGE)
    assert pytest.approx(4.99e-4) == result.mean
    assert "thickness.drift_unknown" in codes(result)


def test_resolution_counts_once():
    """A step of 1 µm: 1/sqrt(12) µm undiminished in the mean when repeats agree, nothing beside a scatter of 1 µm."""
    coarse = Gauge(gauge_id="g", name="g", limit=0.0, resolution=1e-6, local=0.0)
    conditions = dataclasses.replace(STATED, zero_before=None, zero_after=None)
    still = thickness_statistics(taken(tilted(9e-6, 0.0), repeats=2, conditions=conditions), outline=DISC, gauge=coarse)
    assert {line.name: line for line in still.mean_budget.contributions}["resolution"].effect == pytest.approx(
        1e-6 / math.sqrt(12)
    )
    noise = np.tile([-1e-6, 1e-6], (9, 1))
    noisy = thickness_statistics(taken(tilted(9e-6, 0.0), repeats=2, noise=noise), outline=DISC, gauge=coarse)
    assert "resolution" not in {line.name for line in noisy.mean_budget.contributions}


def test_further_contributions_go_into_the_mean_alone():
    """A temperature uncertainty of 0.2 µm is common to the set."""
    warm = Contribution(name="temperature", standard_uncertainty=0.2e-6)
    result = thickness_statistics(
        taken(tilted(9e-6, 0.0)), outline=DISC, gauge=DROP_GAUGE, further_contributions=(warm,)
    )
    assert pytest.approx(result.mean_budget.contributions[-1].effect) == 0.2e-6
    assert "temperature" not in {line.name for line in result.ttv_budget.contributions}


def test_sites_in_the_exclusion_do_not_count_and_are_named():
    """6 mm of exclusion leaves the centre and drops eight at 45 mm: too few. 5 mm keeps all."""
    assert thickness_statistics(taken(np.full(9, 5e-4)), outline=DISC, edge_exclusion=0.005).n_sites == 9
    with pytest.raises(TooFewSites, match="3 measured sites; 1 found"):
        thickness_statistics(taken(np.full(9, 5e-4)), outline=DISC, edge_exclusion=0.006)
    pattern = seventeen_sites(DISC)
    result = thickness_statistics(taken(np.full(17, 5e-4), pattern), outline=DISC, edge_exclusion=0.006)
    assert result.n_sites == 9
    assert "thickness.sites_in_exclusion" in codes(result)


def test_missing_sites_are_named_not_filled_in():
    """NaN at one site: eight sites count and the ninth is named."""
    values = tilted(9e-6, 0.0)
    values[3] = np.nan
    result = thickness_statistics(taken(values), outline=DISC)
    assert (result.n_sites, result.n_readings) == (8, 8)
    assert ("thickness.sites_missing", "Without a reading: A3.") in result.warnings


def test_two_sites_are_too_few():
    """A map with two readings has no plane."""
    two = dataclasses.replace(NINE, labels=("a", "b"), x=NINE.x[:2], y=NINE.y[:2])
    with pytest.raises(TooFewSites) as caught:
        thickness_statistics(taken([5e-4, 5e-4], two), outline=DISC)
    assert caught.value.details == {"measured": 2, "needed": 3}


def test_all_faults_are_listed_at_once():
    """Off the piece, label twice, one place twice, no place, and a negative thickness."""
    faulty = ThicknessSet(
        piece="w7",
        labels=("a", "b", "b", "c", "d", "e"),
        x=np.array([0.06, 0.0, 0.01, 0.0, np.nan, 0.02]),
        y=np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.0]),
        site=np.arange(6),
        thickness=np.array([5e-4, 5e-4, 5e-4, 5e-4, 5e-4, -5e-4]),
    )
    with pytest.raises(BadInput, match="'w7' has 5 faults") as caught:
        thickness_statistics(faulty, outline=DISC)
    assert [fault.field for fault in caught.value.faults] == ["a", "b", "c", "d", "e"]
    assert caught.value.faults[-1].row == 6


def test_unsoaked_sets_say_so():
    """A set taken before the piece had soaked is marked; unstated conditions are listed."""
    hasty = taken(np.full(9, 5e-4), conditions=Conditions(soaked=False))
    result = thickness_statistics(hasty, outline=DISC)
    assert {"thickness.not_soaked", "thickness.conditions_unknown"} <= codes(result)


def test_agreeing_repeats_of_unknown_resolution_say_so():
    """Scatter of nought is not a scatter."""
    assert "thickness.no_scatter_seen" in codes(thickness_statistics(taken(np.full(9, 5e-4), repeats=2), outline=DISC))


def test_a_dusty_site_is_named_and_kept():
    """5 µm at one site: named with its deviation, still in TTV."""
    values = tilted(4e-6, 1.0)
    values[4] += 5e-6
    result = thickness_statistics(taken(values), outline=DISC, gauge=DROP_GAUGE)
    assert [one.label for one in result.outliers] == ["A4"]
    assert pytest.approx(5e-6) == result.outliers[0].deviation
    assert np.ptp(values) == pytest.approx(result.ttv)


def test_the_map_of_sites_holds_their_means():
    """Two repeats, 1 µm apart, and their mean on the map."""
    noise = np.tile([0.0, 1e-6], (9, 1))
    result = thickness_statistics(taken(np.full(9, 5e-4), repeats=2, noise=noise), outline=DISC)
    assert np.allclose(5.005e-4, result.sites.thickness)
    assert NINE.labels == result.sites.labels
    assert result.repeats == (2,) * 9
