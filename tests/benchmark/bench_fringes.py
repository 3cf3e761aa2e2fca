"""Picture to masked height map on one core, against the plain pipeline and a bare pair of FFTs in the same run.

The pictures are 8-bit, as a camera gives them. A fresh process with one BLAS thread does the measuring. Errors are
rms in fringes against the height that the picture was made from, over the pixels to which both give a height.
"""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
from reference_fringes import plain_height

from lapwright.metrology.fringes import height_from_carrier
from lapwright.sim.fringe_images import Camera, Sample, fringe_picture, smooth_form

ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}
SIDES = (1024, 2048)
FRINGES = (12, 40, 80)
RUNS, REFERENCE_RUNS = 9, 3


def rows():
    """Every size and number of fringes; the ratio is ours over the reference."""
    here = Path(__file__).resolve()
    environment = {**os.environ, **ONE_THREAD}
    found = subprocess.run(
        [sys.executable, str(here)], check=True, capture_output=True, text=True, env=environment, cwd=here.parent
    )
    return json.loads(found.stdout)


def measured():
    """The rows, measured in this process."""
    return [_row(side, fringes) for side in SIDES for fringes in FRINGES]


def _row(side, fringes):
    picture, image = _picture(side, fringes)
    ours, result = _best(lambda: height_from_carrier(image, fringe_height=1.0, pixel_size=1e-4), RUNS)
    reference, plain = _best(lambda: plain_height(image, fringe_height=1.0), REFERENCE_RUNS)
    pair, _ = _best(lambda: np.fft.ifft2(np.fft.fft2(image.astype(float))), RUNS)
    common = np.isfinite(result.height) & np.isfinite(plain) & picture.inside
    conditions = (
        f"one thread, best of {RUNS} (reference {REFERENCE_RUNS}); {reference / ours:.1f} times faster; "
        f"{ours / pair:.2f} times a bare fft2 + ifft2 in float64; rms error {_error(result.height, picture, common):.5f} "
        f"fringe, reference {_error(plain, picture, common):.5f}"
    )
    name = f"fringe picture to height map, {side} x {side}, {fringes} fringes"
    return {"name": name, "ours_s": ours, "reference_s": reference, "ratio": ours / reference, "conditions": conditions}


def _picture(side, fringes):
    generator = np.random.default_rng(fringes)
    sample = Sample(size=0.9)
    height = smooth_form(generator, (side, side), departure=0.7 * min(3.0, fringes / 8.0), sample=sample)
    picture = fringe_picture(
        generator, height, fringe_height=1.0, fringes=fringes, sample=sample, camera=Camera(levels=256)
    )
    return picture, picture.image.astype(np.uint8)


def _error(height, picture, common):
    ny, nx = height.shape
    y, x = np.mgrid[-1.0 : 1.0 : ny * 1j, -1.0 : 1.0 : nx * 1j]
    columns = np.stack([np.ones(height.shape), x, y], axis=-1)[common]
    errors = []
    for sign in (1.0, -1.0):
        error = (sign * height - picture.height)[common]
        plane, *_ = np.linalg.lstsq(columns, error, rcond=None)
        errors.append(float(np.sqrt(np.mean((error - columns @ plane) ** 2))))
    return min(errors)


def _best(work, runs):
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        result = work()
        times.append(time.perf_counter() - start)
    return min(times), result


if __name__ == "__main__":
    json.dump(measured(), sys.stdout)
