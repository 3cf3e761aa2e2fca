"""Stops by the clock, weighing, two steps, several pieces, and the look back."""

import math

import pytest

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.process.reconcile import Thickness, reconciliation
from lapwright.process.timed_stop import (
    corrected_rate,
    loaded_steps,
    removal_by_weighing,
    timed_stop,
    two_step_stop,
)


def test_even_costs_stop_at_the_expected_time():
    """1 µm at 1 nm/s: 1000 s."""
    stop = timed_stop(1e-6, rate_low=0.8e-9, rate=1e-9, rate_high=1.25e-9)
    assert stop.time == pytest.approx(1000.0)
    assert (stop.low, stop.high) == pytest.approx((800.0, 1250.0))
    assert stop.chance_over == 0.5


def test_dear_over_removal_stops_at_the_quick_end():
    """19 to 1 allows 5 %: the time that the top of the 90 % interval takes, 800 s."""
    stop = timed_stop(1e-6, rate_low=0.8e-9, rate=1e-9, rate_high=1.25e-9, over_to_under=19.0)
    assert stop.time == pytest.approx(800.0, rel=1e-6)
    assert stop.expected == pytest.approx(0.8e-6, rel=1e-6)


def test_a_rate_known_exactly_leaves_nothing():
    """No interval, no caution."""
    assert timed_stop(1e-6, rate_low=1e-9, rate=1e-9, rate_high=1e-9, over_to_under=1e3).time == pytest.approx(1000.0)


@pytest.mark.parametrize(
    "options",
    [
        {"removal": 0.0},
        {"rate_low": 0.0},
        {"rate": 2.0},
        {"over_to_under": 0.0},
    ],
)
def test_rates_out_of_order_are_refused(options):
    """Above zero and low, middle, high."""
    given = {"removal": 1e-6, "rate_low": 0.5, "rate": 1.0, "rate_high": 1.5, **options}
    with pytest.raises(OutOfValidRange):
        timed_stop(given.pop("removal"), **given)


def test_the_first_of_two_stops_is_short_even_at_the_quick_end():
    """The rate may be 40 % higher: the first stop takes 1/1.4 of the stock, not 90 %."""
    stop = two_step_stop(10e-6, rate_low=0.7e-8, rate=1e-8, rate_high=1.4e-8)
    assert stop.removal_first == pytest.approx(10e-6 / 1.4)
    assert stop.first.time * 1.4e-8 == pytest.approx(10e-6)


def test_the_first_step_takes_no_longer_than_one_go():
    """A factor of three either way and 100 to 1 for over-removal: one go would stop at 0.21 of the expected time.

    z at 1/101 is 2.330 and the logarithm of the rate spreads by ln(9) / (2 · 1.645) = 0.668; exp(-1.556) = 0.211.
    """
    rates = {"rate_low": 1e-8 / 3.0, "rate": 1e-8, "rate_high": 3e-8}
    one = timed_stop(10e-6, **rates, over_to_under=100.0)
    first = two_step_stop(10e-6, **rates, over_to_under=100.0)
    assert one.time == pytest.approx(211.0, rel=5e-3)
    assert first.first.time == pytest.approx(one.time)


def test_a_share_of_all_is_no_first_step():
    """Above zero and below one."""
    with pytest.raises(OutOfValidRange, match="share"):
        two_step_stop(10e-6, rate_low=0.9e-8, rate=1e-8, rate_high=1.1e-8, share=1.0)


def test_the_corrected_rate_holds_its_spread():
    """9 ± 0.45 µm in 900 s and 5 % from run to run: 10 nm/s and a spread of 7.07 % of it."""
    low, rate, high = corrected_rate(9e-6, 0.45e-6, time=900.0)
    assert rate == pytest.approx(10e-9)
    assert math.log(high / low) / (2 * 1.644853627) == pytest.approx(math.hypot(0.05, 0.05))


def test_a_rate_needs_a_removal():
    """Nothing removed tells no rate."""
    with pytest.raises(OutOfValidRange, match="removed"):
        corrected_rate(0.0, 1e-7, time=900.0)


