"""An order that asks more than the gauges on record can prove is told so."""

from dataclasses import replace
from datetime import UTC, datetime

from lapwright.app import gauges, orders
from lapwright.model.readings import Gauge
from lapwright.sim.cast import ORDER

SIGNED = {"by": "local", "reason": "test", "at": datetime(2026, 3, 2, 9, 0, tzinfo=UTC)}
POOR = Gauge(gauge_id="poor", name="poor", limit=3e-6, local=1.5e-6, repeatability=0.5e-6)
FINE = Gauge(gauge_id="fine", name="fine", limit=0.3e-6, local=0.1e-6, repeatability=0.05e-6)


def _doubts():
    return orders.gauge_doubts(ORDER, on=SIGNED["at"].date())


def test_without_a_gauge_nothing_can_be_said(records):
    """No gauge on record, no sentence: the order is judged when there is one."""
    assert records
    assert _doubts() == ()


def test_a_poor_gauge_is_told_and_a_better_one_settles_it(records):
    """Thickness 100 ± 2 and TTV 2 µm against ± 3 µm, then against ± 0.3 µm."""
    assert records
    gauges.register_gauge(POOR, **SIGNED)
    assert all("cannot prove" in sentence for sentence in _doubts())
    assert len(_doubts()) == 2
    gauges.register_gauge(FINE, **SIGNED)
    assert _doubts() == ()


def test_a_limit_of_another_kind_is_left_alone(records):
    """Roughness has its own gauges."""
    assert records
    gauges.register_gauge(POOR, **SIGNED)
    rough = tuple(limit for limit in ORDER.limits if limit.quantity.startswith("roughness"))
    assert orders.gauge_doubts(replace(ORDER, limits=rough), on=SIGNED["at"].date()) == ()
