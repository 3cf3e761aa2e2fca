"""The customer changes the terms: a moved target moves every height that waits, and nothing that is done."""

from dataclasses import replace

import pytest

from lapwright.app import order_changes
from lapwright.errors import Conflict
from lapwright.model.plan import Plan, Stage
from lapwright.testing.lot import CARRIER_THICKNESS, flat


def plan(*stages):
    """A route over these stages."""
    return Plan(
        name="one", stages=stages, start_thickness=500e-6, target_thickness=100e-6, total_time=0.0,
        chance_in_tolerance=0.9, damage_left=0.0,
    )  # fmt: skip


ROUTE = plan(
    Stage(kind="measure", name="measure", thickness_after=500e-6),
    Stage(kind="lap", name="coarse", removal=380e-6, preset=381e-6, time=3800.0, thickness_after=120e-6),
    Stage(kind="clean", name="clean", thickness_after=120e-6),
    Stage(kind="polish", name="polish", removal=20e-6, time=1200.0, thickness_after=100e-6),
)


@pytest.mark.parametrize("moved", [10e-6, -10e-6])
def test_the_first_removing_stage_takes_the_difference(moved):
    """10 µm thicker: 370 instead of 380 in the coarse lap, by hand; what a later stage takes asks for damage and stays."""
    found = order_changes.moved_plan(ROUTE, moved)
    assert found.target_thickness == pytest.approx(100e-6 + moved)
    assert [one.removal for one in found.stages] == pytest.approx([0.0, 380e-6 - moved, 0.0, 20e-6])
    assert [one.thickness_after for one in found.stages] == pytest.approx(
        [500e-6, 120e-6 + moved, 120e-6 + moved, 100e-6 + moved]
    )
    assert found.stages[1].preset == pytest.approx(381e-6 - moved)
    assert found.stages[1].time == pytest.approx(3800.0 - moved * 1e7)  # 10 s a µm
    assert found.reckoned_for == 100e-6
    assert "reckoned for a target of 100.0\u00a0µm" in found.warnings[-1]
    again = order_changes.moved_plan(found, moved)
    assert (again.reckoned_for, len(again.warnings)) == (100e-6, 1)
    back = order_changes.moved_plan(found, -moved)
    assert (back.reckoned_for, back.warnings) == (None, ())
    assert [one.removal for one in back.stages] == pytest.approx([one.removal for one in ROUTE.stages])


def test_a_route_without_stock_for_it_is_refused():
    """400 µm thicker leaves the coarse lap nothing to take."""
    with pytest.raises(Conflict, match="fits no more"):
        order_changes.moved_plan(ROUTE, 400e-6)


def test_stages_that_wait_move_with_the_target(lot):
    """On a wafer under way the stages stay the same ones, so that a first step that ran still counts; heights move."""
    from lapwright.app import orders, routes
    from lapwright.model.readings import Signature
    from lapwright.records import queries, writer

    wafer = "AP-1-01"
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(wafer, "wafer", "incoming", flat(500e-6), repeats=1)
    routes.choose_route("AP-1", ROUTE, **lot.why())
    lot.bond(wafer, flat(500e-6))
    before = queries.stages(wafer)
    writer.move_wafer(wafer, "in_work", Signature(**lot.why()))
    recorded = orders.recorded_order("AP-1")
    limits = tuple(
        replace(one, lower=108e-6, upper=112e-6) if one.quantity == "thickness" else one
        for one in recorded.order.limits
    )
    thicker = replace(recorded.order, target_thickness=110e-6, limits=limits)
    order_changes.change_terms(thicker, version=recorded.version, **lot.why("mail"))
    after = queries.stages(wafer)
    assert [one.stage_id for one in after] == [one.stage_id for one in before]
    moved = [one.stage.thickness_after - old.stage.thickness_after for one, old in zip(after, before, strict=True)]
    assert moved == pytest.approx([10e-6] * len(before))
    assert routes.chosen_route("AP-1").plan.target_thickness == pytest.approx(110e-6)
    note = orders.order_notes("AP-1")[-1].text
    assert note == "Terms changed: target thickness 100.0\u00a0µm → 110.0\u00a0µm; limit of thickness. mail"
