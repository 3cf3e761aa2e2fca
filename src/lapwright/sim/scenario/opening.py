"""The first two days: order and shelf recorded, carriers and wafers read, bonds made and judged."""

from __future__ import annotations

from lapwright.app import bond_voids, bonding, orders, prices, quotations, route_questions, routes, shelf
from lapwright.model.job import RecordedBond
from lapwright.model.prices import PriceList
from lapwright.model.request import BondRequest, SetRequest
from lapwright.model.surface_record import BondPhoto
from lapwright.sim import cast
from lapwright.sim.bond_photos import Camera, bond_photo
from lapwright.sim.fields import Field
from lapwright.sim.scenario.day import Day
from lapwright.sim.scenario.faces import photograph
from lapwright.sim.scenario.measuring import measure
from lapwright.sim.scenario.visit import Visit
from lapwright.sim.scenario.working import read_stack
from lapwright.sim.shop import bond_wafer, stream
from lapwright.sim.wafers import dust

WHO = cast.ENGINEER.name
#: What the lab reckons with; invented like the rest.
PRICES = PriceList(
    currency="EUR", labour=72.0, station_hour=18.0, station_hours=(("P1", 24.0),),
    slurry_hours=(("alumina", 0.6), ("colloidal_silica", 22.0)), pad=85.0, pad_life=40.0 * 3600.0, piece_price=6.5,
    scrap=420.0, measuring_time=600.0, cleaning_time=600.0,
    set_up_time=2700.0, overhead=0.18,
)  # fmt: skip
LAST_ATTEMPT = 3
LEAST_SURE = 0.004  # chance of remaining damage that the plan may leave; a run adds to it by its own rate
PHONE_CALL = 140.0  # min that a set lay unfinished


def receive(day: Day) -> None:
    """Stations, carriers and the two orders, as they are recorded on the first morning."""
    day.tell("order received, shelf recorded")
    for station in cast.STATIONS:
        shelf.set_up_station(station, by=WHO, reason="in use", at=day.now)
    shelf.register_jig(cast.JIG, by=WHO, reason="in use", at=day.now)
    for carrier in cast.CARRIERS:
        shelf.receive_carrier(carrier, by=WHO, reason="on the shelf", at=day.now)
    prices.record_prices(PRICES, by=WHO, reason=f"prices of {day.now.year}, invented", at=day.now)
    for order in (cast.ORDER, cast.SECOND_ORDER):
        orders.receive_order(
            day.calendar.order(order), simulated=True, by=WHO, reason="customer's order", at=day.wait(minutes=5.0)
        )


def read_carriers(day: Day) -> None:
    """Every carrier on the shelf read at nine sites, four times."""
    day.tell("carriers read")
    for carrier_id in cast.CARRIER_IDS:
        _read_carrier(day, carrier_id, "G1")


def read_with_both(day: Day) -> None:
    """The carrier that stayed on the shelf, read with the other gauge too, so that the two can be compared."""
    day.tell("gauges compared on one carrier")
    day.wait(minutes=30.0)
    _read_carrier(day, cast.CARRIER_IDS[-1], "G2")


def measure_in(day: Day, wafer_id: str) -> None:
    """A wafer read at nine sites, three times, as it came; keyed in by hand where the gauge's file was not at hand."""
    day.tell(f"{wafer_id}: measured in")
    troubles = cast.TROUBLES
    if wafer_id == troubles.warm_wafer:
        day.wait_until(10, 40)
    visit = Visit(
        request=SetRequest(piece=wafer_id, subject="wafer", moment="incoming", gauge_id="G1", repeats=3),
        truth=day.shop.wafers[wafer_id].thickness,
        sites=None if wafer_id in (troubles.copied_wafer, troubles.warm_wafer) else cast.WAFER_SITES,
        who=cast.STUDENT if wafer_id == troubles.copied_wafer else cast.TECHNICIAN,
        minutes=PHONE_CALL if wafer_id == troubles.warm_wafer else 12.0,
        dirt=dust(*troubles.dust_at, height=troubles.dust_height) if wafer_id == troubles.dusty_wafer else Field(),
        slips={"C": troubles.copied_text} if wafer_id == troubles.copied_wafer else {},
    )
    measure(day, visit)


def choose_route(day: Day) -> None:
    """The route at the usual loads and speeds, which the stations are run in at, polished until damage is gone."""
    day.tell("route chosen")
    asked = route_questions.ask(cast.ORDER.order_id)
    proposed = asked.searched.routes
    usual = next((route for route in proposed if "usual" in route.plan.labels), proposed[0])
    longer = asked.clear_of_damage(usual, most=LEAST_SURE) or usual
    reason = "usual loads and speeds, polished until damage remains in fewer than one wafer in a hundred"
    routes.choose_route(cast.ORDER.order_id, longer.plan, by=WHO, reason=reason, at=day.wait(minutes=10.0))
    offer = quotations.Offer(started=cast.ORDER.quantity + cast.ORDER.spares)
    asked_for = "the customer asked for the price of the chosen route"
    quotations.record_quotation(
        cast.ORDER.order_id, offer=offer, language="en", by=WHO, reason=asked_for, at=day.wait(minutes=5.0)
    )


