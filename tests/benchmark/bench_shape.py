"""Dense scans against reading them with pandas, and form of a megapixel map against plain least squares."""

import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

from lapwright.metrology.flatness import minimum_zone_flatness
from lapwright.metrology.shape import measured_shape
from lapwright.metrology.shape_grid import Aperture, grid_axes
from lapwright.metrology.shape_scan import local_variation, robust_surface
from lapwright.metrology.shape_sites import SiteGrid, site_flatness
from lapwright.metrology.zernike import zernike_fit

REPEATS = 3
RADIUS = 0.05


def rows():
    """Scans of 10⁴, 10⁵ and 10⁶ points; form, Zernike terms, sites and minimum zone of a 1024² map."""
    return [_scan(points) for points in (10_000, 100_000, 1_000_000)] + _map_rows()


def _scan(points):
    generator = np.random.default_rng(1)
    radius, angle = RADIUS * np.sqrt(generator.uniform(size=points)), generator.uniform(0, 2 * np.pi, points)
    x, y = radius * np.cos(angle), radius * np.sin(angle)
    thickness = 5e-4 + 1e-6 * x / RADIUS + 5e-8 * generator.normal(size=points)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "scan.csv"
        table = {"x_mm": (1e3 * x).round(4), "y_mm": (1e3 * y).round(4), "thickness_um": (1e6 * thickness).round(3)}
        pd.DataFrame(table).to_csv(path, index=False)
        parse = _best(lambda: pd.read_csv(path))

    def work():
        robust_surface(x, y, thickness, reach=RADIUS)
        local_variation(x, y, thickness, side=10e-3)

    work()
    return _row(
        f"robust surface and worst square of a scan of {points:_} points", _best(work), parse, "pandas.read_csv"
    )


def _map_rows():
    pixel = 0.1e-3
    x, y = grid_axes((1024, 1024), pixel_size=(pixel, pixel))
    square = (x / RADIUS) ** 2 + (y[:, None] / RADIUS) ** 2
    noise = 1e-8 * np.random.default_rng(2).normal(size=square.shape)
    height = np.where(square <= 1.0, -1e-6 * square + noise, np.nan)
    disc = Aperture(radius=RADIUS)
    told = {"pixel_size": (pixel, pixel), "aperture": disc}
    known = np.isfinite(height)
    rows_, columns = np.nonzero(known)
    px, py, z = x[columns], y[rows_], height[known]
    terms = np.column_stack((np.ones_like(px), px, py, px**2 + py**2, px**2 - py**2, px * py))
    plain = _best(lambda: np.linalg.lstsq(terms, z, rcond=None))
    work = {
        "form (plane, power, astigmatism)": lambda: measured_shape(height, **told),
        "22 Zernike terms": lambda: zernike_fit(height, terms=22, **told),
        "site flatness, 10 mm sites": lambda: site_flatness(height, sites=SiteGrid(width=0.01, height=0.01), **told),
        "minimum zone": lambda: minimum_zone_flatness(px, py, z),
    }
    reference = "numpy.linalg.lstsq of six terms"
    return [_row(f"{name} of a 1024² map", _best(job), plain, reference) for name, job in work.items()]


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
