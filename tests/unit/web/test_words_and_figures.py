"""Numbers and names as templates print them."""

import math

import pytest
from django.utils import translation

from lapwright.model.order import Limit

pytestmark = pytest.mark.usefixtures("django")


def filters():
    """The filters, once Django is set up."""
    from lapwright.web.templatetags import lapwright

    return lapwright


def test_a_length_has_its_unit_and_a_true_minus():
    """−1.25 µm is printed with a minus sign and a no-break space."""
    assert filters().um(-1.25e-6, 2) == "\u22121.25\u00a0µm"


def test_a_value_that_is_not_there_is_a_dash():
    """None is not zero."""
    assert filters().um(None) == "–"


def test_noughts_at_the_end_go():
    """2 mm, not 2.0 mm; 50.8 mm stays."""
    assert filters().mm(2e-3) == "2\u00a0mm"
    assert filters().mm(0.0508) == "50.8\u00a0mm"
    assert filters().mm(0.1, 1) == "100\u00a0mm"


@pytest.mark.parametrize(
    ("degrees", "hour"), [(90, 12), (0, 3), (270, 6), (180, 9), (330, 4), (60, 1), (75, 12), (-90, 6)]
)
def test_clock_positions(degrees, hour):
    """12 o'clock is +y, the mark lies at 6; hours run clockwise."""
    assert filters().clock(math.radians(degrees)).startswith(f"{hour} o'clock")


def test_a_direction_just_short_of_a_whole_turn_is_nought():
    """359.7° rounds to 0°, not to 360°."""
    assert filters().clock(math.radians(359.7)) == "3 o'clock (0°)"


def test_a_share_is_never_rounded_to_certainty():
    """99.9 % is not 100 %, and 0.1 % is not 0 %."""
    assert filters().share(0.999) == ">\u00a099\u00a0%"
    assert filters().share(0.001) == "<\u00a01\u00a0%"
    assert filters().share(0.5) == "50\u00a0%"
    assert filters().share(1.0) == "100\u00a0%"


def test_hours_from_sixty_minutes_on():
    """59 min, then hours and minutes."""
    assert filters().minutes(59 * 60) == "59\u00a0min"
    assert filters().minutes(65 * 60) == "1\u00a0h\u00a005\u00a0min"


def test_limits_as_a_person_reads_them():
    """Two sides are a middle and a tolerance, one side is an at-most; roughness is in nm."""
    from lapwright.web.limits import limit_text

    assert limit_text(Limit(quantity="thickness", lower=98e-6, upper=102e-6)) == "100.0 ± 2.0\u00a0µm"
    assert limit_text(Limit(quantity="ttv", upper=2e-6)) == "≤ 2.0\u00a0µm"
    assert limit_text(Limit(quantity="roughness_ra", upper=1e-9)) == "≤ 1.0\u00a0nm"


def test_names_with_one_stem_share_it():
    """Wafers of one order are named in short."""
    from lapwright.model.wafer_names import named_together

    assert named_together(["AP-1-01", "AP-1-02", "AP-1-05"]) == "AP-1-01, -02, -05"
    assert named_together(["AP-1-01", "AP-2-01"]) == "AP-1-01, AP-2-01"
    assert named_together([]) == ""


def test_every_state_moment_and_quantity_has_a_word():
    """No page shows a key of the program."""
    from typing import get_args

    from lapwright.model.job import WaferState
    from lapwright.model.order import Quantity
    from lapwright.model.readings import Moment
    from lapwright.web import words

    assert set(get_args(WaferState)) == set(words.STATES)
    assert set(get_args(Moment)) == set(words.MOMENTS) == set(words.SUBJECTS)
    assert set(get_args(Quantity)) == set(words.QUANTITIES)


@pytest.mark.parametrize(
    ("text", "german"),
    [
        ("load 2.0 → 2.4 kg", "Last 2,0 → 2,4 kg"),
        ("a lost wafer none → 420", "ein verlorener Wafer keine → 420"),
        ("slurry of alumina 0.4 → 0.6", "Suspension aus Aluminiumoxid 0,4 → 0,6"),
        ("abrasive al2o3-9 → al2o3-3", "Läppmittel al2o3-9 → al2o3-3"),
    ],
)
def test_a_change_is_said_in_german(text, german):
    """Word and numbers; names of the library's rows stay. In English it is what the layer below said."""
    from lapwright.web.templatetags.said import changed

    with translation.override("de"):
        assert changed(text) == german
    assert changed(text) == text
