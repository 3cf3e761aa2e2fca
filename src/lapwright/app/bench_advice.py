"""Use cases beside one wafer at the bench: what its bond is worth, and which way its jig turns.

Everything is computed anew from the records; nothing is recorded here but the direction of a jig's screws.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, TypeVar

from lapwright.app import bonding
from lapwright.app.bond_models import (
    StackAnswer,
    cut_named,
    programme_of,
    setting_temperature,
    stack_of,
    ways_off,
)
from lapwright.app.cautions import cautions_for
from lapwright.errors import LapwrightError, NotFound
from lapwright.model.job import RecordedBond, RecordedOrder, RecordedStage
from lapwright.model.story import WaferStory

if TYPE_CHECKING:
    from lapwright.library import Finish
    from lapwright.metrology.bond_line import BondResult
    from lapwright.model.shelf import RecordedJig
    from lapwright.model.verdict import BondVerdict
    from lapwright.process.bonding_programme import BondProgramme
    from lapwright.process.strength_debond import DebondChoice

Answer = TypeVar("Answer")

USUAL_FILM = 5e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class BondOutlook:
    """A bond with what it will cost: its numbers, the chance of scrap going on, cooling bow, how it comes off. SI.

    What cannot be told is None; `missing` says why, in sentences.
    """

    bond: RecordedBond
    result: BondResult | None
    ttv_limit: float | None
    chance_of_scrap: float | None
    wafer_value: float | None
    stack: StackAnswer | None
    programme: BondProgramme | None
    ways: tuple[DebondChoice, ...]
    cautions: tuple[str, ...]
    missing: tuple[str, ...]

    @property
    def expected_loss(self) -> float | None:
        """What going on costs on average, in the money of the order."""
        if self.chance_of_scrap is None or self.wafer_value is None:
            return None
        return self.chance_of_scrap * self.wafer_value


def wafer_story(order_id: str, wafer_id: str) -> tuple[RecordedOrder, WaferStory]:
    """An order and one of its wafers. Raises `NotFound` when it has none of that name."""
    from lapwright.app import orders
    from lapwright.records import queries

    order = queries.order(order_id)
    if wafer_id not in order.wafer_ids:
        known = ", ".join(order.wafer_ids)
        raise NotFound(f"Order {order_id} has no wafer {wafer_id}; it has {known}. Open one of those.")
    return order, orders.show_wafer(wafer_id)


def bond_outlook(story: WaferStory, order: RecordedOrder, *, film: float = USUAL_FILM) -> BondOutlook | None:
    """What the wafer's latest bond is worth; None when it was never bonded."""
    if not story.bonds:
        return None
    bond = story.bonds[-1]
    missing: list[str] = []
    result, limit, chance = None, None, None
    if bond.numbers is None:
        missing.append("The bond has not been judged: read the stack and judge it first.")
    else:
        try:
            result = bonding.bond_result(bond, order.order)
            limit = bonding.ttv_limit(order.order)
            chance = _chance(result, limit)
        except LapwrightError as error:
            missing.append(error.sentence)
    mean = bond.numbers.mean if bond.numbers is not None else film
    wafer = story.wafer.wafer
    promised = order.order
    stack = _tried(missing, lambda: _stack(story, order, bond, mean))
    programme = _tried(missing, lambda: _programme(wafer.material, _width(story), bond, film))
    finish = _last_finish(story.stages)
    ways = _tried(
        missing,
        lambda: ways_off(
            material=wafer.material,
            finish=finish,
            thickness=promised.target_thickness,
            diameter=_width(story),
            adhesive=bond.adhesive,
            bond=max(mean, 1e-6),
        ),
    )
    cautions = (cautions_for(wafer.material, step=step, adhesive=bond.adhesive) for step in ("bond", "debond"))
    return BondOutlook(
        bond=bond,
        result=result,
        ttv_limit=limit,
        chance_of_scrap=chance,
        wafer_value=promised.value_per_wafer,
        stack=stack,
        programme=programme,
        ways=ways or (),
        cautions=tuple(dict.fromkeys(one for told in cautions for one in told)),
        missing=tuple(dict.fromkeys(missing)),
    )


