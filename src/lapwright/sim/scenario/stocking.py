"""What the lab has to use up when the story begins: a slurry for each station, wax, a solvent past its date.

All invented.
"""

from __future__ import annotations

from datetime import date, timedelta

from lapwright.app import supplies
from lapwright.model.supply import SupplyLot
from lapwright.sim import cast
from lapwright.sim.scenario.day import Day

WHO = cast.ENGINEER.name
DAY = 86_400.0  # s
_PER_MINUTE = 1e-6 / 60.0  # m³/s in a ml/min


def stock_the_shelf(day: Day) -> None:
    """Each lot as it was recorded on its arrival; runs and bonds of the story draw on them by name."""
    first = day.now.date()
    for lot in _lots(first):
        supplies.record_lot(lot, by=WHO, reason="came", at=day.now)


def _lots(first: date) -> tuple[SupplyLot, ...]:
    def ago(days: int) -> date:
        return first - timedelta(days=days)

    return (
        SupplyLot(
            lot_id="A15-2611", kind="slurry", item="al2o3-15", measure="volume", amount=10e-3, received=ago(40),
            expires=first + timedelta(days=200), feed=3.0 * _PER_MINUTE, lead_time=10 * DAY,
        ),
        SupplyLot(
            lot_id="A3-2604", kind="slurry", item="al2o3-3", measure="volume", amount=5e-3, received=ago(30),
            expires=first + timedelta(days=160), feed=3.0 * _PER_MINUTE, lead_time=10 * DAY,
        ),
        SupplyLot(
            lot_id="S80-118", kind="slurry", item="silica-colloidal", measure="volume", amount=20e-3, received=ago(12),
            expires=first + timedelta(days=75), feed=12.0 * _PER_MINUTE, lead_time=14 * DAY,
        ),
        SupplyLot(
            lot_id="W-118", kind="adhesive", item="mounting-wax", measure="mass", amount=0.5, received=ago(300),
            lead_time=7 * DAY, per_bond=0.4e-3,
        ),
        SupplyLot(
            lot_id="PU-22", kind="pad", item="pad-polyurethane", measure="count", amount=6.0, received=ago(60),
            lead_time=21 * DAY,
        ),
        SupplyLot(
            lot_id="IPA-77", kind="solvent", item="isopropanol", measure="volume", amount=5e-3, received=ago(400),
            expires=ago(20), lead_time=3 * DAY,
        ),
    )  # fmt: skip
