"""Settings classes against the published tables, with the trap that a limit belongs to the finer class."""

import csv
from pathlib import Path

import pytest

from lapwright.library.roughness_settings import setting_classes
from lapwright.metrology.roughness_settings import setting_class_for

LINES = (Path(__file__).parent / "data" / "iso21920_3_cutoffs.csv").read_text(encoding="utf-8").splitlines()
ROWS = list(csv.DictReader(line for line in LINES if not line.startswith("#")))
RULES = {"A": "iso4288", "B": "iso21920"}


def asked(row):
    """Rule, parameter, unit and cutoff [m] of a row."""
    parameter, unit = row["selected_by"].lower().split("_")
    return RULES[row["rule"]], parameter, {"um": 1e-6, "mm": 1e-3}[unit], float(row["lr_mm"]) / 1e3


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['rule']}-{row['selected_by']}-{row['lr_mm']}")
def test_a_limit_belongs_to_the_finer_class(row):
    """Exactly the upper limit gives this cutoff; one part in a thousand more gives the next, or none at the end."""
    rule, parameter, unit, cutoff = asked(row)
    classes = setting_classes(rule, parameter)
    if row["upper_um_or_mm"]:
        upper = float(row["upper_um_or_mm"]) * unit
        assert setting_class_for(upper, selected_by=parameter, rule=rule).cutoff == pytest.approx(cutoff)
        above = setting_class_for(1.001 * upper, selected_by=parameter, rule=rule)
        following = [found.cutoff for found in classes if found.cutoff > 1.01 * cutoff]
        assert (above.cutoff if above else None) == (pytest.approx(following[0]) if following else None)
    lower = float(row["lower_um_or_mm"]) * unit
    assert setting_class_for(1.001 * lower + 1e-15, selected_by=parameter, rule=rule).cutoff == pytest.approx(cutoff)


@pytest.mark.parametrize("value", ["2e-08", "0.02e-6"])
def test_ra_of_20_nm_takes_a_cutoff_of_80_um(value):
    """The trap named in the tables, however the number was written."""
    assert setting_class_for(float(value)).cutoff == pytest.approx(0.08e-3)


def test_the_two_rules_differ_in_rz():
    """Rz 0.13 µm: 0.25 mm by ISO 4288, 0.08 mm by ISO 21920-3."""
    assert setting_class_for(0.13e-6, selected_by="rz", rule="iso4288").cutoff == pytest.approx(0.25e-3)
    assert setting_class_for(0.13e-6, selected_by="rz", rule="iso21920").cutoff == pytest.approx(0.08e-3)


def test_every_row_of_the_table_is_held():
    """As many classes as rows, whatever the rule and the parameter."""
    held = sum(len(setting_classes(rule, by)) for rule in RULES.values() for by in ("ra", "rz", "rsm"))
    assert len(ROWS) == held
