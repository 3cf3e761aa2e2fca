"""171 published run lengths of CUSUM, EWMA and run rules, row by row."""

from pathlib import Path

import pytest

from lapwright.testing.checks_charts import chart_checks, run_length
from lapwright.testing.tables import published_table

DATA = Path(__file__).parent / "data"
TABLE = published_table(DATA / "arl_tables.csv")
ROWS = range(len(TABLE["source"]))
#: Slips in print, named in the header of the table.
SLIPS = {("lambda=0.5 L=2", 1.25), ("k=0 h=10", -0.25)}


def test_the_whole_table_is_there():
    """171 rows."""
    assert len(ROWS) == 171


@pytest.mark.parametrize(
    "place",
    ROWS,
    ids=lambda place: f"{TABLE['chart'][place]}-{TABLE['parameters'][place]}-{TABLE['shift_sigma'][place]}",
)
def test_row(place):
    """Within 3e-5 of the accurate value, or of half its last printed digit; within 0.9 % of the printed one."""
    parameters, shift = TABLE["parameters"][place], float(TABLE["shift_sigma"][place])
    accurate, computed = TABLE["arl_computed"][place], run_length(TABLE["chart"][place], parameters, shift)
    half = 0.51 * 10.0 ** -len(accurate.partition(".")[2])
    assert float(accurate) == pytest.approx(computed, rel=3e-5, abs=half)
    if (parameters, shift) not in SLIPS:
        assert float(TABLE["arl_published"][place]) == pytest.approx(computed, rel=9e-3)


def test_accurate_values():
    """The values that are known to many digits."""
    checks = [check for check in chart_checks(DATA) if check.key == "run_lengths"]
    assert [check.what for check in checks if check.digits < check.needed] == []


def test_siegmund_approximation_is_within_a_percent():
    """(exp(-2Db) + 2Db - 1)/(2D²) with b = h + 1.166, D = shift - k: 938.2 and 10.34 at k 0.5, h 5."""
    from math import exp

    for shift, printed in ((0.0, 938.2), (1.0, 10.34)):
        b, d = 5.0 + 1.166, shift - 0.5
        approximation = (exp(-2 * d * b) + 2 * d * b - 1) / (2 * d * d)
        assert printed == pytest.approx(approximation, rel=5e-4)
        assert approximation == pytest.approx(run_length("CUSUM one-sided", "k=0.5 h=5", shift), rel=0.01)