def known_carrier(carrier_id: str, material: str) -> str:
    """Material of a carrier as the library names it; the wafer's own where the library does not know the carrier's."""
    from lapwright.app import shelf
    from lapwright.library import load

    try:
        return load().material(shelf.show_carrier(carrier_id).material).material_id
    except NotFound:
        return material


def priced(outlook: BondOutlook, rebond_cost: float) -> BondVerdict | None:
    """The verdict with both prices set against each other; None where one of them is not known."""
    from lapwright.metrology.bond_verdict import bond_verdict

    if outlook.result is None or outlook.ttv_limit is None or outlook.wafer_value is None:
        return None
    return bond_verdict(
        outlook.result, ttv_limit=outlook.ttv_limit, rebond_cost=rebond_cost, wafer_value=outlook.wafer_value
    )


def record_screw_direction(
    jig_id: str, *, clockwise_brings_near: bool, by: str, at: datetime, version: int | None = None
) -> RecordedJig:
    """Record which way a jig's screws bring the wafer nearer, as a test turn has shown; its zeros stay."""
    from lapwright.model.readings import Signature
    from lapwright.records import queries, writer

    signature = Signature(by=by, at=at, reason="a test turn has shown it")
    with writer.transaction():
        jig = queries.jig(jig_id).jig
        return writer.put_jig(replace(jig, clockwise_brings_near=clockwise_brings_near), signature, version=version)


# ----------------------------------------------------------------------------------------------------------------------


def _tried(missing: list[str], ask: Callable[[], Answer]) -> Answer | None:
    """What was asked for, or None and the reason among those of the others."""
    try:
        return ask()
    except LapwrightError as error:
        missing.append(error.sentence)
        return None


def _chance(result: BondResult, limit: float) -> float | None:
    from lapwright.metrology.bond_verdict import chance_of_scrap

    if result.predicted_ttv_uncertainty is None:
        return None
    return chance_of_scrap(result, ttv_limit=limit)


def _width(story: WaferStory) -> float:
    from lapwright.metrology.outlines import furthest_reach

    return 2.0 * furthest_reach(story.wafer.wafer.outline)


def _stack(story: WaferStory, order: RecordedOrder, bond: RecordedBond, mean: float) -> StackAnswer:
    from lapwright.app import shelf
    from lapwright.process.bonding_stack import ROOM, StackDesign

    carrier = shelf.show_carrier(bond.carrier_id)
    promised = order.order
    return stack_of(
        StackDesign(
            wafer=story.wafer.wafer.material,
            cut=cut_named(promised.orientation),
            wafer_thickness=promised.start_thickness,
            diameter=_width(story),
            carrier=carrier.material,
            carrier_thickness=carrier.nominal_thickness,
            bond=max(mean, 0.0),
            set_temperature=setting_temperature(bond.adhesive) or ROOM + 60.0,
        ),
        target=promised.target_thickness,
    )


def _programme(material: str, diameter: float, bond: RecordedBond, film: float) -> BondProgramme:
    from lapwright.process.bonding_programme import BondWish

    carrier = known_carrier(bond.carrier_id, material)
    return programme_of(
        BondWish(material=material, diameter=diameter, adhesive=bond.adhesive, film=film, carrier=carrier)
    )


def _last_finish(stages: tuple[RecordedStage, ...]) -> Finish:
    """Finish of the worked face at the end; the bonded face is not recorded and taken as no weaker."""
    from lapwright.library import load
    from lapwright.process.release import finish_of

    removing = [one.stage for one in stages if one.stage.removal > 0.0]
    if not removing:
        return "polished"
    last = removing[-1]
    if last.kind == "polish":
        return "polished"
    try:
        grain = load().abrasive(last.abrasive or "").grain
    except LapwrightError:
        return "lapped_coarse"
    return finish_of("lap", grain)
