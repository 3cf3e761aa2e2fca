"""A piece brought to a gauge: what is asked for, and what truly lies under the probe."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from lapwright.model.readings import Conditions
from lapwright.model.request import SetRequest
from lapwright.model.shelf import PersonCard
from lapwright.model.wafer import SitePattern
from lapwright.sim import cast
from lapwright.sim.fields import Field
from lapwright.sim.room import temperature
from lapwright.sim.scenario.day import Day
from lapwright.sim.shop import TakenSet, set_zero, take_set

#: Decimals that a gauge shows, in µm.
DECIMALS = {"G1": 1, "G2": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A piece brought to a gauge: what is asked for, what truly lies under the probe, by whom, for how long [min].

    `dirt` lies on the stand until somebody is told of it; `slips` are texts typed in place of the first reading of a
    site. With `sites` the gauge writes a file of these places; without, the readings are keyed in one by one.
    """

    request: SetRequest
    truth: Field
    sites: SitePattern | None = None
    who: PersonCard = cast.TECHNICIAN
    minutes: float = 8.0
    dirt: Field = field(default_factory=Field)
    slips: Mapping[str, str] = field(default_factory=dict)


def shown_by_gauge(day: Day, visit: Visit, pattern: SitePattern) -> TakenSet:
    """The gauge set to zero now, and all that it will show during the visit."""
    begin = day.time_of_day
    what = f"{visit.request.piece} {visit.request.subject} {visit.request.moment}"
    day.shop = set_zero(day.shop, visit.request.gauge_id, begin)
    return take_set(
        day.shop,
        visit.request.gauge_id,
        visit.truth + visit.dirt,
        (pattern.x, pattern.y),
        name=f"{what} {day.count(what)}",
        span=(begin, begin + 60.0 * visit.minutes),
        repeats=visit.request.repeats,
    )


def conditions_now(day: Day, visit: Visit) -> Conditions:
    """How the piece lies and how warm it is; nothing comes to the gauge before it has soaked."""
    return Conditions(
        hold="clamped" if visit.request.subject == "stack" else "free",
        temperature=round(temperature(day.shop.room, day.time_of_day), 2),
        soaked=True,
    )


def as_shown(value: float, gauge_id: str) -> str:
    """The display of a gauge: a bare number in µm, as it is typed."""
    return f"{value * 1e6:.{DECIMALS[gauge_id]}f}"