def bond(day: Day, wafer_id: str) -> None:
    """A wafer bonded, its stack read and the bond judged; bonded again when the program advises it."""
    day.tell(f"{wafer_id}: bonded")
    for attempt in range(1, LAST_ATTEMPT + 1):
        recorded = _judged(day, wafer_id, _bonded(day, wafer_id, attempt), first=attempt == 1)
        assert recorded.verdict is not None
        advice, reason = recorded.verdict.advice, recorded.verdict.reason
        if advice == "rebond":
            day.catch("bond", wafer_id, reason)
        if attempt == LAST_ATTEMPT and advice == "rebond":
            advice, reason = "keep", "bonded often enough; the jig will take this wedge out"
        if advice == "keep" and day.shop.stacks[wafer_id].voids:
            photograph_bond(day, wafer_id)
        bonding.decide_bond(recorded.bond_id, advice, by=WHO, reason=reason, at=day.wait(minutes=1.0))
        if advice == "keep":
            return
        bonding.record_debond(recorded.bond_id, "slid off warm", by=WHO, reason=reason, at=day.wait(minutes=30.0))


def photograph_bond(day: Day, wafer_id: str) -> None:
    """The bond photographed through the carrier; what is seen there is caught."""
    stack = day.shop.stacks[wafer_id]
    outline = cast.ORDER.outline
    picture = bond_photo(
        cast.DIAMETER, stack.voids, Camera(), rng=stream(day.shop.seed, "photo", wafer_id),
        flat_length=outline.flat_length,  # type: ignore[union-attr]  # it is round
    )  # fmt: skip
    kept = bond_voids.record_bond_photo(
        wafer_id, f"{wafer_id} through the carrier.png", photograph(picture / 255.0), BondPhoto(outline=outline),
        by=WHO, reason="looked at through the carrier", at=day.now,
    )  # fmt: skip
    longest = kept.numbers["longest_m"] or 0.0
    if longest > 1e-3:
        day.catch("void", wafer_id, f"The photograph through the carrier shows a void of {longest * 1e3:.1f} mm.")


# ----------------------------------------------------------------------------------------------------------------------


def _read_carrier(day: Day, carrier_id: str, gauge_id: str) -> None:
    request = SetRequest(
        piece=carrier_id, subject="carrier", moment="carrier", gauge_id=gauge_id, repeats=4,
        order_id=cast.ORDER.order_id,
    )  # fmt: skip
    truth = day.shop.carriers[carrier_id].thickness
    measure(day, Visit(request=request, truth=truth, sites=cast.WAFER_SITES, minutes=5.0))


def _bonded(day: Day, wafer_id: str, attempt: int) -> RecordedBond:
    troubles, carrier_id = cast.TROUBLES, cast.CARRIER_OF[wafer_id]
    grain = troubles.stuck_wedge if wafer_id == troubles.stuck_wafer and attempt == 1 else None
    voids = (troubles.void,) if wafer_id == troubles.void_wafer else ()
    day.shop = bond_wafer(day.shop, wafer_id, carrier_id, attempt=attempt, stuck_wedge=grain, voids=voids)
    request = BondRequest(wafer_id=wafer_id, carrier_id=carrier_id, adhesive="mounting-wax", adhesive_lot="W-118")
    return bonding.record_bond(request, by=cast.TECHNICIAN.name, reason=f"bonding {attempt}", at=day.wait(minutes=45.0))


def _judged(day: Day, wafer_id: str, bond: RecordedBond, *, first: bool) -> RecordedBond:
    """The stack read and the bond judged; when the program doubts how the stack lay, it is read again."""
    turned = cast.TROUBLES.turned_by if first and wafer_id == cast.TROUBLES.turned_wafer else 0.0
    read_stack(day, wafer_id, moment="stack", turned=turned)
    judged = bonding.judge_bond(bond.bond_id, by=WHO, reason="stack read", at=day.wait(minutes=1.0))
    doubts = [sentence for code, sentence in bonding.bond_warnings(bond.bond_id) if code == "thickness.turn_suspected"]
    if not doubts:
        return judged
    for sentence in doubts:
        day.catch("wrong flat", wafer_id, sentence)
    read_stack(day, wafer_id, moment="stack")
    return bonding.judge_bond(bond.bond_id, by=WHO, reason="stack read with the flat down", at=day.wait(minutes=1.0))
