"""A bounded row of events."""

import asyncio

from lapwright.gauges.readings import Gap, GaugeReading
from lapwright.gauges.ring import Ring


def reading(time):
    """A reading at a time."""
    return GaugeReading(time=time, utc=None, length=0.0, text="", unit="µm")


async def everything(ring):
    """All events until the ring is closed and empty."""
    found = []
    while (event := await ring.take()) is not None:
        found.append(event)
    return found


def test_the_oldest_go_and_a_gap_says_so():
    """Of five in a ring of three two go: never the newest."""
    ring = Ring(3)
    for time in range(5):
        ring.put(reading(float(time)))
    ring.close()
    gap, *rest = asyncio.run(everything(ring))

    assert (gap.started, gap.ended, gap.lost) == (0.0, 1.0, 2)
    assert [one.time for one in rest] == [2.0, 3.0, 4.0]
    assert ring.dropped == 2


def test_only_readings_count_as_lost():
    """A dropped gap report is no lost reading."""
    ring = Ring(1)
    ring.put(Gap(started=0.0, ended=None, reason=""))
    ring.put(reading(1.0))
    assert ring.dropped == 0
    ring.close()
    assert [event.lost for event in asyncio.run(everything(ring)) if isinstance(event, Gap)] == [0]


def test_a_source_that_can_wait_is_told_how_much_may_come():
    """Half of the ring is kept free."""

    async def script():
        ring = Ring(40)
        free = await ring.room()
        for time in range(30):
            ring.put(reading(float(time)))
        waiting = asyncio.create_task(ring.room())
        await asyncio.sleep(0)
        early = waiting.done()
        for _ in range(10):
            await ring.take()
        return free, early, await waiting

    assert asyncio.run(script()) == (10, False, 5)
