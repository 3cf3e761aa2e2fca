"""What stands on the page Room about each thing to enter: its word, why it is needed, and where it is entered."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.urls import reverse
from django.utils.functional import Promise
from django.utils.http import urlencode
from django.utils.translation import gettext_lazy as _

from lapwright.app.room import RoomStep, StepKind

#: Word, and what it is good for.
WORDS: dict[StepKind, tuple[Promise, Promise]] = {
    "person": (_("People"), _("Every record carries the name of whoever made it.")),
    "gauge": (_("Gauges"), _("No reading without one; how far it may be wrong goes into every verdict.")),
    "calibration": (_("Their calibrations"), _("Without one a certificate says that the gauge is not traceable.")),
    "carrier": (_("Carriers"), _("What wafers are bonded to; each is read before, so that a bond can be told.")),
    "jig": (_("Jigs"), _("Which screw to turn, and how far, follows from where its screws stand.")),
    "lap": (_("Stations for lapping"), _("Routes keep to the plates that lie on them.")),
    "polish": (_("Stations for polishing"), _("For orders with a limit of roughness or damage.")),
    "feed": (
        _("The gauge of each lapping station"),
        _("So that a run is followed and stops; without one it is timed by hand."),
    ),
    "plate": (_("Plates with their rings"), _("So that it is told when a plate is due and where its ring goes.")),
    "lot": (
        _("Lots of slurry, adhesive, pads"),
        _("So that it is told what runs out, and what a wafer was touched by."),
    ),
    "prices": (_("Prices"), _("Until then routes and quotations reckon with usual ones.")),
    "order": (_("The first order"), _("What is promised; from then on Hands says what to do next.")),
}
#: The things that every job needs, as a sentence names them.
NEEDED_WORDS = {
    "gauge": _("a gauge"),
    "carrier": _("a carrier"),
    "jig": _("a jig"),
    "station": _("a station for lapping"),
    "order": _("an order"),
}
#: Name of the page where it is entered, and the place on it.
_WHERE: dict[StepKind, tuple[str, str]] = {
    "gauge": ("room", "gauge-form"),
    "calibration": ("gauges", ""),
    "carrier": ("room", "carriers-form"),
    "jig": ("room", "jig-form"),
    "lap": ("room", "station-form"),
    "polish": ("room", "station-form"),
    "feed": ("stations", ""),
    "plate": ("plates", "new-form"),
    "lot": ("shelf", "new-form"),
    "prices": ("prices", ""),
    "order": ("order_new", ""),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLine:
    """One line of the list: the step, its words, the address where it is entered, and its mark."""

    step: RoomStep
    word: Promise
    why: Promise
    address: str
    state: str


def step_lines(steps: Iterable[RoomStep]) -> list[StepLine]:
    """The steps in their order; the first needed one that is not done is the next."""
    listed = list(steps)
    first = next((one.kind for one in listed if one.is_needed and not one.is_done), None)
    return [
        StepLine(
            step=one,
            word=WORDS[one.kind][0],
            why=WORDS[one.kind][1],
            address=_address(one),
            state="done" if one.is_done else "next" if one.kind == first else "later",
        )
        for one in listed
    ]


def _address(step: RoomStep) -> str:
    """Where it is entered: of what is open of one thing alone, the page of that one."""
    if step.kind == "calibration" and step.open:
        return f"{reverse('gauge', args=[step.open[0]])}#calibrate-form"
    if step.kind == "feed" and step.open:
        return reverse("station_gauge", args=[step.open[0]])
    if step.kind == "person":
        return f"{reverse('who')}?{urlencode({'next': reverse('room')})}#new"
    name, place = _WHERE[step.kind]
    return f"{reverse(name)}#{place}" if place else reverse(name)
