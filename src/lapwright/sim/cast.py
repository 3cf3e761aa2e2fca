"""The invented laboratory, its people and its order, and the troubles planted in what is truly so.

Everything here is made up for the demonstration. A trouble is planted only as a physical fact (a grain under a carrier,
sun on a stand, a wafer turned on the gauge, a number copied wrong); whether it is caught is up to the program.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime, timedelta, timezone

import numpy as np

from lapwright.model.gauge_care import CheckStandard
from lapwright.model.order import DecisionRule, Limit, Order
from lapwright.model.readings import Calibration, Gauge
from lapwright.model.shelf import Jig, PersonCard, Station
from lapwright.model.wafer import Carrier, Rectangle, Round, SitePattern
from lapwright.sim import bonding, gauge_life, gauges, lapping, polishing, room, shop, wafers

LABORATORY = "Auwald Photonics (invented)"
TIME_ZONE = "Europe/Berlin"
LOCAL = timezone(timedelta(hours=2), "CEST")
FIRST_MORNING = datetime(2026, 5, 4, 8, 0, tzinfo=LOCAL)
STORY_ENDS = datetime(2026, 5, 18, 11, 0, tzinfo=LOCAL)  # nothing is recorded later
SEED = 2407

ENGINEER = PersonCard(name="holl", full_name="Mirjam Holl, process engineer (invented)")
TECHNICIAN = PersonCard(name="reuter", full_name="Jonas Reuter, technician (invented)")
STUDENT = PersonCard(name="brandt", full_name="Ela Brandt, student (invented)")
PEOPLE = (ENGINEER, TECHNICIAN, STUDENT)

DIAMETER = 50.8e-3
ORDER = Order(
    order_id="AP-2407",
    customer="Fennbach Filters (invented)",
    material="LiTaO3",
    outline=Round(diameter=DIAMETER, mark="flat", flat_length=15.88e-3),
    quantity=6,
    spares=1,
    start_thickness=500e-6,
    target_thickness=100e-6,
    limits=(
        Limit(quantity="thickness", lower=98e-6, upper=102e-6),
        Limit(quantity="ttv", upper=2e-6),
        Limit(quantity="roughness_ra", upper=1e-9),
    ),
    edge_exclusion=2e-3,
    hold="free",
    rule=DecisionRule(kind="guarded", false_accept=0.02),
    orientation="X cut",
    due=date(2026, 5, 19),
    start_ttv=8e-6,
    value_per_wafer=640.0,
    notes="Invented order of the demonstration.",
)
WAFER_IDS = tuple(f"AP-2407-{number:02d}" for number in range(1, 8))
SECOND_ORDER = Order(
    order_id="AP-2409",
    customer="Fennbach Filters (invented)",
    material="GaAs",
    outline=Rectangle(width=25e-3, height=25e-3),
    quantity=4,
    start_thickness=350e-6,
    target_thickness=120e-6,
    limits=(Limit(quantity="thickness", lower=110e-6, upper=130e-6),),
    edge_exclusion=1e-3,
    hold="free",
    due=date(2026, 5, 29),
    notes="Invented order of the demonstration. Not after a silica polish without cleaning; arsenic waste route.",
)

#: Promised for a day by which it cannot be done, so that the Board has something late to explain.
URGENT_ORDER = Order(
    order_id="AP-2411",
    customer="Kesselgrund Sensors (invented)",
    material="LiTaO3",
    outline=Round(diameter=DIAMETER, mark="flat", flat_length=15.88e-3),
    quantity=6,
    spares=1,
    start_thickness=500e-6,
    target_thickness=150e-6,
    limits=(
        Limit(quantity="thickness", lower=146e-6, upper=154e-6),
        Limit(quantity="ttv", upper=3e-6),
        Limit(quantity="roughness_ra", upper=2e-9),
    ),
    edge_exclusion=2e-3,
    hold="free",
    due=date(2026, 5, 19),
    start_ttv=8e-6,
    value_per_wafer=410.0,
    notes="Invented order of the demonstration.",
)

CARRIER_IDS = tuple(f"C{number}" for number in range(1, 10))
CARRIER_DIAMETER = DIAMETER
CARRIER_THICKNESS = 6e-3
CARRIERS = tuple(
    Carrier(carrier_id=name, material="borosilicate", diameter=CARRIER_DIAMETER, nominal_thickness=CARRIER_THICKNESS)
    for name in CARRIER_IDS
)
#: Which carrier each wafer is bonded to; C4, the wedged one, and C9 stay on the shelf.
CARRIER_OF = dict(zip(WAFER_IDS, ("C1", "C2", "C3", "C5", "C6", "C7", "C8"), strict=True))

DROP_GAUGE = Gauge(
    gauge_id="G1", name="drop gauge on granite", limit=1e-6, resolution=0.1e-6, local=0.1e-6, repeatability=0.25e-6
)
PAIR_GAUGE = Gauge(
    gauge_id="G2",
    name="pair of non-contact probes",
    limit=0.25e-6,
    resolution=0.01e-6,
    local=0.05e-6,
    repeatability=0.12e-6,
    contact=False,
)
GAUGES = (DROP_GAUGE, PAIR_GAUGE)
CALIBRATIONS = (
    Calibration(
        gauge_id="G1",
        certificate="AW-26-031 (invented)",
        done=date(2026, 2, 9),
        due=date(2027, 2, 8),
        deviation=0.2e-6,
        expanded_uncertainty=0.3e-6,
    ),
    Calibration(
        gauge_id="G2",
        certificate="AW-26-032 (invented)",
        done=date(2026, 2, 10),
        due=date(2027, 2, 9),
        deviation=0.05e-6,
        expanded_uncertainty=0.08e-6,
    ),
)
STANDARD = CheckStandard(
    standard_id="R500", name="glass disc, 25 mm (invented)", value=500.12e-6, expanded_uncertainty=0.08e-6
)
YEARS = 4  # of calibrations on record
CARE_SINCE = datetime(2023, 2, 6, 9, 0, tzinfo=LOCAL)
STUDY_MORNING = {
    "G1": datetime(2026, 4, 21, 9, 0, tzinfo=LOCAL),
    "G2": datetime(2026, 4, 22, 9, 0, tzinfo=LOCAL),
}
STUDY_PARTS = tuple(f"T{number}" for number in range(1, 11))
STUDY_TOLERANCE = 4e-6
PROFILER = "stylus profiler, tip 2 µm"

IRON = Station(station_id="L1", name="coarse lap, 300 mm cast iron", kind="lap", plate="cast-iron", plate_diameter=0.3)
GLASS = Station(station_id="L2", name="fine lap, 300 mm glass", kind="lap", plate="glass", plate_diameter=0.3)
PAD = Station(station_id="P1", name="polish, 300 mm pad", kind="polish", plate="pad-polyurethane", plate_diameter=0.3)
STATIONS = (IRON, GLASS, PAD)
JIG = Jig(
    jig_id="J1",
    name="jig with three adjusters",
    adjuster_radius=0.045,
    adjuster_azimuths=tuple(math.radians(azimuth) for azimuth in (90.0, 210.0, 330.0)),
    advance_per_division=2e-6,
    division_step=0.1,
    mass=2.0,
)


def rings(*radii: float) -> SitePattern:
    """The centre and eight sites on each ring [m]; the site over the flat moves in to clear the exclusion."""
    apothem = math.sqrt((DIAMETER / 2.0) ** 2 - (15.88e-3 / 2.0) ** 2)
    labels, x, y = ["C"], [0.0], [0.0]
    for letter, radius in zip("ABC", radii, strict=False):
        for number in range(8):
            reach = min(radius, apothem - ORDER.edge_exclusion - 0.05e-3) if number == 6 else radius
            labels.append(f"{letter}{number + 1}")
            x.append(reach * math.cos(number * math.pi / 4.0))
            y.append(reach * math.sin(number * math.pi / 4.0))
    return SitePattern(name="rings", labels=tuple(labels), x=np.array(x), y=np.array(y))


#: Where G1 and G2 read: the same places as the named patterns of nine and seventeen sites.
WAFER_SITES = rings(0.9 * DIAMETER / 2.0)
FINAL_SITES = rings(0.45 * DIAMETER / 2.0, 0.9 * DIAMETER / 2.0)

# What is truly so -----------------------------------------------------------------------------------------------------

WAFER_KIND = wafers.WaferKind(
    diameter=DIAMETER,
    thickness=500e-6,
    thickness_spread=0.5e-6,
    wedge=2.8e-6,
    dome=0.4e-6,
    saddle=0.3e-6,
    unevenness=0.08e-6,
)
STANDARD_TRUE = 500.1e-6
STUDY_SPREAD = 1.2e-6  # of the pieces of a study
#: What each person adds to a reading [m]: the student presses a little too hard.
HANDS = {ENGINEER.name: 0.0, TECHNICIAN.name: 0.0, STUDENT.name: 0.15e-6}
AGEING = {
    "G1": gauge_life.Ageing(drift=0.6e-6, wander=0.08e-6, adjusted_to=0.05e-6, seen_to=0.04e-6),
    "G2": gauge_life.Ageing(drift=0.05e-6, wander=0.02e-6, adjusted_to=0.01e-6, seen_to=0.01e-6),
}
SUN = room.Ramp(start=10.0 * 3600.0 + 40.0 * 60.0, end=13.0 * 3600.0, rise=1.8)
ROOM = room.Room(swing=1.2, ramps=(SUN,), doors=(room.Door(time=7.75 * 3600.0, drop=0.8),))


@dataclass(frozen=True, slots=True, kw_only=True)
class Troubles:
    """What is planted: on which wafer, and the physical fact."""

    stuck_wafer: str = "AP-2407-03"
    stuck_wedge: tuple[float, float] = (6.4e-6, math.radians(-30.0))
    void_wafer: str = "AP-2407-05"
    void: bonding.Void
    copied_wafer: str = "AP-2407-06"
    copied_text: str = "0.508 mm"
    dusty_wafer: str = "AP-2407-06"
    dust_height: float = 5e-6
    dust_at: tuple[float, float] = (0.0, 22.86e-3)
    turned_wafer: str = "AP-2407-02"
    turned_by: float = math.pi / 2.0
    warm_wafer: str = "AP-2407-07"
    film_wafer: str = "AP-2407-04"
    film: float = 4e-6
    quick_wafers: tuple[str, ...] = ("AP-2407-01", "AP-2407-04")
    quick_factor: float = 1.5
    hasty_wafer: str = "AP-2407-07"
    hasty_tilt: float = 1.6e-6


TROUBLES = Troubles(
    void=bonding.Void(x=11e-3 * math.cos(math.radians(137.0)), y=11e-3 * math.sin(math.radians(137.0)), diameter=6e-3)
)

JIG_SQUARE_TO = 1.5e-6  # m across the wafer, when the jig is set on the flat before a wafer
PLATE_GROWTH = 3.0e-6 / 3600.0  # m/s: the ring of L1 sits too far out
LAP_SPEED = 0.5  # m/s
#: Rate [m/s] of each abrasive at 10 kPa and 0.5 m/s, as the simulated plates have it.
TRUE_RATES = {
    "sic-jis1000": 5.2e-6 / 60.0,
    "sic-jis2000": 2.6e-6 / 60.0,
    "al2o3-15": 5.8e-6 / 60.0,
    "al2o3-9": 4.4e-6 / 60.0,
    "al2o3-5": 2.0e-6 / 60.0,
    "al2o3-3": 1.1e-6 / 60.0,
    "al2o3-1": 0.4e-6 / 60.0,
}


def laboratory(seed: int) -> shop.Shop:
    """The shop as it truly is on the first morning, wafers in their box and carriers on the shelf."""
    empty = shop.Shop(
        seed=seed,
        room=ROOM,
        gauges={
            "G1": gauges.drop_gauge("G1", offset=0.25e-6, growth=0.6e-6, noise=0.25e-6),
            "G2": gauges.non_contact_gauge("G2", offset=0.06e-6),
        },
        stations={
            "L1": lapping.Station(
                name="L1",
                rate=TRUE_RATES["al2o3-15"],
                plate_dome=2e-6,
                dome_growth=PLATE_GROWTH,
                unevenness=0.03e-6,
                rate_scatter=0.03,
            ),
            "L2": lapping.Station(name="L2", rate=TRUE_RATES["al2o3-3"], plate_dome=2e-6, unevenness=0.03e-6),
        },
        jig=lapping.new_jig(tilt_amount=4e-6, diameter=DIAMETER, rng=shop.stream(seed, "jig")),
        pad=polishing.Pad(rate=0.11e-6 / 60.0, pressure=40e3),
        press=bonding.Press(off_centre=0.12e-3),
    )
    stocked = shop.with_wafers(empty, WAFER_IDS, WAFER_KIND)
    return shop.with_carriers(
        stocked, CARRIER_IDS, diameter=CARRIER_DIAMETER, thickness=CARRIER_THICKNESS, wedged={"C4": 1.8e-6}
    )
