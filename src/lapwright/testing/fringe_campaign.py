"""Seeded fringe pictures by the hundred, each worked back and compared with the height it was made from.

Two families of surfaces: polynomials of degree 2 to 5, and broad hills and hollows with an edge that falls off.
Errors are in fringes, after the least-squares plane of the difference is taken out, since tilt and piston are the
set-up's. The edge band is the outer 3 % of the sample's radius.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import LapwrightError
from lapwright.metrology.fringes import FringeResult, height_from_carrier, height_from_closed, height_from_steps
from lapwright.sim.fringe_images import (
    Camera,
    FringePicture,
    Sample,
    bumpy_form,
    fringe_picture,
    smooth_form,
    stepped_pictures,
    tilt_phase,
    unit_coordinates,
)

PIXEL = 1e-4  # m
WRONG = 0.5  # fringe: an error that only a wrong turn makes


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """How one picture ended: errors in fringes, shares of the sample with a height, or the code of the refusal."""

    seed: int
    fringes: float
    departure: float
    refused: str | None = None
    interior: float = math.nan
    edge: float = math.nan
    worst: float = math.nan
    interior_share: float = math.nan
    edge_share: float = math.nan
    outside: int = 0


def carrier_outcome(seed: int, *, side: int, family: str = "polynomial", camera: Camera | None = None) -> Outcome:
    """One picture with 8 to 80 tilt fringes: departure up to an eighth of them and at most 3, noise 5 %."""
    rng = np.random.default_rng(seed)
    fringes = float(np.exp(rng.uniform(math.log(8.0), math.log(80.0))))
    departure = min(3.0, fringes / 8.0) * rng.uniform(0.3, 1.0)
    sample = Sample(size=rng.uniform(0.6, 0.95), flat=float(rng.choice([0.0, 0.1])))
    height = _form(rng, (side, side), departure, family, sample, narrowest=max(0.3, 3.0 / fringes))
    azimuth = rng.uniform(-math.pi, math.pi)
    picture = fringe_picture(
        rng, height, fringe_height=1.0, fringes=fringes, azimuth=azimuth, sample=sample, camera=camera or Camera()
    )

    def work() -> FringeResult:
        return height_from_carrier(picture.image, fringe_height=1.0, pixel_size=PIXEL, tilt_opens_toward=azimuth)

    return _compared(work, picture, sample, Outcome(seed=seed, fringes=fringes, departure=departure))


def closed_outcome(seed: int, *, side: int, family: str = "polynomial") -> Outcome:
    """One picture of a surface of 2 to 10 fringes under less than two fringes of tilt, noise 5 %."""
    rng = np.random.default_rng(seed)
    departure = float(rng.uniform(2.0, 10.0))
    sample = Sample(size=rng.uniform(0.7, 0.95))
    height = _form(rng, (side, side), departure, family, sample, narrowest=0.5)
    fringes = rng.uniform(0.0, 2.0)
    picture = fringe_picture(
        rng, height, fringe_height=1.0, fringes=fringes, azimuth=rng.uniform(0.0, 6.0), sample=sample
    )

    def work() -> FringeResult:
        return height_from_closed(picture.image, fringe_height=1.0, pixel_size=PIXEL)

    return _compared(work, picture, sample, Outcome(seed=seed, fringes=fringes, departure=departure), either=True)


def steps_outcome(seed: int, *, side: int, noise: float, frames: int = 5, step_error: float = 0.0) -> Outcome:
    """A set of quarter-turn pictures of a surface of 2 fringes under 0 to 20 fringes of tilt."""
    rng = np.random.default_rng(seed)
    sample = Sample(size=rng.uniform(0.7, 0.95))
    height = _form(rng, (side, side), 2.0, "polynomial", sample, narrowest=0.3)
    fringes = rng.uniform(0.0, 20.0)
    phase = tilt_phase((side, side), fringes=fringes, azimuth=rng.uniform(0.0, 6.0), sample=sample)
    phase = phase - 2.0 * math.pi * height
    steps = np.linspace(0.0, (frames - 1) * math.pi / 2.0, frames)
    stack = stepped_pictures(rng, phase, steps * (1.0 + step_error), sample=sample, camera=Camera(noise=noise))
    inside = np.hypot(*unit_coordinates((side, side), sample)) <= 1.0
    picture = FringePicture(image=stack[0], height=height, phase=phase, inside=inside)

    def work() -> FringeResult:
        return height_from_steps(stack, fringe_height=1.0, pixel_size=PIXEL, steps=steps, steps_open_gap=True)

    return _compared(work, picture, sample, Outcome(seed=seed, fringes=fringes, departure=2.0))


def rate_bound(bad: int, tried: int) -> float:
    """Upper 95 % bound on a rate of which `bad` of `tried` were seen (Clopper and Pearson 1934, one-sided)."""
    from scipy.stats import beta

    return 1.0 if bad >= tried else float(beta.ppf(0.95, bad + 1, tried - bad))


# ----------------------------------------------------------------------------------------------------------------------


def _form(
    rng: np.random.Generator, shape: tuple[int, int], departure: float, family: str, sample: Sample, *, narrowest: float
) -> NDArray[np.float64]:
    if family == "polynomial":
        return smooth_form(rng, shape, departure=departure, degree=int(rng.integers(2, 6)), sample=sample)
    roll_off = 0.0 if narrowest >= 0.5 else 0.3
    return bumpy_form(rng, shape, departure=departure, narrowest=narrowest, roll_off=roll_off, sample=sample)


def _compared(
    work: Callable[[], FringeResult], picture: FringePicture, sample: Sample, plain: Outcome, *, either: bool = False
) -> Outcome:
    """The outcome of one analysis; with `either` the map may be upside down."""
    fixed = {"seed": plain.seed, "fringes": plain.fringes, "departure": plain.departure}
    try:
        result = work()
    except LapwrightError as refusal:
        return Outcome(**fixed, refused=refusal.code)  # type: ignore[arg-type]
    u, v = unit_coordinates(picture.height.shape, sample)
    depth = 1.0 - np.hypot(u, v)
    if sample.flat > 0.0:
        depth = np.minimum(depth, v + 1.0 - sample.flat)
    known = np.isfinite(result.height)
    both = known & picture.inside
    inner, edge = picture.inside & (depth > 0.03), picture.inside & (depth <= 0.03)
    error = min(
        (_less_plane(sign * result.height - picture.height, both) for sign in ((1.0, -1.0) if either else (1.0,))),
        key=lambda field: float(np.mean(field[both] ** 2)),
    )
    return Outcome(
        **fixed,  # type: ignore[arg-type]
        interior=_rms(error[both & inner]),
        edge=_rms(error[both & edge]),
        worst=float(np.max(np.abs(error[both]))),
        interior_share=float(known[inner].mean()),
        edge_share=float(known[edge].mean()),
        outside=int(np.count_nonzero(known & ~picture.inside)),
    )


def _less_plane(field: NDArray[np.float64], inside: NDArray[np.bool_]) -> NDArray[np.float64]:
    ny, nx = field.shape
    y, x = np.mgrid[-1.0 : 1.0 : ny * 1j, -1.0 : 1.0 : nx * 1j]
    columns = np.stack([np.ones(field.shape), x, y], axis=-1)
    plane, *_ = np.linalg.lstsq(columns[inside], field[inside], rcond=None)
    return np.asarray(field - columns @ plane)


def _rms(values: NDArray[np.float64]) -> float:
    return float(np.sqrt(np.mean(values**2)))
