"""Imagined rough faces whose true roughness is known, to see whether the stated interval holds it.

Each face has normal heights with a Gaussian autocorrelation; its true Rq after the filter is a sum over its spectrum.
The instrument adds white noise, of which it knows the floor from a finite number of values, and stretches all heights
by a scale error.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lapwright.metrology.filters import gaussian_transmission
from lapwright.metrology.roughness import measured_roughness
from lapwright.metrology.roughness_settings import ProfileInstrument, RoughnessSettings
from lapwright.metrology.roughness_uncertainty import HeightParameter, roughness_uncertainty

SPACING, CUTOFF, SIZE = 1e-6, 80e-6, 1e-8
POINTS, TAKEN = 4096, 560  # of the imagined line, and of what is measured of it: seven sections


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """Autocorrelation length [m], noise of a point and scale error as shares of the roughness, lines taken."""

    length: float = 3e-6
    noise: float = 0.3
    scale_error: float = 0.02
    lines: int = 1
    noise_values: int = 50


def covered(face: Face, generator: np.random.Generator) -> dict[HeightParameter, bool]:
    """Whether the 95 % intervals from the lines of one imagined face hold its true Ra and Rq."""
    frequency = np.fft.rfftfreq(POINTS, SPACING)
    shape = np.exp(-((np.pi * frequency * face.length) ** 2) / 2)
    weight = np.full(frequency.size, 2.0)
    weight[[0, -1]] = 1.0
    passed = 1.0 - np.where(frequency > 0, gaussian_transmission(1 / np.maximum(frequency, 1.0), CUTOFF), 1.0)
    total = float(np.sum(weight * shape**2))
    true = SIZE * math.sqrt(float(np.sum(weight * (shape * passed) ** 2)) / total)
    floor = face.noise * SIZE * math.sqrt(float(np.sum(weight * passed**2)) / POINTS)
    floor *= math.sqrt(generator.chisquare(face.noise_values) / face.noise_values)
    instrument = ProfileInstrument(
        noise=floor, noise_degrees_of_freedom=float(face.noise_values), height_uncertainty=face.scale_error
    )
    scale = 1.0 + face.scale_error * generator.standard_normal()
    taken = []
    for _ in range(face.lines):
        white = np.fft.rfft(generator.standard_normal(POINTS))
        height = SIZE * math.sqrt(POINTS / total) * np.fft.irfft(shape * white)[:TAKEN]
        height = scale * height + face.noise * SIZE * generator.standard_normal(TAKEN)
        settings = RoughnessSettings(cutoff=CUTOFF)
        taken.append(measured_roughness(height, spacing=SPACING, settings=settings, instrument=instrument))
    wanted: dict[HeightParameter, float] = {"ra": true * math.sqrt(2.0 / math.pi), "rq": true}
    held: dict[HeightParameter, bool] = {}
    for parameter, value in wanted.items():
        found = roughness_uncertainty(taken, parameter=parameter).combined
        held[parameter] = found is not None and abs(found.value - value) <= found.expanded_uncertainty
    return held
