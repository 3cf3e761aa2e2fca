"""Planning again in mid-job, by hand, with an etch; what limits a route; what hangs on what."""

import math
from dataclasses import replace

import numpy as np
import pytest

from lapwright.errors import BadInput, ImpossibleOrder, OutOfValidRange
from lapwright.library import load
from lapwright.model.order import Limit, Order
from lapwright.model.readings import Gauge
from lapwright.model.wafer import Round
from lapwright.process.candidates import library_rates
from lapwright.process.etching import Etch, etch_cut, etched_ttv
from lapwright.process.ledger import Depth
from lapwright.process.planning import search_routes
from lapwright.process.replanning import JobState, SeenRate, replanned, seen_rates
from lapwright.process.route_limits import binding_limit, remedies, sensitivities
from lapwright.process.route_making import Question
from lapwright.process.search import Goal
from lapwright.process.tuning import Tuning, tuned_route, tuning_of

LIBRARY = load()
GAUGE = Gauge(gauge_id="G", name="drop gauge", limit=1e-6, local=0.3e-6)
QUESTION = Question(gauge=GAUGE, draws=4000)
ORDER = Order(
    order_id="AP-2407", customer="Fennbach Filters", material="LiTaO3", outline=Round(diameter=50.8e-3), quantity=6,
    start_thickness=500e-6, target_thickness=100e-6, edge_exclusion=2e-3, hold="free",
    limits=(Limit(quantity="thickness", lower=98e-6, upper=102e-6), Limit(quantity="ttv", upper=2e-6),
            Limit(quantity="roughness_ra", upper=1e-9)),
)  # fmt: skip
FINE = JobState(thickness=112e-6, ttv=1.5e-6, damage=Depth(median=3e-6, log_deviation=0.5), grain=3e-6)


def generator():
    """Always the same luck."""
    return np.random.default_rng(2)


@pytest.fixture(scope="module")
def searched():
    """The routes of the demonstration order."""
    return search_routes(ORDER, LIBRARY, QUESTION, generator=generator())


def cuts(route):
    """Stages that remove something."""
    return [stage for stage in route.plan.stages if stage.removal > 0.0]


def test_thousands_of_routes_are_weighed_and_the_front_is_a_front(searched):
    """At least 5 000; along the front no route is worse in time, cost and risk at once."""
    front = [(one.time, one.cost, round(1 - one.chance, 3)) for one in searched.front]

    assert searched.weighed >= 5000
    assert len(front) >= 3
    for one in front:
        assert not any(all(b <= a for a, b in zip(one, other, strict=True)) and other != one for other in front)


def test_the_cheapest_costs_least_and_the_shortest_takes_least(searched):
    """Among those that hold the chance; and asked for cost, the cheapest comes first."""
    holding = [route.plan for route in searched.routes if route.plan.chance_in_tolerance >= 0.9]
    cheap = search_routes(ORDER, LIBRARY, replace(QUESTION, goal=Goal(objective="cost")), generator=generator())
    cheap_holding = [route.plan for route in cheap.routes if route.plan.chance_in_tolerance >= 0.9]

    assert min(holding, key=lambda plan: plan.total_time) is searched.routes[0].plan
    assert min(cheap_holding, key=lambda plan: plan.total_cost) is cheap.routes[0].plan
    assert cheap.routes[0].plan.total_cost <= searched.routes[0].plan.total_cost


def test_a_higher_chance_takes_no_less_time():
    """0.80, 0.90, 0.93: what holds more cannot be quicker than what holds less."""
    times = [
        search_routes(
            ORDER, LIBRARY, replace(QUESTION, goal=Goal(target_chance=chance)), generator=generator()
        ).routes[0].plan.total_time
        for chance in (0.80, 0.90, 0.93)
    ]  # fmt: skip
    assert times == sorted(times)


