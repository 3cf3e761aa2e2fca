"""What a bench writes all day, one write after the other, for the benchmarks of the pages.

A set of nine sites is opened, zeroed, read and closed; then a gauge and a plate are checked, something is taken of a
lot, and a note is written: 17 writes, and from the start again with the next wafer that waits to be measured.
"""

from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import cycle

from lapwright.testing.large_desk import GAUGES, PLATES
from lapwright.testing.lot import Lot

ROWS = tuple(
    (float(place), laying, f"{(place / 145.0) ** 2:.1f}") for laying in range(2) for place in range(-145, 146, 29)
)


@dataclass(slots=True)
class Bench(Lot):
    """A bench whose clock is that of the machine."""

    def why(self, reason="bench"):
        """Who, why and when."""
        return {"by": "local", "reason": reason, "at": datetime.now(tz=UTC)}


def writes():
    """Write something more each time that it is asked for the next, and tell what it was."""
    from lapwright.app import gauge_care, orders, plates, supplies

    bench = Bench()
    lots = supplies.lot_cards(on=datetime.now(tz=UTC).date())
    for number, (order_id, wafer_id) in enumerate(cycle(_waiting())):
        yield from _set_read(bench, wafer_id)
        gauge_care.record_check(f"G{number % GAUGES + 1}", "R1", f"500.{number % 10:02d}", **bench.why())
        yield "gauge checked"
        plates.record_check(
            f"PL-{number % PLATES + 1}", plates.CheckRequest(method="straightedge", rows=ROWS, ran=1.8e4), **bench.why()
        )
        yield "plate checked"
        supplies.take_of_lot(lots[number % len(lots)].recorded.lot.lot_id, "used", 1e-6, **bench.why())
        yield "taken of a lot"
        orders.add_note(order_id, "Looked at.", **bench.why())
        yield "note"


def _set_read(bench, wafer_id):
    from lapwright.app import readings

    opened = readings.open_set(bench.request(wafer_id, "wafer", "incoming", repeats=1), **bench.why())
    yield "set opened"
    readings.record_zero(opened.set_id, "0.0", when="before", **bench.why())
    yield "zero"
    site = opened.pattern.labels[0]
    while site is not None:
        value = f"{500.0 + 0.05 * bench.noise.standard_normal():.2f}"
        site = readings.record_reading(opened.set_id, value, confirmed=True, **bench.why()).progress.site
        yield "reading"
    readings.record_zero(opened.set_id, "0.0", when="after", **bench.why())
    yield "zero"
    readings.close_set(opened.set_id, **bench.why())
    yield "set closed"


def _waiting():
    """Wafers that wait to be measured, with their orders."""
    from lapwright.app import orders

    going = [line.order_id for line in orders.list_orders("going")]
    return [
        (one, each.wafer.wafer_id) for one in going for each in orders.order_wafers(one)
        if each.state == "received" and not orders.open_sets_of(each.wafer.wafer_id)
    ]  # fmt: skip
