"""Rates from the library, from a few runs and from many."""

import math
from dataclasses import replace

import numpy as np
import pytest

from lapwright.errors import CannotAnswer, NotFound, OutOfValidRange
from lapwright.library import load
from lapwright.metrology.distributions import normal_quantile
from lapwright.process.learning import (
    PastRun,
    RunConditions,
    drawn_rates,
    predict_rate,
    rate_interval,
    rate_model,
)
from lapwright.process.removal import RUN_SPREAD, preston_rate, prior_coefficient

LIBRARY = load()
LAP = RunConditions(material="LiTaO3", abrasive="sic-jis1000", plate="cast-iron", pressure=10e3, speed=0.5)
OTHER = replace(LAP, material="LiNbO3")


def runs(rates_um_per_min, conditions=LAP):
    """Past runs of one process with these rates."""
    return [
        PastRun(name=f"run {number}", conditions=conditions, removal_rate=rate / 60e6)
        for number, rate in enumerate(rates_um_per_min)
    ]


def scattered(level, count, *, scatter=0.05, seed=1):
    """Rates about a level, lognormal and without a wild one: the quantiles of a normal in a shuffled order."""
    quantiles = [normal_quantile((number + 0.5) / count) for number in range(count)]
    return level * np.exp(scatter * np.random.default_rng(seed).permutation(quantiles))


def test_without_runs_it_is_preston_and_the_library():
    """Median k p v; spread the row's band and the usual scatter of a run, within a tenth."""
    prior = prior_coefficient(LIBRARY, "LiTaO3", abrasive=LIBRARY.abrasive("sic-jis1000"), plate="cast-iron")
    found = predict_rate(rate_model(LIBRARY), LAP)
    assert preston_rate(prior.median, 10e3, 0.5) == pytest.approx(found.median, rel=1e-12)
    assert math.hypot(prior.log_deviation, RUN_SPREAD) == pytest.approx(found.log_deviation, rel=0.1)
    assert (found.runs, found.trust, found.row_id) == (0, "read", "lt-sic1000")
    assert found.origin.startswith("Library row lt-sic1000")


def test_preston_worked_example():
    """Kp 1e-13 per Pa, 3 psi, 0.5 m/s: 62.0529 nm/min; the prediction is the library's coefficient times p and v."""
    found = predict_rate(rate_model(LIBRARY), replace(LAP, pressure=20684.3))
    assert pytest.approx(found.median / 1.71e-11 * 1e-13 * 60e9, abs=5e-5) == 62.0529


def test_many_runs_outweigh_the_library():
    """Forty runs about 4.00 µm/min where the library says 5.13: within 2 %, and the interval about the scatter."""
    found = predict_rate(rate_model(LIBRARY, runs(scattered(4.0, 40))), LAP)
    assert pytest.approx(found.median * 60e6, rel=0.02) == 4.0
    assert pytest.approx(found.run_spread, rel=0.35) == 0.05
    assert (found.trust, found.runs) == ("own", 40)
    assert found.origin.startswith("From your last 40 runs")


def test_one_run_moves_the_belief_part_of_the_way():
    """Between the library's 5.13 and the 3.00 seen, nearer to what was seen."""
    found = predict_rate(rate_model(LIBRARY, runs([3.0])), LAP)
    assert 3.0 < found.median * 60e6 < math.sqrt(3.0 * 5.13)
    assert (found.origin[:31], found.trust) == ("From your one run. Before it: L", "read")


def test_runs_speak_more_faintly_for_another_material():
    """A rate half the library's on one material lowers another's, by less, and its interval stays wide."""
    model = rate_model(LIBRARY, runs(scattered(2.5, 30)))
    before, after = predict_rate(rate_model(LIBRARY), OTHER), predict_rate(model, OTHER)
    assert 0.7 * before.median < after.median < 0.97 * before.median
    assert 0.6 * before.log_deviation < after.log_deviation < before.log_deviation
    assert "moved by 30 of your runs with other combinations" in after.origin


