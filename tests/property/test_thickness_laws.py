"""Laws that thickness statistics obey whatever the readings are."""

import dataclasses
import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.metrology.site_patterns import seventeen_sites
from lapwright.metrology.thickness import thickness_statistics
from lapwright.model.readings import Gauge, ThicknessSet
from lapwright.model.wafer import Round

DISC = Round(diameter=0.1)
SITES = seventeen_sites(DISC)
GAUGE = Gauge(gauge_id="g", name="g", limit=1e-6, local=0.3e-6, repeatability=0.4e-6)
micrometres = st.floats(min_value=-20.0, max_value=20.0).map(lambda value: round(value, 3) * 1e-6)
uneven = st.lists(micrometres, min_size=17, max_size=17).map(lambda values: 5e-4 + np.array(values))
LAW = settings(max_examples=25, deadline=None)


def result(thickness, *, x=SITES.x, y=SITES.y, outline=DISC, gauge=GAUGE, labels=SITES.labels):
    """Statistics of single readings."""
    taken = ThicknessSet(
        piece="w", labels=labels, x=np.array(x), y=np.array(y), site=np.arange(17), thickness=np.array(thickness)
    )
    return thickness_statistics(taken, outline=outline, gauge=gauge)


def close(expected, found, *, scale=1e-6):
    """Equal to a billionth of a micrometre, or of what is usual for the quantity."""
    return abs(expected - found) <= 1e-9 * max(scale, abs(expected))


@LAW
@given(uneven, st.sampled_from([0.25, 2.0, 8.0]))
def test_scaling_all_lengths_scales_every_length(thickness, k):
    """Thickness, places, outline and gauge times k: every result times k, angles unchanged."""
    gauge = dataclasses.replace(GAUGE, limit=k * 1e-6, local=k * 0.3e-6, repeatability=k * 0.4e-6)
    one = result(thickness)
    many = result(k * thickness, x=k * SITES.x, y=k * SITES.y, outline=Round(diameter=k * 0.1), gauge=gauge)
    for name in ("mean", "centre", "ttv", "ttv_noise_bias", "dome", "residual_rms"):
        assert close(k * getattr(one, name), getattr(many, name))
    assert close(k * one.wedge.amount, many.wedge.amount)
    assert close(one.wedge_angle, many.wedge_angle)
    for name in ("mean_uncertainty", "ttv_uncertainty", "wedge_uncertainty", "dome_uncertainty"):
        assert close(k * getattr(one, name).expanded_uncertainty, getattr(many, name).expanded_uncertainty)


@LAW
@given(uneven, micrometres)
def test_a_constant_moves_the_mean_alone(thickness, shift):
    """Everything that is a difference stays."""
    one, moved = result(thickness), result(thickness + shift)
    assert close(one.mean + shift, moved.mean)
    for name in ("ttv", "ttv_noise_bias", "dome", "residual_rms"):
        assert close(getattr(one, name), getattr(moved, name))
    assert np.allclose(one.wedge_vector, moved.wedge_vector, atol=1e-15)
    assert [o.label for o in one.outliers] == [o.label for o in moved.outliers]


@LAW
@given(uneven, st.floats(min_value=-math.pi, max_value=math.pi))
def test_turning_the_piece_turns_wedge_and_saddle(thickness, turn):
    """Amounts stay; azimuths turn along."""
    x = math.cos(turn) * SITES.x - math.sin(turn) * SITES.y
    y = math.sin(turn) * SITES.x + math.cos(turn) * SITES.y
    one, turned = result(thickness), result(thickness, x=x, y=y)
    for name in ("mean", "ttv", "dome", "residual_rms", "ttv_noise_bias"):
        assert close(getattr(one, name), getattr(turned, name))
    vector = complex(*one.wedge_vector) * complex(math.cos(turn), math.sin(turn))
    assert np.allclose((vector.real, vector.imag), turned.wedge_vector, atol=1e-14)
    assert close(one.saddle.amount, turned.saddle.amount)
    if one.saddle.azimuth is not None and turned.saddle.azimuth is not None:
        assert abs(math.sin(one.saddle.azimuth + turn - turned.saddle.azimuth)) < 1e-6


@LAW
@given(uneven)
def test_a_mirror_mirrors_the_wedge(thickness):
    """X changed in sign: the wedge's x component too, nothing else."""
    one, mirrored = result(thickness), result(thickness, x=-SITES.x)
    assert np.allclose((-one.wedge_vector[0], one.wedge_vector[1]), mirrored.wedge_vector, atol=1e-14)
    for name in ("mean", "ttv", "dome", "residual_rms"):
        assert close(getattr(one, name), getattr(mirrored, name))


@LAW
@given(uneven, st.permutations(range(17)))
def test_the_order_of_sites_does_not_matter(thickness, order):
    """Without drift, a set read in another order says the same."""
    one = result(thickness)
    other = result(thickness[order], x=SITES.x[order], y=SITES.y[order], labels=tuple(SITES.labels[i] for i in order))
    for name in ("mean", "centre", "minimum", "maximum", "ttv", "dome", "residual_rms", "ttv_noise_bias"):
        assert close(getattr(one, name), getattr(other, name))
    assert {o.label for o in one.outliers} == {o.label for o in other.outliers}


@LAW
@given(uneven, micrometres, micrometres)
def test_a_linear_drift_is_taken_out(thickness, before, drift):
    """What the zero readings show, added to every reading in order, changes nothing (row: to 5 %; here: exactly)."""
    moment = np.arange(1, 18) / 18
    conditions = dataclasses.replace(result(thickness).conditions, zero_before=before, zero_after=before + drift)
    drifted = ThicknessSet(
        piece="w",
        labels=SITES.labels,
        x=SITES.x,
        y=SITES.y,
        site=np.arange(17),
        thickness=thickness + before + drift * moment,
        conditions=conditions,
    )
    one = result(thickness)
    other = thickness_statistics(drifted, outline=DISC, gauge=GAUGE, allowed_drift=1e-3)
    assert close(one.mean, other.mean)
    assert close(one.ttv, other.ttv)
    assert np.allclose(one.wedge_vector, other.wedge_vector, atol=1e-14)
