"""The number to dial in, and the guard on its zero."""

import math

import pytest

from lapwright.errors import BadInput, OutOfValidRange, TooFewSites
from lapwright.process.preset import Heights, preset_travel, voided_by, zero_guard


def um(length):
    """Micrometres."""
    return round(length * 1e6, 6)


def test_first_touch_counts_from_where_they_meet():
    """Stack touches at 2517 um, centre wanted at 2110 um, 1.5 um allowance: 405.5 um."""
    preset = preset_travel("first_touch", heights=Heights(contact=2517e-6, target=2110e-6), allowance=1.5e-6)

    assert um(preset.travel) == 405.5
    assert um(sum(length for _, length in preset.contains)) == um(preset.travel)


def test_a_conforming_face_counts_its_removal():
    """Removal 30 um less 2 um."""
    assert um(preset_travel("conforming", removal=30e-6, allowance=2e-6).travel) == 28.0


def test_a_reference_block_counts_from_its_height():
    """Block 2500 um, centre wanted at 2110 um, 1 um allowance; a block lower than the target gives a negative travel."""
    assert (
        um(preset_travel("reference_block", heights=Heights(block=2500e-6, target=2110e-6), allowance=1e-6).travel)
        == 389
    )
    low = preset_travel("reference_block", heights=Heights(block=2100e-6, target=2110e-6), allowance=1e-6)
    assert um(low.travel) == -11.0


def test_the_preset_changes_when_the_zero_does():
    """The same cut from first touch of a wedged wafer is half the wedge longer than from the conforming face."""
    wedge, removal = 6e-6, 40e-6
    touch = preset_travel("first_touch", heights=Heights(contact=500e-6 + wedge / 2, target=460e-6), allowance=1e-6)
    lapped = preset_travel("conforming", removal=removal, allowance=1e-6)

    assert um(touch.travel - lapped.travel) == um(wedge / 2)


@pytest.mark.parametrize(
    ("datum", "given", "field"),
    [
        ("conforming", {}, "removal"),
        ("first_touch", {}, "heights"),
        ("first_touch", {"heights": Heights(target=1e-3)}, "contact"),
        ("reference_block", {"heights": Heights(target=1e-3, contact=2e-3)}, "block"),
        ("conforming", {"removal": 1e-6}, "allowance"),
    ],
)
def test_what_is_missing_is_named(datum, given, field):
    """A part the zero needs, or an allowance that leaves nothing."""
    with pytest.raises(BadInput) as caught:
        preset_travel(datum, allowance=2e-6, **given)
    assert [fault.field for fault in caught.value.faults] == [field]


def test_a_negative_allowance_is_refused():
    """It would take more than was asked."""
    with pytest.raises(OutOfValidRange):
        preset_travel("conforming", removal=1e-5, allowance=-1e-6)


def test_a_quiet_zero_is_accepted():
    """Three readings within 0.4 um of each other."""
    check = zero_guard([0.1e-6, -0.2e-6, 0.2e-6], spread_limit=1e-6)

    assert check.accepted
    assert um(check.zero) == 0.1
    assert um(check.spread) == 0.4


def test_a_slurry_film_that_is_squeezed_out_is_refused():
    """4 um of film under the foot at the first reading, less at the next: the spread shows it."""
    check = zero_guard([4.0e-6, 1.8e-6, 0.2e-6], spread_limit=1e-6)

    assert not check.accepted
    assert "Wipe" in check.reason


def test_a_slurry_film_that_stays_is_refused_against_the_zero_expected():
    """All three readings 4 um up: quiet, but 4 um from what plate and foot gave before."""
    readings = [4.1e-6, 3.9e-6, 4.0e-6]

    assert zero_guard(readings, spread_limit=1e-6).accepted
    refused = zero_guard(readings, spread_limit=1e-6, expected=0.0)
    assert not refused.accepted
    assert um(refused.shift) == 4.0


def test_a_zero_needs_three_readings_that_are_numbers():
    """Two are too few; one that is not measured is named."""
    with pytest.raises(TooFewSites):
        zero_guard([0.0, 0.0], spread_limit=1e-6)
    with pytest.raises(BadInput) as caught:
        zero_guard([0.0, math.nan, 0.0], spread_limit=1e-6)
    assert caught.value.faults[0].row == 2


@pytest.mark.parametrize(
    "event", ["adjusters_moved", "plate_changed", "abrasive_changed", "foot_changed", "bonded_anew", "gauge_moved"]
)
def test_what_voids_zero_and_preset_says_so(event):
    """One sentence for each thing that happened."""
    assert "zero and preset are void" in voided_by([event])[0]


def test_nothing_happened_nothing_is_void():
    """And an unknown event is refused."""
    assert voided_by([]) == ()
    with pytest.raises(BadInput):
        voided_by(["full_moon"])
