"""The last days: debonding, the final readings, verdicts, and the certificate."""

from __future__ import annotations

from lapwright.app import bonding, certificates, orders, verdicts
from lapwright.model.job import RecordedDocument, RecordedVerdict
from lapwright.model.request import SetRequest
from lapwright.model.verdict import Verdict
from lapwright.sim import cast
from lapwright.sim.scenario import faces
from lapwright.sim.scenario.day import Day
from lapwright.sim.scenario.measuring import measure
from lapwright.sim.scenario.visit import Visit
from lapwright.sim.shop import debond_wafer
from lapwright.units import printed

WHO = cast.TECHNICIAN.name
FURTHER_REPEATS = 6


def debond_and_read(day: Day, wafer_id: str) -> None:
    """A wafer taken off its carrier, cleaned, read free at 17 sites on G2, finish traced; the first photographed."""
    day.tell(f"{wafer_id}: debonded and read")
    bond = orders.show_wafer(wafer_id).bonds[-1]
    bonding.record_debond(bond.bond_id, "slid off warm", by=WHO, reason="work done", at=day.wait(minutes=10.0))
    day.shop = debond_wafer(day.shop, wafer_id)
    day.wait(minutes=30.0)
    _read_free(day, wafer_id, repeats=1 if wafer_id == cast.TROUBLES.hasty_wafer else 3)
    faces.trace_finish(day, wafer_id)
    if day.count("fringes") == 1:
        faces.photograph_fringes(day, wafer_id)


def judge(day: Day, wafer_id: str) -> tuple[RecordedVerdict, ...]:
    """The verdicts on a wafer; where the readings cannot decide, more of them are taken once."""
    day.tell(f"{wafer_id}: judged")
    judged = _judged(day, wafer_id)
    doubtful = [each for each in judged if each.verdict.outcome == "cannot_be_decided"]
    if doubtful:
        for each in doubtful:
            day.catch("cannot be decided", wafer_id, _told(each.verdict))
        _read_free(day, wafer_id, repeats=FURTHER_REPEATS)
        judged = _judged(day, wafer_id)
    failed = [each.verdict for each in judged if each.verdict.outcome == "does_not_conform"]
    for verdict in failed:
        day.catch("out of limits", wafer_id, _told(verdict))
    if failed:
        reason = "; ".join(_told(verdict) for verdict in failed)
        orders.reject_wafer(wafer_id, by=cast.ENGINEER.name, reason=reason, at=day.wait(minutes=5.0))
    return judged


def certify(day: Day) -> tuple[RecordedDocument, ...]:
    """The certificate of all judged wafers, as kept files."""
    day.tell("certificate issued")
    return certificates.issue_certificate(
        cast.ORDER.order_id, by=cast.ENGINEER.name, reason="delivery", at=day.wait(minutes=30.0)
    )


# ----------------------------------------------------------------------------------------------------------------------


def _read_free(day: Day, wafer_id: str, *, repeats: int) -> None:
    request = SetRequest(piece=wafer_id, subject="wafer", moment="final", gauge_id="G2", repeats=repeats)
    measure(day, Visit(request=request, truth=day.shop.wafers[wafer_id].thickness, sites=cast.FINAL_SITES))


def _judged(day: Day, wafer_id: str) -> tuple[RecordedVerdict, ...]:
    return verdicts.judge_wafer(wafer_id, by=cast.ENGINEER.name, reason="readings complete", at=day.wait(minutes=5.0))


def _told(verdict: Verdict) -> str:
    """A verdict with the quantity and the value it is about."""
    quantity = {"ttv": "TTV"}.get(verdict.limit.quantity, verdict.limit.quantity.replace("_", " "))
    return f"{quantity} {printed(verdict.value, 'µm', 'length', digits=2)}: {verdict.reason}"
