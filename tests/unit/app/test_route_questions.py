"""Routes asked of the records: aims, a wafer in mid-job, a route by hand."""

import math
from dataclasses import replace

import pytest

from lapwright.app import route_questions, routes, runs, shelf
from lapwright.errors import Conflict, NotFound
from lapwright.model.shelf import Station
from lapwright.process.tuning import tuning_of
from lapwright.testing.lot import CARRIER_THICKNESS, flat


@pytest.fixture
def kept(lot):
    """The wafer and its carrier read in."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read("AP-1-01", "wafer", "incoming", flat(500e-6))
    return lot


@pytest.fixture
def worked(kept):
    """The wafer bonded, its first cut run and the stack read again."""
    kept.route()
    kept.bond("AP-1-01", flat(500e-6))
    ahead = runs.next_stage("AP-1-01")
    station = Station(
        station_id="L1", name="L1", kind="lap", plate=ahead.planned.plate, abrasive=ahead.planned.abrasive
    )
    shelf.set_up_station(station, **kept.why())
    kept.run("AP-1-01", "L1", ahead.removal)
    return kept


def stages():
    """The wafer's stages as recorded."""
    from lapwright.records import queries

    return queries.stages("AP-1-01")


def test_the_cheapest_first_when_cost_is_asked(kept):  # noqa: ARG001  the wafers
    """Least cost among those that hold the chance; the usual aim is time."""
    cheap = route_questions.ask("AP-1", route_questions.Aim(objective="cost")).searched.plans
    quick = routes.propose_routes("AP-1")

    assert cheap[0].total_cost <= quick[0].total_cost
    assert quick[0].total_time <= cheap[0].total_time


def test_by_hand_as_found_is_as_found(kept):  # noqa: ARG001  the wafers
    """The same chance and time, with the luck of the search."""
    asked = route_questions.ask("AP-1")
    best = asked.searched.routes[0]
    again = asked.tuned(tuning_of(asked.searched.setting.order, asked.library, best.candidate)).plan

    assert again.chance_in_tolerance == best.plan.chance_in_tolerance
    assert again.total_time == pytest.approx(best.plan.total_time)


def test_a_wafer_in_mid_job_is_planned_from_its_own_readings(worked):
    """After the first cut as planned: thickness as read, damage of that abrasive, no coarser grain, other stages."""
    first = next(stage for stage in stages() if stage.stage.removal > 0.0)
    asked = route_questions.ask("AP-1", route_questions.Aim(wafer_id="AP-1-01"))

    assert asked.state.thickness == pytest.approx(first.stage.thickness_after, abs=1e-6)
    assert asked.state.damage.median == pytest.approx(first.stage.damage_left, rel=1e-6)
    assert asked.state.grain == asked.library.abrasive(first.stage.abrasive).grain
    assert route_questions.wafers_under_way("AP-1") == ("AP-1-01",)
    plan = asked.searched.plans[0]
    numbers = [stage.number for stage in stages() if stage.state != "waiting"]
    laid = route_questions.replan_wafer("AP-1-01", plan, **worked.why("measured thicker"))
    waiting = [stage for stage in laid if stage.state == "waiting"]

    assert min(stage.number for stage in waiting) == max(numbers) + 1
    assert math.fsum(s.stage.removal for s in waiting) == pytest.approx(asked.state.thickness - 100e-6, abs=1e-9)
    assert routes.chosen_route("AP-1").plan.name != ""
    assert len([s for s in laid if s.state != "waiting"]) == len(numbers)


def test_wafers_of_other_orders_and_without_stages_are_refused(kept):
    """A name of another order is not found; a wafer without stages has nothing to be replaced."""
    with pytest.raises(NotFound):
        route_questions.ask("AP-1", route_questions.Aim(wafer_id="XX-9"))
    with pytest.raises(Conflict, match="no stages yet"):
        route_questions.replan_wafer("AP-1-01", routes.propose_routes("AP-1")[0], **kept.why())


def test_a_plan_recorded_before_a_field_was_added_is_read(kept):
    """Without the newer fields it comes back with their empty values."""
    from lapwright.records import writer
    from lapwright.records.coding import from_plain, to_plain

    plan = routes.propose_routes("AP-1")[0]
    plain = to_plain(plan)
    for name in ("chances", "time_low", "time_high", "total_cost", "labels", "why", "clear_time"):
        del plain[name]
    for stage in plain["stages"]:
        for name in ("abrasive_name", "plate_name", "damage_chance"):
            del stage[name]
    old = from_plain(plain)

    assert replace(old, chances=plan.chances).chance_in_tolerance == plan.chance_in_tolerance
    assert old.total_cost is None
    route = writer.choose_route("AP-1", old, signature(kept))
    assert route.plan == old


def signature(lot):
    """Who, when, why."""
    from lapwright.model.readings import Signature

    why = lot.why()
    return Signature(by=why["by"], at=why["at"], reason=why["reason"])


def test_a_polish_is_lengthened_until_damage_is_rare(kept):  # noqa: ARG001  the wafers
    """Damage remains in fewer than one in a hundred, by more polish and no more than that takes."""
    asked = route_questions.ask("AP-1")
    best = asked.searched.routes[0]
    longer = asked.clear_of_damage(best, most=0.01)

    def polished(route):
        return math.fsum(stage.removal for stage in route.plan.stages if stage.kind == "polish")

    def left(route):
        return [stage.damage_chance for stage in route.plan.stages if stage.removal > 0.0][-1]

    assert 0.005 < left(longer) <= 0.01 < left(best)
    assert polished(longer) > polished(best)


def test_own_stops_and_wedges_take_the_place_of_what_is_assumed(worked):
    """None on record: as assumed, and nothing said; a stop that was read around is counted and told."""
    from lapwright.app import learning
    from lapwright.app.own_spreads import learned_assumptions
    from lapwright.process.workplaces import USUAL_ASSUMPTIONS

    worked.read("AP-1-01", "stack", "after_stage", flat(500e-6 + CARRIER_THICKNESS))
    stops = learning.learned()[0].stops
    found = learned_assumptions(USUAL_ASSUMPTIONS)

    assert len(found.learned) == (3 if stops else 0)
    assert (found == USUAL_ASSUMPTIONS) == (not stops)
    assert (found.wedge_doubt < USUAL_ASSUMPTIONS.wedge_doubt) == bool(stops)
