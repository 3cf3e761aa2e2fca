"""What the form of a deed opens with: what the records already know, so that it is looked at and not typed again."""

from __future__ import annotations

from typing import Any

from lapwright.app import bonding, orders, partners, shelf, supplies, verdicts
from lapwright.model.job import RecordedStage
from lapwright.model.order import Quantity
from lapwright.model.story import WaferStory
from lapwright.web.supply_forms import shelf_day


def bond_start(story: WaferStory) -> dict[str, Any]:
    """The carrier that suits best of those that were read; adhesive and lot of this wafer's last bond, or the last.

    Where nothing was bonded yet, the adhesive that is on the shelf, if there is one lot alone.
    """
    found: dict[str, Any] = {}
    last = story.bonds[-1] if story.bonds else bonding.latest_bond()
    if last is not None:
        found |= {"adhesive": last.adhesive, "adhesive_shelf": last.adhesive_lot}
    elif len(lots := supplies.adhesive_lots(on=shelf_day())) == 1:
        found |= {"adhesive": lots[0].item, "adhesive_shelf": lots[0].lot_id}
    pairing = partners.pairing(story.wafer.wafer.wafer_id)
    if pairing is not None and pairing.partners:
        found["carrier"] = pairing.partners[0].carrier_id
    return found


def decide_start(story: WaferStory) -> dict[str, Any]:
    """What is advised, where the bond was judged."""
    bond = story.bonds[-1]
    return {} if bond.verdict is None else {"decision": bond.verdict.advice}


def debond_start(story: WaferStory) -> dict[str, Any]:
    """How the last wafer with the same adhesive came off."""
    bond = story.bonds[-1]
    last = bonding.latest_bond(adhesive=bond.adhesive, taken_off=True)
    return {} if last is None else {"method": last.undone_by_method}


def not_measured(story: WaferStory) -> tuple[Quantity, ...]:
    """The limited quantities that nobody has measured yet and no set of readings answers."""
    found = {one.quantity for one in story.findings}
    return verdicts.not_measured(orders.recorded_order(story.wafer.order_id).order, found)


def finding_start(story: WaferStory) -> dict[str, Any]:
    """The quantity that is still to be measured."""
    missing = not_measured(story)
    return {"quantity": missing[0]} if missing else {}


def station_start(story: WaferStory) -> dict[str, Any]:
    """The station that bears what the next stage wants, and the jig that this wafer was zeroed on last."""
    stage = next((one for one in story.stages if one.state in ("waiting", "running")), None)
    found: dict[str, Any] = {}
    place = None if stage is None else _place_of(stage)
    if place is not None:
        found["station"] = place
    if story.zeros:
        found["jig"] = story.zeros[-1].jig_id
    return found


# ----------------------------------------------------------------------------------------------------------------------


def _place_of(stage: RecordedStage) -> str | None:
    wanted = (stage.stage.plate, stage.stage.abrasive)
    stations = [one.station for one in shelf.list_stations()]
    return next((one.station_id for one in stations if (one.plate, one.abrasive) == wanted), None)
