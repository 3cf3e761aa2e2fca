"""Gaussian mean line against the transmission table of the standard, and against scipy's Gaussian."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, gaussian_filter1d

from lapwright.metrology.filters import gaussian_mean_line, gaussian_transmission
from lapwright.metrology.filters_areal import gaussian_mean_surface

LINES = (Path(__file__).parent / "data" / "iso16610_21_transmission.csv").read_text(encoding="utf-8").splitlines()
TABLE = [(float(a), float(b)) for a, b, _ in list(csv.reader(line for line in LINES if not line.startswith("#")))[1:]]
CUTOFF, SPACING = 0.8e-3, 2e-6
SIGMA = math.sqrt(math.log(2.0) / math.pi) / math.sqrt(2.0 * math.pi)  # of the cutoff


def amplitude(height, wavelength, inner):
    """Amplitude of a wave of known length, by least squares away from the ends."""
    phase = 2 * np.pi * np.arange(height.size) * SPACING / wavelength
    terms = np.column_stack((np.sin(phase), np.cos(phase)))[inner]
    return float(np.hypot(*np.linalg.lstsq(terms, height[inner], rcond=None)[0]))


@pytest.mark.parametrize(("ratio", "mean_line"), TABLE, ids=[f"lambda/lc={a:g}" for a, _ in TABLE])
def test_a_wave_is_transmitted_as_tabulated(ratio, mean_line):
    """A sampled sine through the filter: 1e-4 of its amplitude (0.1 of a cutoff still has 40 points a period)."""
    wavelength = ratio * CUTOFF
    wave = np.sin(2 * np.pi * np.arange(12000) * SPACING / wavelength)
    line = gaussian_mean_line(wave, spacing=SPACING, cutoff=CUTOFF)

    assert amplitude(line, wavelength, slice(500, -500)) == pytest.approx(mean_line, abs=1e-4)
    assert amplitude(wave - line, wavelength, slice(500, -500)) == pytest.approx(1.0 - mean_line, abs=1e-4)


@pytest.mark.parametrize(("ratio", "mean_line"), TABLE)
def test_the_closed_form_is_the_table(ratio, mean_line):
    """2^-(lc/lambda)²: the table rounds to eight decimals, its lengths to six."""
    assert float(gaussian_transmission(ratio, 1.0)) == pytest.approx(mean_line, abs=2e-8)


def test_scipy_gives_the_same_line_away_from_the_ends():
    """gaussian_filter1d with sigma = 0.1873906 of the cutoff."""
    noise = np.random.default_rng(1).normal(size=5000)
    ours = gaussian_mean_line(noise, spacing=SPACING, cutoff=CUTOFF)
    theirs = gaussian_filter1d(noise, SIGMA * CUTOFF / SPACING, truncate=6.0)

    assert pytest.approx(0.1873906, abs=5e-8) == SIGMA
    assert np.allclose(ours[450:-450], theirs[450:-450], atol=2e-6 * theirs.std())


def test_scipy_gives_the_same_surface_away_from_the_borders():
    """gaussian_filter with sigma = 0.1873906 of the cutoff along both axes."""
    noise = np.random.default_rng(1).normal(size=(160, 200))
    ours = gaussian_mean_surface(noise, pixel_size=(1e-6, 1e-6), cutoff=40e-6)
    theirs = gaussian_filter(noise, SIGMA * 40.0, truncate=6.0)

    assert np.allclose(ours[45:-45, 45:-45], theirs[45:-45, 45:-45], atol=2e-6 * theirs.std())
