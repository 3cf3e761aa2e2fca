"""The damage ledger and the time until the damage is gone."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.errors import OutOfValidRange
from lapwright.process.ledger import Depth, Passage, chance_remaining, clear_time, damage_ledger

NM_PER_MIN = 1e-9 / 60.0
NONE = Depth(median=0.0)


@pytest.mark.parametrize(
    ("depth", "rate", "minutes"), [(12, 111, 108), (5, 111, 45), (12, 300, 40)], ids=["LiTaO3", "fine lap", "LiNbO3"]
)
def test_hand_examples_of_the_polish(depth, rate, minutes):
    """Damage over rate, worked by hand: 12 um at 111 nm/min is 108 min, 5 um 45 min, 12 um at 300 nm/min 40 min."""
    found = clear_time([(Depth(median=depth * 1e-6), 0.0)], rate * NM_PER_MIN)

    assert found.time / 60 == pytest.approx(minutes, rel=0.01)


def test_a_ledger_through_three_stages_by_hand():
    """Silicon, 525 to 200 um: 7 um left by the coarse lap, 2.5 um by the fine one, nothing by a polish of 6 um.

    Half way through the polish, 3 um of 6, nothing of 2.5 um is left; after 1 um, 1.5 um are.
    """
    coarse, fine = Depth(median=7e-6), Depth(median=2.5e-6)
    laps = [Passage(name="coarse", removal=305e-6, leaves=coarse), Passage(name="fine", removal=14e-6, leaves=fine)]
    for polish, left in ((6e-6, 0.0), (3e-6, 0.0), (1e-6, 1.5e-6)):
        lines = damage_ledger([*laps, Passage(name="polish", removal=polish, leaves=NONE)])

        assert [line.median * 1e6 for line in lines] == pytest.approx([7.0, 2.5, left * 1e6], abs=1e-6)
        assert lines[-1].chance_old == (1.0 if left else 0.0)


def test_old_damage_that_outlasts_a_lap_is_the_depth_that_counts():
    """12 um left, 4 um taken by a lap that leaves 3 um: 8 um."""
    line = damage_ledger([Passage(name="lap", removal=4e-6, leaves=Depth(median=3e-6))], start=Depth(median=12e-6))[0]

    assert line.median * 1e6 == pytest.approx(8.0)
    assert line.chance_old == 1.0


def test_quantiles_and_chance_agree_with_draws():
    """Two laps and a polish with spreads against 400 000 draws, to five deviations of the count."""
    passages = [
        Passage(name="a", removal=100e-6, leaves=Depth(median=10e-6, log_deviation=0.4)),
        Passage(name="b", removal=14e-6, deviation=1e-6, leaves=Depth(median=3e-6, log_deviation=0.5)),
        Passage(name="c", removal=5e-6, deviation=0.5e-6, leaves=NONE),
    ]
    rng, n = np.random.default_rng(5), 400_000
    first, second = (10e-6 * np.exp(0.4 * rng.standard_normal(n)), 3e-6 * np.exp(0.5 * rng.standard_normal(n)))
    lap, polish = (14e-6 + 1e-6 * rng.standard_normal(n), 5e-6 + 0.5e-6 * rng.standard_normal(n))
    after_lap = np.maximum(first - lap, second)
    after_polish = np.maximum(first - lap - polish, second - polish)
    lines = damage_ledger(passages)

    assert lines[1].median == pytest.approx(np.median(after_lap), rel=0.01)
    assert lines[1].high == pytest.approx(np.quantile(after_lap, 0.975), rel=0.02)
    for line, share in ((lines[1], np.mean(first - lap > second)), (lines[2], np.mean(after_polish > 0))):
        assert line.chance_old == pytest.approx(share, abs=5 * math.sqrt(share * (1 - share) / n) + 1e-3)


@pytest.mark.parametrize("removed", [0.0, 2e-6])
def test_at_the_advised_time_one_in_a_hundred_keeps_damage(removed):
    """Between 0.5 and 1.5 % of 10 000 drawn jobs, with the fine lap and what is left of the coarse one."""
    rng = np.random.default_rng(17)
    layers = [(Depth(median=5e-6, log_deviation=0.3), removed), (Depth(median=12e-6, log_deviation=0.2), 12e-6)]
    advice = clear_time(layers, 111 * NM_PER_MIN, rate_deviation=0.25)
    rate = 111 * NM_PER_MIN * np.exp(0.25 * rng.standard_normal(10_000))
    remains = np.zeros(10_000, dtype=bool)
    for depth, before in layers:
        drawn = depth.median * np.exp(depth.log_deviation * rng.standard_normal(10_000))
        remains |= drawn > before + rate * advice.time

    assert 0.005 < np.mean(remains) < 0.015
    assert advice.low < advice.high < advice.time


def test_stopping_early_is_told_in_minutes():
    """Advised 60 min, ran 48: 12 min early; ran 61: not early."""
    advice = clear_time([(Depth(median=6e-6), 0.0)], 100 * NM_PER_MIN)

    assert advice.shortfall(48 * 60.0) / 60 == pytest.approx(12.0, abs=1e-3)
    assert advice.shortfall(61 * 60.0) == 0.0


@given(
    median=st.floats(1e-7, 5e-5),
    deviation=st.floats(0.05, 0.8),
    rate=st.floats(1e-10, 1e-8),
    spread=st.floats(0.0, 0.5),
)
def test_time_for_one_layer_is_the_closed_form(median, deviation, rate, spread):
    """(d/r) exp(z sqrt(s_d^2 + s_r^2)), z = 2.3263 at 1 % (ratio of two lognormals)."""
    found = clear_time([(Depth(median=median, log_deviation=deviation), 0.0)], rate, rate_deviation=spread)

    assert found.time == pytest.approx(median / rate * math.exp(2.3263478740 * math.hypot(deviation, spread)), rel=1e-6)


@given(scale=st.floats(0.1, 10.0), taken=st.floats(0.0, 8e-6))
def test_lengths_scale(scale, taken):
    """All lengths times k: the depth times k, the chance unchanged."""

    def line(factor):
        lap = Depth(median=3e-6 * factor, log_deviation=0.3)
        return damage_ledger(
            [Passage(name="lap", removal=taken * factor, leaves=lap)],
            start=Depth(median=9e-6 * factor, log_deviation=0.2),
        )[0]

    assert line(scale).median == pytest.approx(scale * line(1.0).median, rel=1e-9)
    assert line(scale).chance_old == pytest.approx(line(1.0).chance_old, abs=1e-9)


@given(first=st.floats(0.0, 2e4), more=st.floats(0.0, 2e4))
def test_polishing_longer_never_leaves_more(first, more):
    """The chance that damage remains falls with time."""
    layers = [(Depth(median=5e-6, log_deviation=0.4), 1e-6), (Depth(median=9e-6, log_deviation=0.3), 6e-6)]

    def chance(time):
        return chance_remaining(layers, 2e-9, rate_deviation=0.2, time=time)

    assert chance(first + more) <= chance(first) + 1e-12


def test_wrong_questions_are_refused():
    """No rate, no chance, negative removal or depth."""
    layer = [(Depth(median=1e-6), 0.0)]
    for wrong in (
        lambda: clear_time(layer, 0.0),
        lambda: clear_time(layer, 1e-9, chance=0.0),
        lambda: clear_time(layer, math.nan),
        lambda: damage_ledger([Passage(name="x", removal=-1e-6, leaves=NONE)]),
        lambda: Depth(median=-1e-6),
        lambda: Depth(median=1e-6, log_deviation=math.nan),
    ):
        with pytest.raises(OutOfValidRange):
            wrong()
