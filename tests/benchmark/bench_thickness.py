"""Statistics of 10 000 wafers of 17 sites in one call, against plain NumPy in the same run.

Two references: a loop over wafers with `numpy.linalg.lstsq`, as a script would have it, and the barest vectorised
form (one pseudo-inverse for all, no missing sites, no checks), as fast as NumPy can be.
"""

import time

import numpy as np

from lapwright.metrology.plane_statistics import plane_statistics
from lapwright.metrology.site_patterns import seventeen_sites
from lapwright.metrology.thickness import thickness_statistics
from lapwright.model.readings import Gauge, ThicknessSet
from lapwright.model.wafer import Round

WAFERS, DIAMETER, RUNS = 10_000, 0.1, 5
SITES = seventeen_sites(Round(diameter=DIAMETER))


def rows():
    """One call against the loop, against bare vectors, the same with missing sites, and one full result."""
    generator = np.random.default_rng(1)
    thickness = (
        5e-4 + generator.normal(0.0, 1e-6, (WAFERS, 17)) + 1e-4 * np.outer(generator.normal(size=WAFERS), SITES.x)
    )
    holes = np.where(generator.uniform(size=thickness.shape) < 0.05, np.nan, thickness)
    loop, vectors = _seconds(lambda: _loop(thickness), runs=1), _seconds(lambda: _vectors(thickness))
    ours = _seconds(lambda: plane_statistics(thickness, SITES.x, SITES.y, diameter=DIAMETER))
    with_holes = _seconds(lambda: plane_statistics(holes, SITES.x, SITES.y, diameter=DIAMETER))
    full = _seconds(lambda: _full(generator))
    size = f"{WAFERS} wafers x 17 sites, best of {RUNS}"
    return [
        _row("17-site statistics, one call; reference: loop over lstsq", ours, loop, size),
        _row("17-site statistics, one call; reference: bare vectorised numpy", ours, vectors, size),
        _row("17-site statistics with missing sites; reference: loop over lstsq", with_holes, loop, size),
        _row("one wafer with uncertainties, bias and outliers; reference: lstsq of one", full, loop / WAFERS, "17 x 3"),
    ]


def _loop(thickness):
    terms = np.column_stack((np.ones(17), SITES.x, SITES.y))
    results = []
    for wafer in thickness:
        (_, a, b), squares, *_ = np.linalg.lstsq(terms, wafer, rcond=None)
        results.append(
            (
                wafer.mean(),
                wafer.min(),
                wafer.max(),
                np.ptp(wafer),
                DIAMETER * np.hypot(a, b),
                np.arctan2(b, a),
                squares,
            )
        )
    return results


def _vectors(thickness):
    terms = np.column_stack((np.ones(17), SITES.x, SITES.y))
    fitted = thickness @ np.linalg.pinv(terms).T
    residual = thickness - fitted @ terms.T
    return (
        thickness.mean(axis=1),
        thickness.min(axis=1),
        thickness.max(axis=1),
        np.ptp(thickness, axis=1),
        DIAMETER * np.hypot(fitted[:, 1], fitted[:, 2]),
        np.arctan2(fitted[:, 2], fitted[:, 1]),
        np.sqrt((residual**2).sum(axis=1) / 14),
    )


def _full(generator):
    taken = ThicknessSet(
        piece="w",
        labels=SITES.labels,
        x=SITES.x,
        y=SITES.y,
        site=np.repeat(np.arange(17), 3),
        thickness=5e-4 + generator.normal(0.0, 3e-7, 51),
    )
    gauge = Gauge(gauge_id="g", name="g", limit=1e-6, local=0.3e-6)
    return thickness_statistics(taken, outline=Round(diameter=DIAMETER), gauge=gauge)


def _seconds(call, *, runs=RUNS):
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


def _row(name, ours, reference, conditions):
    return {"name": name, "ours_s": ours, "reference_s": reference, "ratio": ours / reference, "conditions": conditions}
