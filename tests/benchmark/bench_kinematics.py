"""Mean sliding speed over a wafer: closed form against following its points through time, at equal agreement.

The ratio is one at which paths do not close, so that a run must be followed long enough for its last part of a turn
not to count: the length is doubled until the two agree to 1e-6, with twelve steps a turn.
"""

import math
import time

import numpy as np

from lapwright.process.kinematics import Motion, area_mean_speed, mean_relative_speed
from lapwright.process.kinematics_sweep import sliding_distance

REPEATS = 3
AGREEMENT = 1e-6
TURN = 2 * math.pi
MOTION = Motion(offset=0.09, plate_speed=TURN, jig_speed=1.0772 * TURN)
RADII = np.linspace(0.0, 0.05, 11)
NODES, WEIGHTS = np.polynomial.legendre.leggauss(4)
SHARES = 0.5 * (NODES + 1.0)


def rows():
    """The profile over eleven radii, and the mean over the face."""
    closed, face = mean_relative_speed(RADII, MOTION), area_mean_speed(0.05, MOTION)
    long, long_face = _length(_profile, closed), _length(_face, face)
    return [
        _row("mean sliding speed at 11 radii", lambda: mean_relative_speed(RADII, MOTION), _profile, long),
        _row("mean sliding speed over a face", lambda: area_mean_speed(0.05, MOTION), _face, long_face),
    ]


def _profile(duration):
    return sliding_distance(RADII, np.zeros(11), MOTION, duration=duration, time_steps=round(13 * duration)) / duration


def _face(duration):
    slid = sliding_distance(0.05 * SHARES, np.zeros(4), MOTION, duration=duration, time_steps=round(13 * duration))
    return float(np.sum(WEIGHTS * SHARES * slid)) / duration


def _length(follow, closed):
    duration = 100.25
    while not np.max(np.abs(follow(duration) / closed - 1.0)) < AGREEMENT:
        duration *= 2.0
        if duration > 1e5:
            raise AssertionError(f"closed form and integration do not agree to {AGREEMENT:g}")
    return duration


def _row(name, closed, follow, duration):
    ours, reference = _best(closed, 200), _best(lambda: follow(duration), 1)
    conditions = f"reference: {duration:g} s of motion followed, agreeing to {AGREEMENT:g}; best of {REPEATS}"
    return {"name": name, "ours_s": ours, "reference_s": reference, "ratio": ours / reference, "conditions": conditions}


def _best(work, times):
    found = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        for _ in range(times):
            work()
        found.append((time.perf_counter() - start) / times)
    return min(found)
