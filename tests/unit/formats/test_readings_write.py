"""Written readings files: what they look like, and what is refused."""

import io

import numpy as np
import pytest

from lapwright.errors import BadInput, OutOfValidRange, UnitError
from lapwright.formats.faults import FaultList
from lapwright.formats.readings_write import write_readings
from lapwright.model.readings import Conditions, ThicknessSet


def _set(**more):
    return ThicknessSet(
        piece="W1", labels=("a", "b"), x=np.array([0.0, 0.0105]), y=np.array([0.0, 0.0]), site=np.array([0, 1, 0]),
        thickness=np.array([500.1, np.nan, 500]) / 1e6, **more,
    )  # fmt: skip


def _written(*sets, **options):
    stream = io.StringIO()
    write_readings(stream, sets, **options)
    return stream.getvalue()


def test_a_plain_set_is_written_plainly():
    """Numbers that were entered in µm come out as short as they were; an empty cell for what was not measured."""
    assert _written(_set()) == (
        "wafer,site,x_mm,y_mm,thickness_um,repeat\nW1,a,0,0,500.1,1\nW1,b,10.5,0,,1\nW1,a,0,0,500,2\n"
    )


def test_further_columns_appear_only_when_a_set_fills_them():
    """Conditions, gauge and operator."""
    conditions = Conditions(
        hold="clamped", soaked=False, temperature=294.15, zero_before=0.1 / 1e6, zero_after=0.2 / 1e6
    )
    head, row, *_ = _written(_set(gauge="G", operator="mw", conditions=conditions)).splitlines()
    assert head.endswith("repeat,gauge,operator,hold,soaked,temperature_c,zero_before_um,zero_after_um")
    assert row == "W1,a,0,0,500.1,1,G,mw,clamped,no,21,0.1,0.2"


def test_the_unit_and_the_signs_can_be_chosen():
    """Mil for a shop that works in mil; semicolons and decimal commas for its spreadsheet."""
    text = _written(_set(), unit="mm", separator=";", decimal=",")
    lines = text.splitlines()
    assert (lines[0], lines[3]) == ("wafer;site;x_mm;y_mm;thickness_mm;repeat", "W1;a;0;0;0,5;2")


def test_what_could_not_be_read_back_is_refused():
    """A decimal comma among commas, a unit that is no length."""
    with pytest.raises(OutOfValidRange):
        _written(_set(), decimal=",")
    with pytest.raises(UnitError):
        _written(_set(), unit="kg")


def test_a_fault_list_raises_in_the_order_of_rows_or_not_at_all():
    """Empty: nothing to raise."""
    faults = FaultList("f")
    faults.settle()
    faults.add("b", code="x", row=7)
    faults.add("a", code="x", row=3)
    with pytest.raises(BadInput, match="f has 2 faults; the first: a") as caught:
        faults.settle()
    assert [fault.row for fault in caught.value.faults] == [3, 7]
