"""A short, seeded piece of the campaign of the queue; the whole of it is docs/reference/campaign-queue.md."""

from lapwright.process.queue_check import schedule_faults
from lapwright.process.queue_rules import dispatch
from lapwright.testing.queue_campaign import compared, kept_promises, random_shop


def test_the_queue_is_less_late_than_plain_rules():
    """One shop of twelve jobs: less late than both, with fewer changeovers than who came first."""
    found = compared(7, jobs=12, work=0.15)
    assert found.ours[0] < min(found.first_come[0], found.due[0])
    assert found.is_better("first_come")
    assert schedule_faults(found.shop, found.found.bookings) == ()


def test_promises_hold_when_another_hand_plays():
    """Most jobs of one shop end within their 90 % interval; the share itself is measured over many shops."""
    shop = random_shop(3, jobs=8)
    kept = kept_promises(shop, dispatch(shop, "due"), plays=10, seed=3)
    assert kept.jobs == 80
    assert kept.within >= 56
    assert kept.by_50 <= kept.by_80 <= kept.by_90