def test_exponents_are_learned():
    """Rates by p^0.7 v^0.9 without scatter: within 0.06 after 60 runs at three pressures and speeds."""
    taken = []
    for number in range(60):
        pressure, speed = (6e3, 10e3, 16e3)[number % 3], (0.3, 0.5, 0.8)[number // 3 % 3]
        rate = 4e-6 / 60 * (pressure / 10e3) ** 0.7 * (speed / 0.5) ** 0.9
        taken.append(
            PastRun(name=str(number), conditions=replace(LAP, pressure=pressure, speed=speed), removal_rate=rate)
        )
    found = predict_rate(rate_model(LIBRARY, taken), LAP)
    assert pytest.approx(found.exponents, abs=0.06) == (0.7, 0.9)


def test_a_lone_outlying_run_is_flagged_and_teaches_nothing():
    """A run at a third of the rate among thirty: named, and the prediction the same as without it."""
    steady = scattered(4.0, 30)
    with_it = rate_model(LIBRARY, runs([*steady[:20], 4.0 / 3.0, *steady[20:]]))
    notes = [check.note for check in with_it.learned["lap"].checks]
    assert notes[20] == "outlying"
    assert notes.count("outlying") == 1
    without = predict_rate(rate_model(LIBRARY, runs(steady)), LAP)
    assert without.median == pytest.approx(predict_rate(with_it, LAP).median, rel=0.01)


def test_a_loss_of_thirty_percent_is_found_in_three_runs():
    """Planted shift: after three runs at the new rate the prediction is within 5 % of it, and the shift is named."""
    steady = scattered(4.0, 25)
    model = rate_model(LIBRARY, runs([*steady, *(0.7 * scattered(4.0, 3, seed=2))]))
    notes = [check.note for check in model.learned["lap"].checks][25:]
    assert notes.count("shift") == 2  # the one that was held back and the one that confirmed it
    assert model.learned["lap"].own[LAP.combination].runs == 28
    assert pytest.approx(predict_rate(model, LAP).median * 60e6, rel=0.05) == 2.8


def test_a_creeping_plate_is_followed():
    """A loss of 2 % a run over 40 runs: the prediction is within 6 % of the present rate, the mean of all is 45 % off."""
    rates = 4.0 * np.exp(-0.02 * np.arange(40) + 0.03 * np.random.default_rng(4).standard_normal(40))
    now = 4.0 * math.exp(-0.02 * 40)
    found = predict_rate(rate_model(LIBRARY, runs(rates)), LAP)
    assert now == pytest.approx(found.median * 60e6, rel=0.06)


def test_lots_are_counted_and_a_new_lot_widens_the_interval():
    """Two lots seen; one never seen is less sure than one that is."""
    taken = [
        PastRun(
            name=str(number),
            conditions=replace(LAP, abrasive_lot="A" if number < 12 else "B"),
            removal_rate=rate * (1.0 if number < 12 else 1.15) / 60e6,
        )
        for number, rate in enumerate(scattered(4.0, 24, scatter=0.03))
    ]
    model = rate_model(LIBRARY, taken)
    old, new = (predict_rate(model, replace(LAP, abrasive_lot=lot)) for lot in ("B", "C"))
    assert old.lots == 2
    assert "2 lots" in old.origin
    assert old.level_deviation < new.level_deviation
    assert pytest.approx(old.median * 60e6, rel=0.05) == 4.6


def test_parts_multiply_to_the_prediction():
    """The reasons are factors on the library's rate and leave nothing out."""
    lap = replace(LAP, station="L1", abrasive_lot="A", slurry_age=7200.0, pressure=8e3)
    found = predict_rate(rate_model(LIBRARY, runs(scattered(4.0, 10), lap)), lap)
    product = math.prod(part.factor for part in found.parts)
    assert found.median / found.library_rate == pytest.approx(product, rel=1e-9)
    assert all(part.low <= part.factor <= part.high for part in found.parts)


def test_a_combination_the_library_does_not_know_needs_a_run():
    """Ceria on lithium tantalate has no row: refused at first, answered after a run, widely."""
    polish = RunConditions(material="LiTaO3", abrasive="ceria-1", plate="pad-polyurethane", pressure=20e3, speed=0.6)
    with pytest.raises(CannotAnswer, match="Log a first run"):
        predict_rate(rate_model(LIBRARY), polish)
    found = predict_rate(rate_model(LIBRARY, runs([0.2], polish)), polish)
    assert pytest.approx(found.median * 60e6, rel=0.15) == 0.2


def test_the_interval_holds_what_is_drawn():
    """Nine of ten draws from the prediction lie in its 90 % interval (5 sigma of 20 000)."""
    found = predict_rate(rate_model(LIBRARY, runs(scattered(4.0, 6))), LAP)
    bounds = rate_interval(found, coverage=0.9)
    drawn = drawn_rates(found, generator=np.random.default_rng(1), draws=20_000)
    assert pytest.approx(np.mean((drawn >= bounds.low) & (drawn <= bounds.high)), abs=0.011) == 0.9


def test_the_unit_of_rate_does_not_matter_to_the_shape():
    """Scaling law: all rates times 1.2 give a prediction times 1.2 once runs outweigh the library."""
    rates = scattered(4.0, 60)
    one, other = (predict_rate(rate_model(LIBRARY, runs(factor * rates)), LAP) for factor in (1.0, 1.2))
    assert pytest.approx(other.median / one.median, rel=0.005) == 1.2


def test_bad_questions_are_refused():
    """No pressure, a rate of nothing, a coverage of one, a material nobody knows."""
    with pytest.raises(OutOfValidRange, match="pressure"):
        replace(LAP, pressure=0.0)
    with pytest.raises(OutOfValidRange, match="pad_age"):
        replace(LAP, pad_age=-1.0)
    with pytest.raises(OutOfValidRange, match="removal_rate"):
        PastRun(name="1", conditions=LAP, removal_rate=0.0)
    with pytest.raises(OutOfValidRange, match="coverage"):
        rate_interval(predict_rate(rate_model(LIBRARY), LAP), coverage=1.0)
    with pytest.raises(NotFound, match="material"):
        rate_model(LIBRARY, runs([4.0], replace(LAP, material="unobtainium")))
