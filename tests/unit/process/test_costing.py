"""What a job will cost, line by line and as a spread."""

import numpy as np
import pytest
from scipy import stats

from lapwright.errors import OutOfValidRange
from lapwright.library import load
from lapwright.model.plan import Plan, Stage
from lapwright.process.costing import JobTerms, WorkLine, grouped_stages, job_cost, work_lines
from lapwright.process.route_cost import Prices
from lapwright.process.spare_wafers import YieldBelief

SURE = YieldBelief(good=1e9, lost=1e-3)
STAGES = (
    Stage(kind="measure", name="Measure the stack", time=600.0),
    Stage(kind="lap", name="Lap, first part", removal=90e-6, abrasive="al2o3-15", plate="cast-iron", time=3600.0,
          rate=25e-9, rate_low=20e-9, rate_high=31.25e-9),
    Stage(kind="clean", name="Rinse and dry", time=600.0),
    Stage(kind="lap", name="Lap, finish", removal=10e-6, abrasive="al2o3-15", plate="cast-iron", time=400.0, rate=25e-9,
          rate_low=20e-9, rate_high=31.25e-9),
    Stage(kind="measure", name="Measure the finished wafer", time=600.0),
)  # fmt: skip
PLAN = Plan(
    name="lap", stages=STAGES, start_thickness=500e-6, target_thickness=400e-6, total_time=5800.0,
    chance_in_tolerance=0.9, damage_left=0.0,
)  # fmt: skip


def _cost(lines, prices=None, terms=None, belief=SURE, seed=1, draws=4000):
    return job_cost(
        lines, prices or Prices(person=60.0), terms or JobTerms(started=1), belief,
        generator=np.random.default_rng(seed), draws=draws,
    )  # fmt: skip


def test_lines_of_a_plan_by_hand():
    """Bond 25 + 10 min; lap 4000 s at 20 + 0.4 an hour and two times 10 min by hand; coming off 30 min."""
    prices = Prices(person=60.0, machine=20.0, slurry={"alumina": 0.4})
    lines = work_lines(PLAN, prices, load(), bench={"Bond": 1500.0, "Take off": 1800.0}, before="Bond")
    assert [one.name for one in lines] == ["Bond", "Lap", "Take off"]
    assert [one.person for one in lines] == [2100.0, 1200.0, 1800.0]
    assert (lines[1].machine, lines[1].hour) == (4000.0, 20.4)
    assert lines[1].rate_deviation == pytest.approx(0.1138, abs=1e-4)  # ln(31.25 / 20) / 3.92


def test_lines_add_up_and_equal_the_hand_calculation_without_spread():
    """Set-up 30 + two wafers at 35 + 20.40 + 6.50 = 153.80, with a quarter of overhead 192.25; nobody lost."""
    lines = (WorkLine(name="Bond", person=2100.0), WorkLine(name="Lap", machine=3600.0, hour=20.4))
    prices = Prices(person=60.0, piece_price=6.5, wafer=400.0)
    found = _cost(lines, prices, JobTerms(started=2, set_up=1800.0, overhead=0.25, hand_spread=0.0))
    assert found.expected == pytest.approx(192.25)
    assert {one.name: round(one.cost, 2) for one in found.lines} == {
        "Bond": 70.0, "Lap": 40.8, "set-up": 30.0, "consumables": 13.0, "overhead": 38.45,
    }  # fmt: skip
    assert (found.low, found.high, found.sure) == pytest.approx((192.25,) * 3)


def test_quantiles_of_a_lap_are_those_of_the_lognormal():
    """One cut with a rate known to 20 %: its cost is lognormal; scipy tells the quantiles. 40 000 draws, 1 %."""
    found = _cost([WorkLine(name="Lap", machine=3600.0, hour=100.0, rate_deviation=0.2)], draws=40_000)
    expected = stats.lognorm(0.2, scale=100.0).ppf([0.05, 0.5, 0.9, 0.95])
    assert [found.low, found.even, found.sure, found.high] == pytest.approx(expected, rel=0.012)


def test_the_loss_is_that_of_the_beta_binomial():
    """Seven wafers of 400 each, one in ten lost on average: 280, and the quantile of scipy's distribution."""
    belief = YieldBelief(good=18.0, lost=2.0)
    found = _cost([], Prices(person=60.0, wafer=400.0), JobTerms(started=7), belief, draws=40_000)
    assert found.expected == pytest.approx(280.0, rel=0.03)
    assert found.sure == 400.0 * stats.betabinom(7, 2.0, 18.0).ppf(0.9)


def test_all_prices_doubled_double_the_cost_and_wafers_of_one_job_share_their_luck():
    """Scaling law; ten wafers spread as one does, because plate and slurry are the same."""
    line = [WorkLine(name="Lap", person=600.0, machine=3600.0, hour=20.0, rate_deviation=0.2)]
    double = [WorkLine(name="Lap", person=600.0, machine=3600.0, hour=40.0, rate_deviation=0.2)]
    one, ten = _cost(line), _cost(line, terms=JobTerms(started=10))
    assert ten.sure == pytest.approx(10.0 * one.sure)
    assert _cost(double, Prices(person=120.0)).sure == pytest.approx(2.0 * one.sure)


def test_what_is_rinsed_and_measured_after_a_cut_goes_with_it():
    """The trade's own grouping: a stage ends when it is measured."""
    assert [name for name, _ in grouped_stages(STAGES, before="Bond")] == ["Bond", "Lap", "Lap", "Lap", "Lap"]


def test_wrong_terms_are_refused():
    """No wafers, or less than nothing on top."""
    with pytest.raises(OutOfValidRange):
        JobTerms(started=0)
    with pytest.raises(OutOfValidRange):
        JobTerms(started=1, overhead=-0.1)