def test_the_chance_of_all_limits_is_no_more_than_that_of_any(searched):
    """And the binding one is the least."""
    for route in searched.routes:
        each = {one.limit: one.chance for one in route.plan.chances}

        assert {"thickness", "ttv", "roughness_ra", "damage"} <= set(each)
        assert route.plan.chance_in_tolerance <= min(each.values())
        assert binding_limit(route).chance == min(each.values())


def test_every_stage_tells_its_damage(searched):
    """After the last lap the damage is that lap's own; after the polish, at the median, none is left."""
    stages = cuts(searched.routes[0])
    last_lap = [stage for stage in stages if stage.kind == "lap"][-1]

    assert last_lap.damage_left > 0.0
    assert stages[-1].damage_left == 0.0
    assert 0.0 < stages[-1].damage_chance < 0.1
    assert all(stage.abrasive_name and stage.plate_name for stage in stages)


def test_remedies_raise_the_chance_and_say_by_what(searched):
    """Each says from what to what; none lowers it; the best first."""
    found = remedies(searched.routes[0], searched.setting, QUESTION, seed=searched.seed)

    assert {"witness", "tilt"} <= {one.name for one in found}
    assert all(one.gain > 0.0 and f"{one.chance:.1%}" in one.sentence for one in found)
    assert [one.gain for one in found] == sorted((one.gain for one in found), reverse=True)


def test_deeper_damage_and_a_worse_wedge_cost_chance_slower_rates_cost_time(searched):
    """The signs of what is known to hurt."""
    found = {
        one.assumption: one for one in sensitivities(searched.routes[0], searched.setting, QUESTION, seed=searched.seed)
    }

    assert found["damage"].chance_high < searched.routes[0].plan.chance_in_tolerance < found["damage"].chance_low
    assert found["wedge_deviation"].chance_high < found["wedge_deviation"].chance_low
    assert found["rate"].time_low > searched.routes[0].plan.total_time > found["rate"].time_high


def test_a_route_set_by_hand_as_it_was_found_is_that_route(searched):
    """Same stages, same chance with the same luck."""
    best = searched.routes[0]
    again = tuned_route(
        ORDER, LIBRARY, QUESTION, tuning_of(searched.setting.order, LIBRARY, best.candidate), seed=searched.seed
    )

    assert again.plan.chance_in_tolerance == best.plan.chance_in_tolerance
    assert again.plan.total_time == pytest.approx(best.plan.total_time, rel=1e-9)
    assert [s.removal for s in again.plan.stages] == pytest.approx([s.removal for s in best.plan.stages])


def test_by_hand_more_margin_polishes_longer_and_surer(searched):
    """X 1.5 against x 3 on the damage: more removal, more time, less damage."""
    tuning = tuning_of(searched.setting.order, LIBRARY, searched.routes[0].candidate)
    thin, thick = (
        tuned_route(ORDER, LIBRARY, QUESTION, replace(tuning, finish_multiple=m), seed=1) for m in (1.5, 3.0)
    )

    assert thick.plan.total_time > thin.plan.total_time
    assert thick.outcome.each["damage"] > thin.outcome.each["damage"]
    for plan in (thin.plan, thick.plan):
        assert math.fsum(stage.removal for stage in plan.stages) == pytest.approx(400e-6, abs=1e-12)


def test_what_cannot_be_set_is_refused(searched):
    """Unknown tools by name; loads, speeds and margins outside; a split that the stock does not bear."""
    tuning = tuning_of(searched.setting.order, LIBRARY, searched.routes[0].candidate)
    with pytest.raises(BadInput, match="not among the tools"):
        tuned_route(ORDER, LIBRARY, QUESTION, replace(tuning, tools=(("nowhere", "al2o3-3"),)), seed=1)
    for wrong in ({"load_share": 1.1}, {"speed_share": 9.0}, {"finish_multiple": 0.5}, {"tools": ()}):
        with pytest.raises(OutOfValidRange):
            replace(tuning, **wrong)
    with pytest.raises(ImpossibleOrder, match="Take smaller margins"):
        tuned_route(
            replace(ORDER, start_thickness=120e-6), LIBRARY, QUESTION, replace(tuning, finish_multiple=8.0), seed=1
        )


