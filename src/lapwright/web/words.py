"""Words for what the records name: states, moments, patterns, quantities, materials."""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext_lazy

from lapwright.model.job import WaferState
from lapwright.model.order import Quantity
from lapwright.model.readings import Moment, Subject
from lapwright.web.sentences import said

#: What stands beside the drawn mark of a state.
MARK_WORDS = {
    "conforms": gettext_lazy("conforms"),
    "does_not_conform": gettext_lazy("does not conform"),
    "cannot_be_decided": gettext_lazy("cannot be decided"),
    "keep": gettext_lazy("keep the bond"),
    "rebond": gettext_lazy("make the bond again"),
    "done": gettext_lazy("done"),
    "next": pgettext_lazy("step", "next"),
    "later": pgettext_lazy("step", "later"),
    "late": gettext_lazy("late"),
    "open": gettext_lazy("not measured yet"),
}
STATES: dict[WaferState, object] = {
    "received": gettext_lazy("received"),
    "measured_in": gettext_lazy("measured in"),
    "bonded": gettext_lazy("bonded"),
    "stack_read": gettext_lazy("stack read"),
    "rebond": gettext_lazy("to be bonded again"),
    "ready": gettext_lazy("ready for the plate"),
    "in_work": gettext_lazy("in work"),
    "worked": gettext_lazy("off the station"),
    "read_on_carrier": gettext_lazy("read on the carrier"),
    "debonded": gettext_lazy("off its carrier"),
    "read_free": gettext_lazy("read free"),
    "judged": gettext_lazy("judged"),
    "certified": gettext_lazy("certified"),
    "set_aside": gettext_lazy("set aside"),
    "rejected": gettext_lazy("rejected"),
}
MOMENTS: dict[Moment, object] = {
    "incoming": gettext_lazy("as it came in"),
    "carrier": gettext_lazy("the bare carrier"),
    "stack": gettext_lazy("the bonded stack"),
    "after_stage": gettext_lazy("after a stage"),
    "on_carrier": gettext_lazy("finished, still on the carrier"),
    "final": gettext_lazy("finished, free"),
}
#: What is under the gauge at that moment.
SUBJECTS: dict[Moment, Subject] = {
    "incoming": "wafer",
    "carrier": "carrier",
    "stack": "stack",
    "after_stage": "stack",
    "on_carrier": "stack",
    "final": "wafer",
}
#: The moment whose set a wafer in that state most likely waits for.
NEXT_MOMENT: dict[WaferState, Moment] = {
    "received": "incoming",
    "bonded": "stack",
    "in_work": "after_stage",
    "worked": "on_carrier",
    "debonded": "final",
}
#: The moment at which a wafer in that state is most likely read once more, where it waits for no set.
AGAIN_MOMENT: dict[WaferState, Moment] = {
    "measured_in": "incoming",
    "stack_read": "stack",
    "rebond": "stack",
    "read_on_carrier": "on_carrier",
    "read_free": "final",
    "judged": "final",
    "certified": "final",
}
QUANTITIES: dict[Quantity, object] = {
    "thickness": gettext_lazy("thickness"),
    "ttv": gettext_lazy("TTV"),
    "wedge": gettext_lazy("wedge"),
    "flatness": gettext_lazy("flatness"),
    "bow": gettext_lazy("bow"),
    "warp": gettext_lazy("warp"),
    "roughness_ra": gettext_lazy("Ra"),
    "roughness_sq": gettext_lazy("Sq"),
}


def state_counts(states: Iterable[tuple[WaferState, int]]) -> str:
    """How many wafers stand where, in words: "4 judged, 1 on a station"."""
    return ", ".join(f"{count} {STATES[state]}" for state, count in states if count)


