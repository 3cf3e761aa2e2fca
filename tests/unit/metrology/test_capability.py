"""Capability: one-sided limits, percentiles, the gauge's share, honest intervals."""

import numpy as np
import pytest
from scipy import stats

from lapwright.errors import OutOfValidRange
from lapwright.metrology.capability import capability_indices, capability_study

SIX = np.array([1.2, 1.5, 1.1, 1.4, 1.3, 1.6])


def test_one_limit_has_no_cp():
    """Only the side that is limited."""
    found = capability_indices(1.0, 0.1, upper=1.3)
    assert (found.cp, found.cpl, found.cpm) == (None, None, None)
    assert pytest.approx(found.cpk) == 1.0
    assert stats.norm.sf(3.0) == pytest.approx(found.outside)


def test_six_wafers_say_little():
    """Cpk 1.2 from six: 0.4 to 2.0 (the end points by the library's non-central t)."""
    value = 3.6 / 1.0 * 0.0 + (SIX - SIX.mean()) / SIX.std(ddof=1)
    found = capability_study(value, upper=3.6)
    low, high = found.cpk_interval
    assert pytest.approx(found.indices.cpk) == 1.2
    seen = 3 * 6**0.5 * 1.2
    assert pytest.approx(stats.nct.cdf(seen, 5, 3 * 6**0.5 * low), abs=1e-6) == 0.975
    assert pytest.approx(stats.nct.cdf(seen, 5, 3 * 6**0.5 * high), abs=1e-6) == 0.025
    assert "too few" in found.notes[0]


def test_the_gauge_is_taken_out():
    """√(s² - u²); a gauge that scatters as much as the values leaves nothing to say."""
    clean = capability_study(SIX, upper=2.0, gauge_deviation=0.1)
    assert (2.0 - SIX.mean()) / (3 * (SIX.var(ddof=1) - 0.01) ** 0.5) == pytest.approx(clean.parts_alone.cpk)
    blind = capability_study(SIX, upper=2.0, gauge_deviation=0.5)
    assert blind.parts_alone is None
    assert any("nothing can be said" in note for note in blind.notes)


def test_percentiles_agree_with_indices_for_normal_values_and_not_for_others():
    """Twenty thousand values; below a thousand there are none."""
    rng = np.random.default_rng(5)
    normal = capability_study(rng.normal(0.0, 1.0, 20_000), lower=-4.0, upper=4.0)
    skewed = capability_study(rng.exponential(1.0, 20_000), upper=10.0)
    assert normal.indices.cpk == pytest.approx(normal.percentile[1], rel=0.05)
    assert skewed.percentile[1] < 0.8 * skewed.indices.cpk
    assert any("percentile" in note for note in skewed.notes)
    assert capability_study(SIX, upper=2.0).percentile is None


@pytest.mark.parametrize(
    "call",
    [
        lambda: capability_indices(0.0, 1.0),
        lambda: capability_indices(0.0, 0.0, upper=1.0),
        lambda: capability_indices(0.0, 1.0, lower=1.0, upper=1.0),
        lambda: capability_study(SIX[:1], upper=2.0),
        lambda: capability_study(np.ones(5), upper=2.0),
        lambda: capability_study(SIX, upper=2.0, gauge_deviation=-1.0),
        lambda: capability_study(np.array([1.0, np.nan]), upper=2.0),
    ],
)
def test_wrong_questions(call):
    """Refused."""
    with pytest.raises(OutOfValidRange):
        call()


@pytest.mark.parametrize("count", [2, 7, 21])
def test_equal_values_have_no_index_however_their_mean_is_rounded(count):
    """0.1 mm read alike each time: the mean of binary fractions may miss it by its last digit."""
    with pytest.raises(OutOfValidRange, match="scatter"):
        capability_study(np.full(count, 1.00001e-4), lower=98e-6, upper=102e-6)


@pytest.mark.parametrize("far", [99.0, 101.0, 1e4, 1e9])
def test_an_index_far_out_has_the_interval_of_sigma(far):
    """With limits thousands of sigma away the chi-square interval of sigma (scipy) is all that is left of the doubt."""
    value = np.array([-1.0, 1.0, 0.5, -0.5, 0.2, -0.2])
    found = capability_study(value, upper=3.0 * far * value.std(ddof=1))

    ends = [far * np.sqrt(stats.chi2.ppf(chance, 5) / 5) for chance in (0.025, 0.975)]
    assert found.cpk_interval == pytest.approx(ends, rel=1e-4)
