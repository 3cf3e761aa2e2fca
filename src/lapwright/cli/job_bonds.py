"""`lapwright job`, the bond: made, judged, decided, undone."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give, show_fields
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, WaferArgument, open_records, signed
from lapwright.errors import Conflict
from lapwright.model.job import RecordedBond
from lapwright.model.wafer import Frame


def bond(  # noqa: PLR0913  one parameter for each option
    wafer: WaferArgument,
    carrier: Annotated[str, typer.Argument(metavar="CARRIER", help="Name of the carrier.")],
    *,
    adhesive: Annotated[str, typer.Option(help="What holds the wafer.")],
    adhesive_lot: Annotated[str, typer.Option(help="Its lot.")] = "",
    wafer_seen_from: Annotated[
        Literal["worked", "bonded"], typer.Option(help="Face the wafer was seen from when it was read in.")
    ] = "worked",
    wafer_turn_deg: Annotated[float, typer.Option(help="Turn of the wafer when mounted, counter-clockwise.")] = 0.0,
    carrier_turn_deg: Annotated[float, typer.Option(help="Turn of the carrier, counter-clockwise.")] = 0.0,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "bonded",
    as_json: JsonOption = False,
) -> None:
    """Record that a wafer was bonded to a carrier."""
    from lapwright.app import bonding
    from lapwright.formats.job_results import bond_record_dict
    from lapwright.model.request import BondRequest

    why = signed(open_records(data), by, reason)
    request = BondRequest(
        wafer_id=wafer,
        carrier_id=carrier,
        adhesive=adhesive,
        adhesive_lot=adhesive_lot,
        wafer_frame=Frame(seen_from=wafer_seen_from, turn=options.si(wafer_turn_deg, "°", "angle")),
        carrier_frame=Frame(turn=options.si(carrier_turn_deg, "°", "angle")),
    )
    give(bond_record_dict(bonding.record_bond(request, **why)), as_json=as_json, show=show_fields)


def judge_bond(
    wafer: WaferArgument, *, data: DataOption = None, by: ByOption = None,
    reason: ReasonOption = "stack was read", as_json: JsonOption = False,
) -> None:  # fmt: skip
    """Judge a wafer's bond by the readings of wafer, carrier and stack."""
    from lapwright.app import bonding
    from lapwright.formats.job_results import bond_record_dict

    why = signed(open_records(data), by, reason)
    judged = bonding.judge_bond(_bond(wafer).bond_id, **why)
    give(bond_record_dict(judged), as_json=as_json, show=show_fields)


def decide_bond(
    wafer: WaferArgument,
    decision: Annotated[Literal["keep", "rebond"], typer.Argument(metavar="keep|rebond", help="What to do.")],
    *,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "",
    as_json: JsonOption = False,
) -> None:
    """Decide to keep a bond or to bond again; against the advice only with a reason."""
    from lapwright.app import bonding
    from lapwright.formats.job_results import bond_record_dict

    why = signed(open_records(data), by, reason)
    decided = bonding.decide_bond(_bond(wafer).bond_id, decision, **why)
    give(bond_record_dict(decided), as_json=as_json, show=show_fields)


def debond(
    wafer: WaferArgument,
    *,
    method: Annotated[str, typer.Option(help="How it was taken off.")],
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "taken off",
    as_json: JsonOption = False,
) -> None:
    """Record that a wafer was taken off its carrier."""
    from lapwright.app import bonding
    from lapwright.formats.job_results import bond_record_dict

    why = signed(open_records(data), by, reason)
    undone = bonding.record_debond(_bond(wafer).bond_id, method, **why)
    give(bond_record_dict(undone), as_json=as_json, show=show_fields)


# ----------------------------------------------------------------------------------------------------------------------


def _bond(wafer: str) -> RecordedBond:
    from lapwright.app import orders

    bonds = [one for one in orders.show_wafer(wafer).bonds if one.undone is None]
    if not bonds:
        raise Conflict(f"Wafer {wafer!r} is on no carrier. Bond it first.")
    return bonds[-1]
