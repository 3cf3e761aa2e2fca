"""The expected range of normal values, d2(n), against the published table."""

import csv
from pathlib import Path

import numpy as np
import pytest

from lapwright.metrology.range_bias import expected_range, range_noise_bias
from lapwright.metrology.site_patterns import named_pattern
from lapwright.metrology.thickness import thickness_statistics
from lapwright.model.readings import Gauge, ThicknessSet
from lapwright.model.wafer import Round

DATA = Path(__file__).parent / "data" / "tippett1925_d2.csv"
ROWS = list(csv.DictReader(line for line in DATA.read_text(encoding="utf-8").splitlines() if not line.startswith("#")))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"tippett1925-n{row['n']}")
def test_expected_range_is_d2(row):
    """To the fifth decimal."""
    count = int(row["n"])
    assert float(row["d2"]) == pytest.approx(expected_range(np.zeros(count), noise=np.ones(count)), abs=1.1e-5)


@pytest.mark.parametrize(("name", "count"), [("five", 5), ("nine", 9), ("thirteen", 13), ("seventeen", 17)])
def test_bias_of_ttv_is_d2_times_the_noise_on_even_wafers(name, count):
    """Mean bias taken off 400 seeded even wafers, noise 0.3 µm known: d2(n) 0.3 µm within four standard errors."""
    disc = Round(diameter=0.1)
    pattern = named_pattern(name, disc)
    generator = np.random.default_rng(1925)
    bias = np.array(
        [
            range_noise_bias(
                pattern.x,
                pattern.y,
                5e-4 + generator.normal(0.0, 0.3e-6, count),
                noise=np.full(count, 0.3e-6),
                degrees_of_freedom=np.inf,
                reach=0.05,
            )
            for _ in range(400)
        ]
    )
    d2 = next(float(row["d2"]) for row in ROWS if int(row["n"]) == count)
    assert pytest.approx(d2 * 0.3e-6, abs=4.0 * bias.std() / 20.0) == bias.mean()


def test_an_even_wafer_shows_its_bias():
    """Nine sites that read all the same, 0.5 µm of repeatability: within a tenth of d2(9) 0.5 = 1.485 µm."""
    disc = Round(diameter=0.1)
    pattern = named_pattern("nine", disc)
    taken = ThicknessSet(
        piece="w", labels=pattern.labels, x=pattern.x, y=pattern.y, site=np.arange(9), thickness=np.full(9, 5e-4)
    )
    gauge = Gauge(gauge_id="g", name="g", limit=1e-6, repeatability=0.5e-6)
    result = thickness_statistics(taken, outline=disc, gauge=gauge)
    assert pytest.approx(2.97003 * 0.5e-6, rel=0.1) == result.ttv_noise_bias
