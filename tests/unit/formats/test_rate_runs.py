"""Tables of runs: units, order, what is needed, and every fault at once."""

import pytest

from lapwright.errors import BadInput
from lapwright.formats.rate_runs import read_runs

HEAD = "run,material,abrasive,plate,pressure_kpa,speed_m_per_s,rate_um_per_min"
ROW = "A,LiTaO3,sic-jis1000,cast-iron,10,0.5,4.2"


@pytest.fixture
def table(tmp_path):
    """Writes a table and reads it."""

    def read(*lines):
        path = tmp_path / "runs.csv"
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return read_runs(path)

    return read


def faults(table, *lines):
    """Codes and rows of the faults of a table."""
    with pytest.raises(BadInput) as caught:
        table(*lines)
    return [(fault.code, fault.row) for fault in caught.value.faults]


def test_values_are_si_inside(table):
    """10 kPa, 4.2 µm/min, 6.5 h."""
    run = table("# remark", f"{HEAD},pad_age_h,rate_uncertainty_percent", f"{ROW},6.5,2").runs[0]
    assert (run.name, run.conditions.pressure, run.conditions.pad_age) == ("A", 10e3, 23_400.0)
    assert run.removal_rate == pytest.approx(4.2e-6 / 60)
    assert run.rate_uncertainty == pytest.approx(0.02)


def test_a_rate_may_be_removal_and_time_in_other_units(table):
    """30 µm in 600 s are 3 µm/min; the pressure in Pa."""
    run = table("material,abrasive,plate,pressure_pa,speed_m_per_s,removal_um,time_s", "Si,al2o3-9,cast-iron,8000,0.5,30,600").runs[0]  # fmt: skip
    assert run.removal_rate == pytest.approx(3e-6 / 60)
    assert (run.name, run.conditions.pressure) == ("row 2", 8000.0)


def test_an_empty_lot_is_not_known(table):
    """None, not a lot without a name."""
    assert table(f"{HEAD},abrasive_lot", f"{ROW},").runs[0].conditions.abrasive_lot is None


def test_semicolons_and_decimal_commas(table):
    """As a spreadsheet of many countries writes them."""
    lines = (HEAD.replace(",", ";"), "A;LiTaO3;sic-jis1000;cast-iron;10;0,5;4,2")
    assert table(*lines).runs[0].conditions.speed == 0.5


def test_every_fault_of_a_file_is_told(table):
    """An empty pressure, a word for a number, a rate of zero, a short row: four rows, four faults."""
    lines = [HEAD, ROW.replace(",10,", ",,"), ROW.replace("4.2", "fast"), ROW.replace("4.2", "0"), "A,LiTaO3"]
    codes = [("table.empty_cell", 2), ("table.not_a_number", 3), ("rates.value", 4), ("table.ragged", 5)]
    assert faults(table, *lines) == codes


def test_missing_and_unknown_columns(table):
    """No speed, no rate, and a heading that is nearly right, all at once."""
    found = faults(table, "run,material,abrasive,plate,pressure_kpa,abrasiv_lot", "A,LiTaO3,sic-jis1000,cast-iron,10,B")
    assert found == [("table.no_column", None)] * 3


def test_a_rate_in_two_columns_is_refused(table):
    """Which of the two counts cannot be told."""
    assert faults(table, f"{HEAD},rate_nm_per_min", f"{ROW},4200") == [("table.no_column", None)]


def test_runs_must_stand_in_their_order(table):
    """A start before the one above, and one that is no time."""
    rows = [f"{ROW},2026-03-02T10:00", f"{ROW},2026-03-01T10:00", f"{ROW},soon"]
    assert faults(table, f"{HEAD},started", *rows) == [("rates.order", 3), ("rates.time", 4)]


def test_a_table_without_rows(table):
    """A header alone."""
    assert faults(table, HEAD) == [("table.no_rows", None)]
