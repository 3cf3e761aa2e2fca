"""Phase and amplitude of every pixel from several pictures between which the phase was moved.

Known steps: least squares of a constant, a cosine and a sine. Five quarter turns: Hariharan's formula, which forgives
a step that is a little long or short. Unknown steps: two principal components give a start, then steps and phases are
fitted in turn (the advanced iterative scheme of Wang and Han, Opt. Lett. 29 (2004) 1671, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import DidNotConverge, FringesRefused
from lapwright.metrology.fringes.five_frames import five_frame_phase

Array = NDArray[np.float64]
Frames = NDArray[np.float32]
QUARTER = math.pi / 2.0
LEAST_SPREAD = 0.02  # smallest over largest singular value of (1, cos, sin) over the steps


@dataclass(frozen=True)
class Stepped:
    """Wrapped phase [rad], amplitude, background, mean square of what is left (None for three frames), the steps."""

    phase: Frames
    amplitude: Frames
    background: Frames
    left: Frames | None
    steps: Array


def with_known_steps(frames: Frames, steps: Array) -> Stepped:
    """Least squares at every pixel; Hariharan's formula for five quarter turns."""
    n, *shape = frames.shape
    columns = np.stack([np.ones(n), np.cos(steps), -np.sin(steps)], axis=1)
    spread = np.linalg.svd(columns, compute_uv=False)
    if n < 3 or spread[-1] < LEAST_SPREAD * spread[0]:
        raise FringesRefused(
            f"The {n} phase steps lie at too few places of the circle to tell phase from brightness; three well apart "
            "are needed. Step by a quarter of a fringe."
        )
    flat = frames.reshape(n, -1)
    level, cosine, sine = np.linalg.pinv(columns).astype(np.float32) @ flat
    left = None
    if n > 3:
        model = columns.astype(np.float32) @ np.stack([level, cosine, sine])
        left = (np.einsum("ij,ij->j", flat - model, flat - model) / np.float32(n - 3)).reshape(shape)
    phase = np.arctan2(sine, cosine)
    if n == 5 and np.allclose(np.diff(steps), math.copysign(QUARTER, steps[1] - steps[0]), rtol=0.0, atol=1e-9):
        middle = five_frame_phase(flat if steps[1] > steps[0] else flat[::-1])
        phase = _wrapped(middle - steps[2]).astype(np.float32)
    return Stepped(phase.reshape(shape), np.hypot(cosine, sine).reshape(shape), level.reshape(shape), left, steps)


def found_steps(pixels: Array, start: Array | None, *, equal: bool, rounds: int = 200) -> Array:
    """Phase steps [rad] against the first picture, from the intensities (n, m) of a choice of pixels.

    The sense of the steps cannot be told from the pictures: the second step is returned positive.
    """
    steps = _first_steps(pixels) if start is None else start - start[0]
    change = math.inf
    for turn in range(rounds):
        columns = np.stack([np.ones(steps.size), np.cos(steps), -np.sin(steps)], axis=1)
        level, cosine, sine = np.linalg.pinv(columns) @ pixels
        patterns = np.stack([np.ones_like(level), cosine, sine], axis=1)
        parts, *_ = np.linalg.lstsq(patterns.T @ patterns, patterns.T @ pixels.T, rcond=None)
        new = np.unwrap(np.arctan2(-parts[2], parts[1]))
        new -= new[0]
        if equal:
            new = np.arange(new.size) * float(np.polyfit(np.arange(new.size), new, 1)[0])
        change = float(np.max(np.abs(_wrapped(new - steps))))
        steps = new
        if change < 1e-7 and turn > 3:
            break
    if change > 1e-3:
        raise DidNotConverge("The search for the phase steps", steps=rounds, last=change)
    return steps if start is not None or math.sin(steps[1]) >= 0.0 else -steps


# ----------------------------------------------------------------------------------------------------------------------


def _first_steps(pixels: Array) -> Array:
    """Steps from the two principal components of the pictures less their mean (Vargas et al. 2011, from memory)."""
    moved = pixels - pixels.mean(axis=0)
    values, vectors = np.linalg.eigh(moved @ moved.T)
    if values[-2] < 1e-3 * values[-1]:
        raise FringesRefused(
            "The phase hardly moved between the pictures, or by half turns only; unknown steps cannot be found. "
            "Step by a quarter of a fringe."
        )
    cosine, sine = vectors[:, -1] * math.sqrt(values[-1]), vectors[:, -2] * math.sqrt(values[-2])
    steps = np.unwrap(np.arctan2(sine, cosine))
    return np.asarray(steps - steps[0])


def _wrapped(angle: Array) -> Array:
    return np.asarray(np.angle(np.exp(1j * angle)))
