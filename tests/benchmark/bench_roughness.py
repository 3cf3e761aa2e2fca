"""Roughness of a profile of a million points with all parameters, as a multiple of one Fourier transform of its length."""

import time

import numpy as np

from lapwright.metrology.roughness import chosen_roughness, measured_roughness, settings_for_cutoff
from lapwright.metrology.roughness_areal import ArealSettings, measured_areal_roughness

POINTS = 1_000_000
SPACING = 0.5e-6
REPEATS = 5


def rows():
    """All sections at a stated cutoff, the automatic choice, the other filters, and a map of a megapixel."""
    generator = np.random.default_rng(1)
    height = 1e-7 * generator.normal(size=POINTS) + 1e-6 * np.sin(2 * np.pi * np.arange(POINTS) * SPACING / 1e-4)
    measured_roughness(height[:20_000], spacing=SPACING)  # loads what is loaded once
    transform = _best(lambda: np.fft.fft(height))
    work = {
        "Gaussian, all 623 sections": lambda: measured_roughness(
            height, spacing=SPACING, settings=_settings("gaussian")
        ),
        "automatic choice of the cutoff": lambda: chosen_roughness(height, spacing=SPACING),
        "spline, all sections": lambda: measured_roughness(height, spacing=SPACING, settings=_settings("spline")),
        "robust Gaussian, all sections": lambda: measured_roughness(
            height, spacing=SPACING, settings=_settings("robust_gaussian")
        ),
    }
    found = [_row(f"roughness of 10⁶ points: {name}", _best(job), transform, "one FFT of 10⁶ points")
             for name, job in work.items()]  # fmt: skip
    texture = generator.normal(size=(1024, 1024))
    areal = _best(
        lambda: measured_areal_roughness(texture, pixel_size=(1e-6, 1e-6), settings=ArealSettings(cutoff=8e-5))
    )
    plane = _best(lambda: np.fft.fft2(texture))
    return [
        *found,
        _row("areal roughness of 1024², cutoff 80 pixels, all parameters", areal, plane, "one FFT of 1024²"),
    ]


def _settings(filter_kind):
    return settings_for_cutoff(0.8e-3, spacing=SPACING, sections=None, filter_kind=filter_kind)


def _best(work):
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def _row(name, ours, reference, what):
    conditions = f"reference: {what}; best of {REPEATS}"
    return {"name": name, "ours_s": ours, "reference_s": reference, "ratio": ours / reference, "conditions": conditions}
