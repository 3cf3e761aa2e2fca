"""What noise adds to a range."""

import numpy as np
import pytest

from lapwright.metrology.range_bias import expected_range, range_noise_bias, range_weights
from lapwright.metrology.site_patterns import five_sites, line_scan, nine_sites, seventeen_sites
from lapwright.model.wafer import Round

DISC = Round(diameter=0.0508)
SIGMA, REPEATS = 0.5e-6, 3
TIPPETT = {5: 2.326, 9: 2.970, 17: 3.588}  # expected range of n normal values, Tippett 1925


def test_expected_range_of_unequal_values_agrees_with_draws():
    """Means 0, 1, 5 and noise 1, 2, 0.5: against 400 000 seeded draws."""
    means, noise = np.array([0.0, 1.0, 5.0]), np.array([1.0, 2.0, 0.5])
    draws = means + noise * np.random.default_rng(5).standard_normal((400_000, 3))
    assert pytest.approx(float(np.ptp(draws, axis=1).mean()), rel=2e-3) == expected_range(means, noise=noise)


def test_far_apart_ends_gain_nothing():
    """A wedge much larger than the noise: the range of the means."""
    assert pytest.approx(100.0) == expected_range(np.array([0.0, 50.0, 100.0]), noise=np.ones(3))


def test_a_dense_scan_is_bundled_without_harm():
    """2000 sites at once agree with 20 000 seeded draws of them."""
    generator = np.random.default_rng(8)
    means, noise = generator.normal(0.0, 0.5, 2000), np.full(2000, 1.0)
    draws = [float(np.ptp(means + generator.standard_normal(2000))) for _ in range(4000)]
    assert pytest.approx(np.mean(draws), rel=5e-3) == expected_range(means, noise=noise)


def test_no_noise_no_bias():
    """A gauge without scatter opens no range."""
    pattern = nine_sites(DISC)
    assert (
        range_noise_bias(
            pattern.x, pattern.y, np.full(9, 5e-4), noise=np.zeros(9), degrees_of_freedom=18.0, reach=0.0254
        )
        == 0.0
    )


def test_bias_scales_with_the_noise():
    """Twice the noise on an even wafer, twice the bias."""
    pattern = nine_sites(DISC)
    one, two = (
        range_noise_bias(
            pattern.x, pattern.y, np.full(9, 5e-4), noise=np.full(9, noise), degrees_of_freedom=18.0, reach=0.0254
        )
        for noise in (1e-7, 2e-7)
    )
    assert pytest.approx(2.0 * one) == two


def test_sites_on_a_line_have_a_bias_too():
    """No plane is carried, so an even piece is taken: d2(9) = 2.970."""
    line = line_scan(DISC, sites=9)
    bias = range_noise_bias(
        line.x, line.y, np.full(9, 5e-4), noise=np.full(9, 1e-7), degrees_of_freedom=np.inf, reach=0.0254
    )
    assert pytest.approx(2.970e-7, rel=1e-3) == bias


def test_weights_of_a_range_are_plus_and_minus_one():
    """At the two ends, even when all values are equal."""
    assert range_weights(np.zeros(3)).tolist() == [1.0, 0.0, -1.0]


@pytest.mark.parametrize("pattern", [five_sites, nine_sites, seventeen_sites])
def test_corrected_ttv_is_unbiased_on_flat_wafers(pattern):
    """Mean bias below 5 % of the noise of a reading, seeded, three repeats; true mean of the raw range by Tippett."""
    sites = pattern(DISC)
    _, bias = _simulated(sites, wedge=0.0, wafers=700, generator=np.random.default_rng(20))
    raw = TIPPETT[len(sites.x)] * SIGMA / np.sqrt(REPEATS)
    assert abs(raw - np.mean(bias)) < 0.05 * SIGMA


@pytest.mark.parametrize("wedge", [2e-6, 6e-6])
@pytest.mark.parametrize("pattern", [five_sites, nine_sites, seventeen_sites])
def test_corrected_ttv_is_unbiased_on_wedged_wafers(pattern, wedge):
    """Mean bias below 5 % of the noise of a reading, seeded, three repeats, every noise also with its sign changed."""
    error, _ = _simulated(pattern(DISC), wedge=wedge, wafers=250, generator=np.random.default_rng(21))
    assert abs(np.mean(error)) < 0.05 * SIGMA


def _simulated(sites, *, wedge, wafers, generator):
    """Corrected less true TTV, and the bias taken off, of simulated wafers and of the same with the noise negated."""
    count = len(sites.x)
    error, taken_off = [], []
    for azimuth in generator.uniform(0, 2 * np.pi, wafers):
        true = 5e-4 + wedge * (sites.x * np.cos(azimuth) + sites.y * np.sin(azimuth)) / 0.0508
        noise = generator.normal(0.0, SIGMA, (count, REPEATS))
        for readings in (true[:, None] + noise, true[:, None] - noise):
            means = readings.mean(axis=1)
            bias = range_noise_bias(
                sites.x,
                sites.y,
                means,
                noise=np.full(count, np.sqrt(readings.var(axis=1, ddof=1).mean() / REPEATS)),
                degrees_of_freedom=count * (REPEATS - 1.0),
                reach=0.0254,
            )
            error.append(np.ptp(means) - bias - np.ptp(true))
            taken_off.append(bias)
    return error, taken_off
