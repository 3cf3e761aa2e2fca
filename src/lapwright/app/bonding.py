"""Use cases: bonding a wafer to a carrier, judging the bond, taking the wafer off again."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from lapwright.app import lot_names, set_values, steps
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.job import BondDecision, BondNumbers, RecordedBond, RecordedSet
from lapwright.model.order import Order
from lapwright.model.readings import Signature
from lapwright.model.request import BondRequest
from lapwright.model.wafer import WORKED_FRAME, Frame, Outline

if TYPE_CHECKING:
    from lapwright.metrology.bond_line import BondResult, MapUncertainty
    from lapwright.metrology.thickness import ThicknessResult
    from lapwright.metrology.thickness_sites import Notice


def record_bond(request: BondRequest, *, by: str, reason: str, at: datetime) -> RecordedBond:
    """Record that a wafer was bonded to a carrier. Raises `Conflict` when the carrier bears another wafer."""
    from lapwright.records import queries, writer

    if not request.adhesive.strip():
        raise BadInput([Fault(sentence="The bond names no adhesive; name what holds the wafer.", field="adhesive")])
    request = replace(request, adhesive_lot=lot_names.as_scanned(request.adhesive_lot, field="adhesive_lot"))
    wrong = lot_names.unfit("adhesive_lot", request.adhesive_lot, ("adhesive",), request.adhesive)
    if wrong is not None:
        raise BadInput([wrong], subject="The bond")
    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        steps.need_step(queries.wafer(request.wafer_id), "bonded")
        bond = writer.add_bond(request, signature)
        writer.move_wafer(request.wafer_id, "bonded", signature)
        for zero in queries.zeros(request.wafer_id):
            writer.void_zero(zero.zero_id, "the wafer was bonded anew", signature)
        return bond


def judge_bond(bond_id: int, *, by: str, reason: str, at: datetime) -> RecordedBond:
    """Judge a bond by the latest closed sets of wafer, carrier and stack, and record numbers and advice.

    Raises `Conflict` naming the set that is missing. Decides nothing. Where the stack looks turned against the wafer,
    the reason of the advice begins with that.
    """
    from lapwright.metrology.bond_verdict import bond_verdict
    from lapwright.records import queries, writer

    with writer.transaction():
        bond = queries.bond(bond_id)
        sets = _sets_of(bond)
        order = queries.order(queries.wafer(bond.wafer_id).order_id).order
        result = _line(bond, sets, order)
        verdict = bond_verdict(result, ttv_limit=ttv_limit(order))
        turned = " ".join(sentence for _, sentence in _turn_notices(bond, sets, result))
        if turned:
            verdict = replace(verdict, reason=f"{turned} As read: {verdict.reason}")
        numbers = BondNumbers(
            mean=result.mean,
            range=result.range,
            wedge=result.wedge,
            suspects=tuple(one.label for one in result.suspects),
            predicted_ttv=result.predicted_ttv,
            predicted_ttv_expanded_uncertainty=(
                None
                if result.predicted_ttv_uncertainty is None
                else result.predicted_ttv_uncertainty.expanded_uncertainty
            ),
            predicted_wedge=result.predicted_wedge,
        )
        wafer_set, carrier_set, stack_set = sets
        ids = (wafer_set.set_id, carrier_set.set_id, stack_set.set_id)
        return writer.judge_bond(bond_id, ids, numbers, verdict, Signature(by=by, at=at, reason=reason))


def decide_bond(
    bond_id: int, decision: BondDecision, *, by: str, reason: str, at: datetime, version: int | None = None
) -> RecordedBond:
    """Record what was decided, with or against the advice; against it the reason must not be empty.

    Keeping it lays out the stages of the wafer when the order has a route.
    """
    from lapwright.app import routes
    from lapwright.records import queries, writer

    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        bond = queries.bond(bond_id)
        if bond.verdict is None:
            raise Conflict("This bond has not been judged yet. Read the stack and judge it first.")
        if bond.verdict.advice != decision and not reason.strip():
            sentence = f"The advice was: {bond.verdict.reason} Say why it is not followed; the reason stays with it."
            raise BadInput([Fault(sentence=sentence, field="reason")])
        steps.need_step(queries.wafer(bond.wafer_id), "ready" if decision == "keep" else "rebond")
        decided = writer.decide_bond(bond_id, decision, signature, version=version)
        wafer = writer.move_wafer(bond.wafer_id, "ready" if decision == "keep" else "rebond", signature)
        if decision == "keep" and routes.chosen_route(wafer.order_id) is not None:
            routes.lay_out_stages(bond.wafer_id, by=by, reason=reason, at=at)
        return decided


def bond_result(bond: RecordedBond, order: Order) -> BondResult:
    """The bond line of a wafer of this order and the wafer it would give, computed anew from the recorded sets."""
    return _line(bond, _sets_judged(bond), order)


def bond_warnings(bond_id: int) -> tuple[Notice, ...]:
    """What speaks against trusting a bond line, code and sentence; a stack that looks turned is one of them."""
    from lapwright.records import queries

    bond = queries.bond(bond_id)
    sets = _sets_judged(bond)
    result = _line(bond, sets, queries.order(queries.wafer(bond.wafer_id).order_id).order)
    return (*result.warnings, *_turn_notices(bond, sets, result))


def latest_bond(*, adhesive: str | None = None, taken_off: bool = False) -> RecordedBond | None:
    """The last bond that anybody made, with an adhesive, or of those taken off again; None when there is none."""
    from lapwright.records import bond_queries

    return bond_queries.latest_bond(adhesive=adhesive, taken_off=taken_off)


def record_debond(bond_id: int, method: str, *, by: str, reason: str, at: datetime) -> RecordedBond:
    """Record that a wafer was taken off its carrier, and how.

    After a decision to bond again it may be bonded at once, or measured in anew.
    """
    from lapwright.records import queries, writer

    if not method.strip():
        sentence = "Say how the wafer was taken off: by solvent, by heat and slide, by release film."
        raise BadInput([Fault(sentence=sentence, field="method")])
    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        bond = queries.bond(bond_id)
        wafer = queries.wafer(bond.wafer_id)
        after = "measured_in" if wafer.state == "rebond" else "debonded"
        if wafer.state not in ("set_aside", "rejected"):
            steps.need_step(wafer, after)  # type: ignore[arg-type]
            writer.move_wafer(bond.wafer_id, after, signature)  # type: ignore[arg-type]
        for zero in queries.zeros(bond.wafer_id):
            writer.void_zero(zero.zero_id, "the wafer was taken off its carrier", signature)
        return writer.undo_bond(bond_id, method, signature)


def ttv_limit(order: Order) -> float:
    """The TTV the finished wafer must keep; the width of the thickness tolerance when no TTV is agreed."""
    ttv = order.limit("ttv")
    if ttv is not None and ttv.upper is not None:
        return ttv.upper
    thickness = order.limit("thickness")
    if thickness is not None and thickness.upper is not None and thickness.lower is not None:
        return thickness.upper - thickness.lower
    raise Conflict(
        f"Order {order.order_id!r} limits neither TTV nor thickness on both sides, so a bond cannot be judged."
        " Agree a limit with the customer and amend the order."
    )


# ----------------------------------------------------------------------------------------------------------------------


def _sets_judged(bond: RecordedBond) -> tuple[RecordedSet, RecordedSet, RecordedSet]:
    """The sets a bond was judged by; the latest ones while it has not been judged."""
    from lapwright.records import story_queries

    ids = (bond.wafer_set_id, bond.carrier_set_id, bond.stack_set_id)
    if None in ids:
        return _sets_of(bond)
    wafer_set, carrier_set, stack_set = story_queries.sets_by_key([one for one in ids if one is not None])
    return wafer_set, carrier_set, stack_set


def _turn_notices(
    bond: RecordedBond, sets: tuple[RecordedSet, RecordedSet, RecordedSet], result: BondResult
) -> tuple[Notice, ...]:
    """Whether the wafer's wedge shows in the stack a quarter turn or more away from where the wafer had it.

    The wafer alone is compared with stack less carrier, which is the wafer with the bond under it.
    """
    from lapwright.metrology.frames import nearest_sites, transformed
    from lapwright.metrology.removal_map import removal_map
    from lapwright.records import queries

    frames = (bond.wafer_frame, bond.carrier_frame, WORKED_FRAME)
    maps = [_map_of(one, frame) for one, frame in zip(sets, frames, strict=True)]
    known = [uncertainty.site for _, uncertainty in maps if uncertainty is not None]
    if len(known) < len(maps) or not any(known):
        return ()
    wafer, under = transformed(maps[0][0].sites), result.bond
    partner, _ = nearest_sites(under, wafer)
    mounted = replace(under, thickness=wafer.thickness[partner] + under.thickness)
    check = removal_map(
        wafer,
        mounted,
        diameter=_width(queries.wafer(bond.wafer_id).wafer.outline),
        site_uncertainty=math.sqrt(math.fsum(site**2 for site in known) / 2.0),  # of three sets, over the two maps
    )
    return tuple(notice for notice in check.warnings if notice[0] == "thickness.turn_suspected")


def _sets_of(bond: RecordedBond) -> tuple[RecordedSet, RecordedSet, RecordedSet]:
    """The latest closed sets of wafer, carrier and stack that a bond is judged by."""
    from lapwright.records import queries

    wafer_set = queries.latest_set(bond.wafer_id, "wafer", "incoming")
    carrier_set = queries.latest_set(bond.carrier_id, "carrier", "carrier")
    stack_set = queries.latest_set(bond.wafer_id, "stack", "stack")
    if stack_set is not None and stack_set.opened.at < bond.made.at:
        stack_set = None
    if wafer_set is None or carrier_set is None or stack_set is None:
        wanted = [
            f"the {name} alone" if name != "stack" else "the stack since this bonding"
            for name, found in (("wafer", wafer_set), ("carrier", carrier_set), ("stack", stack_set))
            if found is None
        ]
        raise Conflict(
            f"The bond of {bond.wafer_id!r} on {bond.carrier_id!r} cannot be judged: there is no closed set of"
            f" {' nor of '.join(wanted)}. Read it first."
        )
    return wafer_set, carrier_set, stack_set


def _line(bond: RecordedBond, sets: tuple[RecordedSet, RecordedSet, RecordedSet], order: Order) -> BondResult:
    from lapwright.metrology.bond_line import BondUncertainties, bond_line

    wafer_set, carrier_set, stack_set = sets
    wafer, wafer_known = _map_of(wafer_set, bond.wafer_frame)
    carrier, carrier_known = _map_of(carrier_set, bond.carrier_frame)
    stack, stack_known = _map_of(stack_set, WORKED_FRAME)
    uncertainties = (
        None
        if wafer_known is None or carrier_known is None or stack_known is None
        else BondUncertainties(wafer=wafer_known, carrier=carrier_known, stack=stack_known)
    )
    return bond_line(
        wafer.sites,
        carrier.sites,
        stack.sites,
        diameter=_width(order.outline),
        uncertainties=uncertainties,
        target_thickness=order.target_thickness,
    )


def _map_of(recorded: RecordedSet, frame: Frame) -> tuple[ThicknessResult, MapUncertainty | None]:
    from lapwright.metrology.bond_line import map_uncertainty

    result = set_values.result_of(recorded, frame=frame)
    return result, map_uncertainty(result, gauge=recorded.surroundings.gauge)


def _width(outline: Outline) -> float:
    from lapwright.metrology.outlines import furthest_reach

    return 2.0 * furthest_reach(outline)