def test_in_mid_job_only_finer_grains_come_and_the_stock_left_is_split():
    """From 112 um after a 3 um lap: no coarser grain, removals of 12 um, no first touch any more."""
    found = replanned(ORDER, LIBRARY, QUESTION, FINE, generator=generator())

    for route in found.routes:
        assert math.fsum(stage.removal for stage in route.plan.stages) == pytest.approx(12e-6, abs=1e-12)
        assert all(LIBRARY.abrasive(stage.abrasive).grain <= 3e-6 for stage in cuts(route))
        assert all(stage.preset_datum != "first_touch" for stage in cuts(route))
    assert any(all(stage.kind == "polish" for stage in cuts(route)) for route in found.routes)


def test_with_little_left_the_chance_says_so_instead_of_refusing():
    """4 um over 3 um of damage that may be 8 um: polished with what is left, and the chance is poor."""
    found = replanned(ORDER, LIBRARY, QUESTION, replace(FINE, thickness=104e-6), generator=generator())

    assert 0.2 < found.routes[0].plan.chance_in_tolerance < 0.8
    assert any("check one wafer" in line for line in found.routes[0].plan.warnings)


def test_a_wafer_at_its_target_is_not_planned_on():
    """Nothing may be removed any more."""
    with pytest.raises(ImpossibleOrder, match="nothing may be"):
        replanned(ORDER, LIBRARY, QUESTION, replace(FINE, thickness=100e-6), generator=generator())


def test_a_rate_seen_twice_counts_more_than_once_and_never_all():
    """Half of what was believed, seen once, twice, often: nearer and nearer to half, with ever less doubt."""
    abrasive = LIBRARY.abrasive("al2o3-15")

    def believed(runs):
        seen = () if runs == 0 else (SeenRate(abrasive="al2o3-15", plate="cast-iron", factor=0.5, runs=runs),)
        return seen_rates(library_rates(LIBRARY), seen)("LiTaO3", abrasive, "cast-iron", 10e3, 0.5)

    rates = [believed(runs).median / believed(0).median for runs in (0, 1, 2, 50)]
    doubts = [believed(runs).level_deviation for runs in (0, 1, 2, 50)]
    assert rates == sorted(rates, reverse=True)
    assert 0.5 < rates[-1] < 0.505
    assert doubts == sorted(doubts, reverse=True)


def test_an_etch_adds_up_as_a_stage():
    """Removal is rate times time; a share of it is added to the TTV; the bath is timed and cautioned."""
    bath = etch_cut(Etch(name="own bath", rate=1e-6 / 60.0, unevenness=0.05))
    order = replace(ORDER, material="GaAs", limits=(Limit(quantity="ttv", upper=5e-6),))
    tools = (("glass plate", "al2o3-3"), ("etch bath", "etch"))
    question = replace(QUESTION, etches=(bath,))
    route = tuned_route(order, LIBRARY, question, Tuning(tools=tools), seed=1)
    etched = [stage for stage in cuts(route) if stage.kind == "etch"]

    assert math.fsum(stage.removal for stage in cuts(route)) == pytest.approx(400e-6, abs=1e-12)
    assert sum(stage.time for stage in etched) == pytest.approx(sum(s.removal for s in etched) / (1e-6 / 60.0))
    assert all(stage.preset is None and any("hood" in text for text in stage.cautions) for stage in etched)
    assert route.finish.form == pytest.approx(0.5e-6 + 0.05 * sum(s.removal for s in etched))
    assert etched_ttv(1e-6, removal=20e-6, unevenness=0.1) * 1e6 == pytest.approx(3.0)
    with pytest.raises(OutOfValidRange):
        Etch(name="dead", rate=0.0)