def clock(azimuth: float | None) -> str:
    """An azimuth [rad] as a clock position and degrees, looking at the worked face, the mark at 6 o'clock."""
    if azimuth is None:
        return _("no direction")
    degrees = math.degrees(azimuth)
    hour = round((90.0 - degrees) / 30.0) % 12 or 12
    return _("%(hour)d o'clock (%(degrees).0f°)") % {"hour": hour, "degrees": round(degrees) % 360}


def tool_name(abrasive: str | None, plate: str | None) -> str:
    """Abrasive and plate (or slurry and pad) by their names in the library, by their ids where it holds none."""
    return " · ".join(said(_tool_names().get(one, one)) for one in (abrasive, plate) if one)


def items_known() -> dict[str, str]:
    """What is used up as the library knows it: by its id the name."""
    return {**_tool_names(), **_adhesive_names()}


def item_name(item: str) -> str:
    """Something that is used up by its name in the library, else as the lab calls it."""
    return said(_tool_names().get(item) or _adhesive_names().get(item, item))


def material_name(material_id: str) -> str:
    """A material by its name in the library."""
    return said(_material_names().get(material_id, material_id))


def material_choices() -> tuple[tuple[str, str], ...]:
    """The materials of the library, by the names that the language of the page has for them."""
    named = [(material_id, str(said(name))) for material_id, name in _material_names().items()]
    return tuple(sorted(named, key=lambda pair: pair[1].casefold()))


# ----------------------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def _material_names() -> dict[str, str]:
    from lapwright.library import load

    return {row.material_id: row.name for row in load().materials}


@lru_cache(maxsize=1)
def _tool_names() -> dict[str, str]:
    from lapwright.library import load

    return load().tool_names()


@lru_cache(maxsize=1)
def _adhesive_names() -> dict[str, str]:
    from lapwright.library import load

    return {row.adhesive_id: row.name for row in load().adhesives}


#: What a role or a token may do, by its name in records and commands.
RIGHTS_WORDS = {
    "none": gettext_lazy("none"), "viewer": gettext_lazy("viewer"), "operator": gettext_lazy("operator"),
    "engineer": gettext_lazy("engineer"), "admin": gettext_lazy("admin"),
    "read": pgettext_lazy("scope", "read"), "write": pgettext_lazy("scope", "write"),
}  # fmt: skip
#: What a signature under a certificate means.
MEANINGS = {"issued": gettext_lazy("issued"), "checked": gettext_lazy("checked"), "released": gettext_lazy("released")}

#: What is looked at before a finer step, and why.
CLEAN_STEPS = {
    "rinsed": (
        gettext_lazy("Wafer and carrier rinsed until the water runs clear"),
        gettext_lazy("One grain of the abrasive before scratches for the whole run."),
    ),
    "rim": (
        gettext_lazy("Rim of the carrier and edge of the adhesive brushed"),
        gettext_lazy("Slurry hides where wafer and adhesive meet."),
    ),
    "jig": (gettext_lazy("Jig and ring rinsed"), gettext_lazy("They go from plate to plate and drip.")),
    "bench": (
        gettext_lazy("Plate, drip and bench free of the old abrasive"),
        gettext_lazy("Dried slurry falls onto the plate when it is touched."),
    ),
    "gloves": (gettext_lazy("Fresh gloves"), gettext_lazy("The old ones carry what the wafer was just rinsed of.")),
    "looked": (
        gettext_lazy("Looked at under slanting light: no grain, no film"),
        gettext_lazy("A film counts as thickness, and a grain is seen before it is heard."),
    ),
}
#: What a look found.
LOOKS = {
    "clean": gettext_lazy("Clean; the step is done."),
    "not_clean": gettext_lazy("Not clean; the wafer waits."),
    "overruled": gettext_lazy("Overruled; the step is done, and the reason stays with the wafer."),
}
#: Parts of a handover.
CARD_PARTS = {
    "unsafe": gettext_lazy("Look at first"),
    "running": gettext_lazy("Running"),
    "waiting": gettext_lazy("Waiting"),
    "promised": gettext_lazy("Promised soon"),
}
