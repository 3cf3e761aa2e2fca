"""Where a route can be worked, and what planning assumes as long as the lab's own history does not say better.

Every number here is common practice or our own judgement, is shown with the plan, and can be overwritten.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from lapwright.errors import OutOfValidRange
from lapwright.model.readings import Gauge
from lapwright.process.kinematics import Motion
from lapwright.process.spread_learning import USUAL_DOUBT, LearnedSpread

#: How a workplace removes stock.
Working = Literal["lap", "polish", "etch"]

_RPM = 2.0 * math.pi / 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Workplace:
    """A plate or pad to work on, as planning sees it. SI.

    `plate` is a library id. Empty `abrasives`: every abrasive the plate takes. Empty `pressures`: low end, middle and
    high end of what is usual for the material. `speeds` are the shares of the plate speed that may be tried beside the
    usual one. `pieces` are worked at once; `spring_lift` [N] and `carried_share` as
    in `loads`; `stop_delay` [s] is how long the plate still works after the stop is asked.
    """

    name: str
    process: Working
    plate: str
    motion: Motion
    abrasives: tuple[str, ...] = ()
    pressures: tuple[float, ...] = ()
    speeds: tuple[float, ...] = (0.75, 1.0, 1.25)
    pieces: int = 1
    spring_lift: float = 0.0
    carried_share: float = 0.0
    stop_delay: float = 2.0

    def __post_init__(self) -> None:
        if not self.speeds or not all(share > 0.0 for share in self.speeds):
            raise OutOfValidRange("speeds", min(self.speeds, default=math.nan), "at least one, each more than zero")
        if self.pieces < 1:
            raise OutOfValidRange("pieces", self.pieces, "at least 1")
        if not self.stop_delay >= 0.0:
            raise OutOfValidRange("stop_delay", self.stop_delay, "zero or more [s]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumptions:
    """What planning assumes. Lengths in m, times in s.

    `damage_multiple` m of the stage budget; `start_ttv` where the order gives none; `bond_wedge` the wedge a bond may
    bring; `form_after_coarse`, `form_after_fine` half the TTV and half the wedge that a lap leaves; `final_form` the
    form of the finished face without its wedge; `wedge_deviation` the deviation of each component of the wedge left
    after tilt correction; `lap_stop_error`, `polish_stop_error` standard deviation of a finishing stop;
    `watch_error` that of a stop by the jig's gauge alone; `stop_delay_spread` deviation of how late a stop takes
    effect; `day_spread` relative spread of a rate within a day; `form_spread` log deviation of the finished form;
    `polish_unevenness` form that a polish or an etch adds, as a share of what it takes; `rim_breakage` edge chips as a
    multiple of the grain. `watch_doubt`, `lap_stop_doubt` and `wedge_doubt` are the log deviations of what the spread
    of the same name may truly be in this lab. `learned` tells in sentences which of them come from the lab's own
    results.
    """

    damage_multiple: float = 1.5
    start_ttv: float = 5e-6
    bond_wedge: float = 2e-6
    form_after_coarse: float = 1e-6
    form_after_fine: float = 0.5e-6
    final_form: float = 0.5e-6
    wedge_deviation: float = 0.4e-6
    lap_stop_error: float = 0.6e-6
    polish_stop_error: float = 0.1e-6
    watch_error: float = 2e-6
    stop_delay_spread: float = 0.5
    day_spread: float = 0.05
    form_spread: float = 0.3
    polish_unevenness: float = 0.02
    rim_breakage: float = 4.35
    measuring_time: float = 600.0
    cleaning_time: float = 600.0
    watch_doubt: float = USUAL_DOUBT
    lap_stop_doubt: float = USUAL_DOUBT
    wedge_doubt: float = USUAL_DOUBT
    learned: tuple[str, ...] = ()


#: What is planned with when no gauge is named: a drop gauge good to a micrometre.
ASSUMED_GAUGE = Gauge(gauge_id="assumed", name="assumed gauge", limit=1e-6, local=0.3e-6)

#: Four places as many labs have them; jig a little slower than the plate, so that tracks do not repeat.
USUAL_WORKPLACES = (
    Workplace(
        name="iron plate",
        process="lap",
        plate="cast-iron",
        motion=Motion(offset=0.095, plate_speed=50.0 * _RPM, jig_speed=46.5 * _RPM),
    ),
    Workplace(
        name="glass plate",
        process="lap",
        plate="glass",
        motion=Motion(offset=0.095, plate_speed=40.0 * _RPM, jig_speed=37.2 * _RPM),
    ),
    Workplace(
        name="copper plate",
        process="lap",
        plate="copper",
        motion=Motion(offset=0.095, plate_speed=60.0 * _RPM, jig_speed=55.8 * _RPM),
    ),
    Workplace(
        name="polishing pad",
        process="polish",
        plate="pad-polyurethane",
        motion=Motion(offset=0.095, plate_speed=60.0 * _RPM, jig_speed=55.8 * _RPM),
    ),
)
#: Two more that some labs have: routes go over them where they lie on a station.
FURTHER_WORKPLACES = (
    Workplace(
        name="tin plate",
        process="lap",
        plate="tin",
        motion=Motion(offset=0.095, plate_speed=60.0 * _RPM, jig_speed=55.8 * _RPM),
    ),
    Workplace(
        name="soft pad",
        process="polish",
        plate="pad-poromeric",
        motion=Motion(offset=0.095, plate_speed=60.0 * _RPM, jig_speed=55.8 * _RPM),
    ),
)
USUAL_ASSUMPTIONS = Assumptions()

#: The spreads that a lab learns from its own results.
LEARNED = ("watch_error", "lap_stop_error", "wedge_deviation")


def own_assumptions(assumed: Assumptions, found: Mapping[str, LearnedSpread]) -> Assumptions:
    """Assumptions with spreads that a lab has learned, and how surely it knows them.

    Parameters
    ----------
    assumed : Assumptions
        What is not learned stays.
    found : mapping of str to LearnedSpread
        One for each of `LEARNED`.

    Returns
    -------
    Assumptions
    """
    watch, finish, wedge = (found[name] for name in LEARNED)
    return replace(
        assumed,
        watch_error=watch.deviation,
        watch_doubt=watch.doubt,
        lap_stop_error=finish.deviation,
        lap_stop_doubt=finish.doubt,
        wedge_deviation=wedge.deviation,
        wedge_doubt=wedge.doubt,
    )
