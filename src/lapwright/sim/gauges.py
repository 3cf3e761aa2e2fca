"""Gauges that read the truth wrongly in the ways gauges do.

A reading is the truth, plus an offset common to all readings of the gauge, plus what the stand grew since it was
zeroed, plus an error that belongs to the site, plus noise, rounded to the resolution. The offset is removed by
zeroing only as far as the zero reading shows it; a scale error is left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lapwright.sim.fields import Array, Field


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueGauge:
    """A gauge and its true faults: lengths in m, growth in m/K, standard deviations for noise and site error."""

    gauge_id: str
    noise: float
    resolution: float
    offset: float = 0.0
    growth: float = 0.0
    site_noise: float = 0.0
    contact: bool = True


def drop_gauge(gauge_id: str, *, offset: float, growth: float = 0.0, noise: float = 0.35e-6) -> TrueGauge:
    """A drop gauge on a stand: reads tenths of a micrometre, grows with the room when its stand does."""
    return TrueGauge(gauge_id=gauge_id, noise=noise, resolution=0.1e-6, offset=offset, growth=growth)


def non_contact_gauge(gauge_id: str, *, offset: float, noise: float = 0.12e-6) -> TrueGauge:
    """A pair of non-contact probes: reads hundredths, does not grow, has a small error of its own at each site."""
    return TrueGauge(
        gauge_id=gauge_id, noise=noise, resolution=0.01e-6, offset=offset, site_noise=0.03e-6, contact=False
    )


def readings(
    gauge: TrueGauge,
    truth: Array,
    *,
    rng: np.random.Generator,
    repeats: int = 1,
    warmed: ArrayLike = 0.0,
    hand: float = 0.0,
) -> Array:
    """What the gauge shows at sites of true thickness, shape (repeats, n) in the order read [m].

    `warmed` is how much warmer [K] the stand is than when it was zeroed, one value or one per reading; `hand` is what
    the person at the gauge adds to every reading [m].
    """
    shape = (repeats, truth.shape[0])
    site_error = gauge.site_noise * rng.standard_normal(truth.shape[0])
    noise = gauge.noise * rng.standard_normal(shape)
    grown = gauge.growth * np.asarray(warmed, dtype=np.float64)
    return shown(gauge, truth + gauge.offset + hand + site_error + grown + noise)


def field_readings(
    gauge: TrueGauge,
    field: Field,
    sites: tuple[Array, Array],
    *,
    rng: np.random.Generator,
    repeats: int = 1,
    warmed: ArrayLike = 0.0,
    hand: float = 0.0,
) -> Array:
    """Readings of a true field at sites (x, y) [m], shape (repeats, n)."""
    return readings(gauge, field.at(*sites), rng=rng, repeats=repeats, warmed=warmed, hand=hand)


def zero_reading(gauge: TrueGauge, *, rng: np.random.Generator, warmed: float = 0.0, beats: int = 9) -> float:
    """What the gauge shows on its bare stand [m], the mean of a few touches.

    The gauge was set to zero there when the stand was `warmed` = 0, so its offset does not show.
    """
    noise = gauge.noise * rng.standard_normal(beats)
    return float(shown(gauge, np.asarray(np.mean(noise) + gauge.growth * warmed)))


def shown(gauge: TrueGauge, value: Array) -> Array:
    """Values rounded to what the gauge can show."""
    steps = np.round(value / gauge.resolution)
    return np.asarray(steps * gauge.resolution, dtype=np.float64)
