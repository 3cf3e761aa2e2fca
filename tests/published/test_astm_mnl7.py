"""Factors of control charts against the table of the manual."""

from pathlib import Path

import pytest

from lapwright.metrology.control_charts import range_factors
from lapwright.testing.tables import published_table

TABLE = published_table(Path(__file__).parent / "data" / "control_chart_constants.csv")


@pytest.mark.parametrize("place", range(24), ids=lambda place: f"astm_mnl7-n{TABLE['n'][place]}")
def test_factors(place):
    """d2, d3 and c4, and what follows: A2, A3, B4, D4, to the five decimals of the table."""
    n = int(TABLE["n"][place])
    found = range_factors(n)
    share = (1.0 - found.c4**2) ** 0.5 / found.c4
    ours = {
        "d2": found.d2, "d3": found.d3, "c4": found.c4, "A2": 3 / (found.d2 * n**0.5), "A3": 3 / (found.c4 * n**0.5),
        "B4": 1 + 3 * share, "D4": 1 + 3 * found.d3 / found.d2,
    }  # fmt: skip
    assert {name: float(TABLE[name][place]) for name in ours} == pytest.approx(ours, abs=1.1e-5)
