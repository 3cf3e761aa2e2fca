"""Roughness of simple profiles and maps: exact closed forms."""

import math

import numpy as np
import pytest

from lapwright.metrology.roughness import measured_roughness
from lapwright.metrology.roughness_areal import areal_parameters
from lapwright.metrology.roughness_parameters import profile_parameters
from lapwright.metrology.roughness_settings import RoughnessSettings

A = 1e-6
N = 1000  # points a period
PERIODS = 20
TURN = 2 * np.pi * (np.arange(N * PERIODS) + 0.5) / N
SHARE = (np.arange(N * PERIODS) + 0.5) / N % 1.0


def triangle():
    """Between −A and A."""
    return A * (4 * np.abs(SHARE - 0.5) - 1)


def pulse(duty):
    """Height A, mean taken out."""
    return A * ((duty > SHARE) - duty)


U = 2 * SHARE - 1
PROFILES = {
    "sine": (A * np.sin(TURN), 2 / math.pi, 1 / math.sqrt(2), 0.0, 1.5, 2.0),
    "triangle": (triangle(), 0.5, 1 / math.sqrt(3), 0.0, 1.8, 2.0),
    "sawtooth": (A * U, 0.5, 1 / math.sqrt(3), 0.0, 1.8, 2.0),
    "square": (A * np.sign(np.sin(TURN)), 1.0, 1.0, 0.0, 1.0, 2.0),
    "pulse 0.25": (pulse(0.25), 0.375, 0.4330127, 1.1547005, 2.3333333, 1.0),
    "pulse 0.1": (pulse(0.1), 0.18, 0.3, 8 / 3, 0.73 / 0.09, 1.0),
    "parabola": (A * (U**2 - 1 / 3), 0.2566001, 0.2981424, 0.6388766, 15 / 7, 1.0),
    "full-wave sine": (A * (np.abs(np.sin(TURN / 2)) - 2 / np.pi), 0.2680343, 0.3077585, -0.4971600, 1.9315348, 1.0),
}


@pytest.mark.parametrize("name", PROFILES)
def test_height_parameters_of_simple_profiles(name):
    """Ra, Rq, Rsk, Rku, Rz = Rt over whole periods, 1e-3 (peaks fall half a step beside a sample)."""
    height, ra, rq, rsk, rku, rz = PROFILES[name]
    found = profile_parameters(height, spacing=1e-6)

    assert found.ra == pytest.approx(ra * A, rel=1e-4)
    assert found.rq == pytest.approx(rq * A, rel=1e-4)
    assert found.rsk == pytest.approx(rsk, abs=1e-4)
    assert found.rku == pytest.approx(rku, rel=1e-4)
    assert found.rz == pytest.approx(rz * A, rel=2.1e-3)
    assert found.rt == pytest.approx(rz * A, rel=2.1e-3)


def test_slope_and_spacing_of_a_sine():
    """Rdq = √2 π A/λ (three points at each end have no slope: 2e-4); Rsm = λ."""
    spacing = 1e-6
    found = profile_parameters(A * np.sin(TURN), spacing=spacing)

    assert found.rdq == pytest.approx(4.442883 * A / (N * spacing), rel=2e-4)
    assert found.rsm == pytest.approx(N * spacing, rel=1e-9)


def test_core_of_evenly_spread_heights_is_all_of_them():
    """A sawtooth has a straight material ratio curve: Rk = its height, no peaks, no valleys."""
    core = profile_parameters(A * U, spacing=1e-6).core

    assert core.rk == pytest.approx(2 * A, rel=2e-3)
    assert core.rpk == pytest.approx(0.0, abs=2e-3 * A)
    assert core.rvk == pytest.approx(0.0, abs=2e-3 * A)


def test_normal_heights():
    """Ra/Rq = √(2/π), Rsk 0, Rku 3, to four standard errors of 400 000 draws."""
    heights = np.random.default_rng(7).normal(size=400_000)
    found = profile_parameters(heights, spacing=1.0)
    error = 4 / math.sqrt(heights.size)

    assert found.ra / found.rq == pytest.approx(0.797885, abs=error)
    assert found.rsk == pytest.approx(0.0, abs=math.sqrt(6) * error)
    assert found.rku == pytest.approx(3.0, abs=math.sqrt(24) * error)


@pytest.mark.parametrize(("ratio", "kept"), [(0.5, 0.9375), (0.8, 0.661436), (1.0, 0.5), (2.0, 0.159104)])
def test_a_sine_keeps_of_its_ra_what_the_filter_lets_through(ratio, kept):
    """Through the whole chain: form, cutoff, run-up, evaluation; Ra = 2A/π times the share, 2e-3."""
    spacing, cutoff = 1e-6, 0.8e-3
    places = np.arange(round(11 * cutoff / spacing)) * spacing
    wave = A * np.sin(2 * np.pi * places / (ratio * cutoff))
    settings = RoughnessSettings(cutoff=cutoff, sections=8)
    found = measured_roughness(wave, spacing=spacing, settings=settings).parameters

    assert found.ra == pytest.approx(kept * A * 2 / math.pi, rel=2e-3)


def test_egg_box():
    """A sin x sin y: Sa 4A/π², Sq A/2, Ssk 0, Sku 2.25, Sz 2A, Sdq = k A/√2, Sdr ≈ Sdq²/2; Sal (3 %: whole waves overlap nowhere)."""
    steps, pixel = 2 * np.pi * (np.arange(400) + 0.5) / 80, 1e-6
    found = areal_parameters(A * np.outer(np.sin(steps), np.sin(steps)), pixel_size=(pixel, pixel))
    slope = 2 * np.pi / (80 * pixel) * A / math.sqrt(2)

    assert found.sa == pytest.approx(0.4052847 * A, rel=6e-4)
    assert found.sq == pytest.approx(A / 2, rel=1e-9)
    assert found.ssk == pytest.approx(0.0, abs=1e-9)
    assert found.sku == pytest.approx(2.25, rel=1e-6)
    assert found.sz == pytest.approx(2 * A, rel=2e-3)
    assert found.sdq == pytest.approx(slope, rel=1e-2)
    assert found.sdr == pytest.approx(slope**2 / 2, rel=2e-2)
    assert found.sal == pytest.approx(math.acos(0.2) / (2 * math.pi) * 80 * pixel, rel=0.03)


def test_dome():
    """A dome h r²/R² on a disc: Sa h/4, Sq h/√12, Ssk 0, Sku 1.8; 1e-3 on a masked grid of 401."""
    axis = np.linspace(-1, 1, 401)
    square = axis**2 + axis[:, None] ** 2
    found = areal_parameters(np.where(square <= 1, A * square, np.nan), pixel_size=(1e-6, 1e-6))

    assert found.sa == pytest.approx(A / 4, rel=1e-3)
    assert found.sq == pytest.approx(A / math.sqrt(12), rel=1e-3)
    assert found.ssk == pytest.approx(0.0, abs=2e-3)
    assert found.sku == pytest.approx(1.8, rel=1e-3)
