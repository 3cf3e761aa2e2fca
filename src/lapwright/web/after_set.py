"""After a set of readings or a cleaning: what follows from it by itself, and where the person goes on."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime

from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from lapwright.app import bonding, orders, shelf, tasks
from lapwright.errors import LapwrightError
from lapwright.model.job import RecordedSet
from lapwright.web.surroundings import now
from lapwright.web.words import NEXT_MOMENT


def judge_by(closed: RecordedSet, *, by: str, reason: str, at: datetime) -> None:
    """Have the bond judged that a closed set of stack or carrier tells of: it takes nobody's mind.

    Where another set is missing the bond waits for that, and Hands says so.
    """
    wafer_id = closed.wafer_id if closed.moment == "stack" else None
    if closed.moment == "carrier":
        borne = {one.carrier.carrier_id: one.wafer_id for one in shelf.list_carriers()}
        wafer_id = borne.get(closed.piece)
    if wafer_id is None:
        return
    story = orders.show_wafer(wafer_id)
    if story.wafer.state != "stack_read":
        return
    with suppress(LapwrightError):
        bonding.judge_bond(story.bonds[-1].bond_id, by=by, reason=reason, at=at)


def onward(order_id: str, wafer_id: str) -> str:
    """Where a person goes on after a cleaning: to the readings when they are next, else to the wafer."""
    for task in tasks.waiting_tasks(now=now(), order_id=order_id, wafer_id=wafer_id):
        if task.page == "readings":
            return f"{reverse('readings', args=[order_id])}?{urlencode({'wafer': wafer_id})}"
    return reverse("wafer", args=[order_id, wafer_id])


def following(order_id: str, recorded: RecordedSet) -> tuple[str, str]:
    """Where one goes on after a closed set, and what that is; both empty when nothing waits for the same.

    After a carrier the next one, until each wafer that waits to be bonded has one that was read.
    """
    if recorded.state == "open":
        return "", ""
    wafers = orders.order_wafers(order_id)
    place = reverse("readings", args=[order_id])
    if recorded.moment == "carrier":
        waiting = [one.wafer.wafer_id for one in wafers if one.state == "measured_in"]
        free = [one for one in shelf.list_carriers() if one.wafer_id is None]
        unread = [one.carrier.carrier_id for one in free if one.set_id is None]
        if unread and len(free) - len(unread) < len(waiting):
            return f"{place}?{urlencode({'piece': unread[0]})}", _("Read the next carrier")
        return (reverse("wafer", args=[order_id, waiting[0]]), _("Bond the next wafer")) if waiting else ("", "")
    reads = {task.wafer_id for task in tasks.waiting_tasks(now=now(), order_id=order_id) if task.page == "readings"} - {
        recorded.wafer_id
    }
    for one in wafers:
        if one.wafer.wafer_id in reads and NEXT_MOMENT.get(one.state) == recorded.moment:
            return f"{place}?{urlencode({'wafer': one.wafer.wafer_id})}", _("Read the next wafer")
    return "", ""