def test_weighing_a_disc():
    """50.8 mm of lithium tantalate, 7450 kg/m³: 15.10 mg a micrometre; 9.4 mg are 0.6225 µm."""
    area = math.pi / 4 * 0.0508**2
    removal, doubt = removal_by_weighing(9.4e-6, 0.1e-6, density=7450.0, area=area)
    assert removal == pytest.approx(9.4e-6 / (7450.0 * 2.026830e-3), rel=1e-6)
    assert doubt == pytest.approx(math.sqrt(2.0) * 0.1e-6 / (7450.0 * 2.026830e-3), rel=1e-6)


def test_weighing_needs_density_and_area():
    """By name."""
    with pytest.raises(OutOfValidRange, match="density"):
        removal_by_weighing(1e-6, 1e-7, density=0.0, area=1.0)


def test_the_thickest_carries_first_and_the_thinnest_decides():
    """110, 105 and 100 µm to 95 µm: one piece alone three times as fast, two half as fast again, then all three."""
    steps = loaded_steps([105e-6, 110e-6, 100e-6], [1e-4] * 3, final=95e-6, rate=1e-8)
    assert [step.pieces for step in steps] == [(1,), (0, 1), (0, 1, 2)]
    assert [step.removal for step in steps] == pytest.approx([5e-6] * 3)
    assert [step.time for step in steps] == pytest.approx([500.0 / 3, 1000.0 / 3, 500.0])


def test_equal_pieces_are_one_step():
    """All carry from the start."""
    (step,) = loaded_steps([100e-6, 100e-6], [1e-4, 2e-4], final=90e-6, rate=1e-8)
    assert (step.pieces, step.time) == ((0, 1), pytest.approx(1000.0))


def test_the_thinnest_piece_must_be_reached():
    """A final height above it would leave it untouched."""
    with pytest.raises(OutOfValidRange, match="thinnest"):
        loaded_steps([110e-6, 100e-6], [1e-4, 1e-4], final=105e-6, rate=1e-8)
    with pytest.raises(ShapeMismatch):
        loaded_steps([110e-6], [], final=90e-6, rate=1e-8)
    with pytest.raises(OutOfValidRange, match="rate"):
        loaded_steps([110e-6], [1e-4], final=90e-6, rate=0.0)


def looked_back(gauge, *, uncertainty=0.1e-6):
    """100 µm wanted in 3000 s; by thickness 103 ± 0.28 µm were removed."""
    return reconciliation(
        Thickness(value=500e-6, uncertainty=0.2e-6),
        Thickness(value=397e-6, uncertainty=0.2e-6),
        Thickness(value=gauge, uncertainty=uncertainty),
        wanted=100e-6,
        time=3000.0,
        predicted_rate=33e-9,
    )


def test_a_foot_that_wore_is_told_by_the_thickness():
    """The gauge said 100, the thickness 103: 3 µm too little, 2.9 %, more than its uncertainty of 0.3."""
    run = looked_back(100e-6)
    assert run.is_biased
    assert run.gauge_bias == pytest.approx(-3e-6)
    assert run.bias_share == pytest.approx(-3.0 / 103.0)
    assert run.gauge_bias_uncertainty == pytest.approx(0.3e-6)
    assert (run.stop_error, run.predicted_error) == pytest.approx((3e-6, 4e-6))
    assert run.rate == pytest.approx(103e-6 / 3000.0)
    assert "too little" in run.sentence


def test_a_gauge_that_warmed_is_told_as_well():
    """It said 106."""
    assert "too much" in looked_back(106e-6).sentence


def test_a_difference_within_its_uncertainty_is_no_bias():
    """0.4 µm at a standard uncertainty of 0.3."""
    run = looked_back(103.4e-6)
    assert not run.is_biased
    assert "agree" in run.sentence


def test_a_run_takes_time():
    """No time, no rate."""
    with pytest.raises(OutOfValidRange, match="time"):
        reconciliation(*[Thickness(value=1e-6, uncertainty=0.0)] * 3, wanted=1e-6, time=0.0)
