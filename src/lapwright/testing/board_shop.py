"""An invented order with a route, for the Board: two cuts, the first in two parts with a reading between."""

from __future__ import annotations

from dataclasses import replace

from lapwright.model.plan import Plan, Stage
from lapwright.testing.lot import ORDER, Lot

STAGES = (
    Stage(kind="measure", name="Measure the stack on its carrier", time=600.0, thickness_after=500e-6),
    Stage(
        kind="lap", name="Coarse lap, first part", abrasive="al2o3-15", plate="cast-iron", removal=300e-6, time=3000.0,
        rate=1e-7, rate_low=0.8e-7, rate_high=1.25e-7, thickness_after=200e-6,
    ),
    Stage(kind="clean", name="Rinse and dry", time=600.0, thickness_after=200e-6),
    Stage(kind="measure", name="Measure directly, then finish", time=600.0, thickness_after=200e-6),
    Stage(
        kind="lap", name="Coarse lap, finish", abrasive="al2o3-15", plate="cast-iron", removal=50e-6, time=500.0,
        rate=1e-7, thickness_after=150e-6,
    ),
    Stage(kind="clean", name="Rinse and dry", time=600.0, thickness_after=150e-6),
    Stage(kind="measure", name="Measure before the next abrasive", time=600.0, thickness_after=150e-6),
    Stage(
        kind="polish", name="Polish, finish", abrasive="silica-colloidal", plate="pad-polyurethane", removal=5e-6,
        time=3600.0, rate=1e-9, thickness_after=100e-6,
    ),
    Stage(kind="measure", name="Measure the finished wafer", time=600.0, thickness_after=100e-6),
)  # fmt: skip
PLAN = Plan(
    name="R1",
    stages=STAGES,
    start_thickness=500e-6,
    target_thickness=100e-6,
    total_time=9000.0,
    chance_in_tolerance=0.9,
    damage_left=0.0,
)


def fill_board(lot: Lot, *, simulated: bool = False) -> None:
    """An order of five wafers that is due today and cannot be done by then, with its route."""
    from lapwright.app import orders, routes

    order = replace(ORDER, order_id="BOARD-1", quantity=5, due=lot.now.date())
    orders.receive_order(order, simulated=simulated, **lot.why())
    routes.choose_route("BOARD-1", PLAN, **lot.why())
