"""The job sheet: what is next, with which number, and what may hurt."""

import html
import math
import re
from datetime import UTC, date, datetime

import pytest

from lapwright.errors import BadInput
from lapwright.reports.drawing import StackStep, WheelAdjuster
from lapwright.reports.traveller import NextStep, SheetStep, TravellerData, traveller_html

STACK = (
    StackStep(label="incoming", wafer=500e-6, damage=12e-6, state="done"),
    StackStep(label="coarse lap", wafer=160e-6, carrier=6.0e-3, bond=6.4e-6, damage=14e-6, state="next"),
)
ADJUSTERS = tuple(
    WheelAdjuster(
        azimuth=math.radians(a), correction=c, divisions=d, turn="clockwise" if d > 0 else "counter_clockwise"
    )
    for a, c, d in ((90.0, 2.1e-6, 1.0), (210.0, -4.2e-6, -2.0), (330.0, 2.1e-6, 1.0))
)


def sheet(language="en", **changes):
    """The text of a job sheet."""
    given = {
        "order_id": "AP-2407", "wafer_id": "AP-2407-03", "laboratory": "Auwald Photonics",
        "customer": "Fennbach Filters", "material": "lithium tantalate", "target_thickness": 100e-6, "stack": STACK,
        "steps": (
            SheetStep(label="incoming readings", planned="9 sites × 3", done="499.8 µm", who="R. Sohl",
                      when=datetime(2026, 3, 12, 8, 5, tzinfo=UTC), state="done"),
            SheetStep(label="coarse lap", planned="340 µm", state="next"),
        ),
        "printed": datetime(2026, 3, 13, 7, 0, tzinfo=UTC), "due": date(2026, 3, 24), "simulated": True,
        "next": NextStep(label="Coarse lap on L1", preset=338e-6, preset_datum="first_touch", adjusters=ADJUSTERS,
                         cautions=("Heavy plate: lift with two people.",)),
        "notes": ("Wedge after the bond 1.2 µm.",),
    }  # fmt: skip
    return html.unescape(re.sub(r"<[^>]*>", " ", traveller_html(TravellerData(**{**given, **changes}), language)))


def test_sheet_says_what_is_next_with_its_number_and_zero():
    """Preset, its named zero, the jig's divisions and the caution are on the sheet."""
    text = sheet()
    for piece in ("Coarse lap on L1", "338.0\u00a0µm, counted from first touch", "2.00 divisions", "counter-clockwise"):
        assert piece in text
    assert text.index("Heavy plate") < text.index("Steps")


def test_sheet_of_a_wafer_without_stages_says_so():
    """No table without rows: a sentence says when there will be some."""
    assert "the stages of this wafer begin once it is bonded" in sheet(steps=())


def test_sheet_tells_what_was_done_by_whom_and_when():
    """A done step carries person and time; a planned one has room."""
    text = sheet()
    assert "2026\u201103\u201112\u00a008:05" in text
    assert "Printed 2026\u201103\u201113\u00a007:00 UTC" in text
    assert "R. Sohl" in text
    assert "made by our own simulator" in text


def test_sheet_speaks_german():
    """German words, decimal comma."""
    text = sheet("de")
    assert "338,0\u00a0µm, gezählt ab erster Berührung" in text
    assert "gegen den Uhrzeigersinn" in text
    assert "Laufzettel AP-2407-03" in text


def test_finished_job_has_nothing_next():
    """Without a next step the sheet says so instead of guessing one."""
    assert "Nothing is left to do." in sheet(next=None)


def test_preset_without_its_zero_is_refused():
    """A preset is worth nothing without the zero it counts from."""
    with pytest.raises(BadInput, match="named zero"):
        NextStep(label="lap", preset=1e-4)


def test_names_are_escaped():
    """A tag in a name stays text."""
    given = TravellerData(
        order_id="<b>1</b>", wafer_id="w", laboratory="l", customer="c", material="m", target_thickness=1e-4, stack=(),
        steps=(), printed=datetime(2026, 3, 13, tzinfo=UTC),
    )  # fmt: skip
    assert "<b>" not in traveller_html(given)
