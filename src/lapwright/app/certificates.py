"""Use cases: the certificate of an order."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from lapwright import __version__
from lapwright.app import set_values
from lapwright.app.clean_checks import gone_on_unlooked
from lapwright.app.documents import document_path, store_document
from lapwright.app.signing import sign_certificate
from lapwright.app.verdicts import latest_verdicts
from lapwright.errors import Conflict
from lapwright.model.access import SignMethod
from lapwright.model.job import DocumentKind, RecordedBond, RecordedDocument, RecordedSet, RecordedVerdict
from lapwright.model.odd_ones import OddWafer
from lapwright.model.order import Order
from lapwright.model.readings import Signature
from lapwright.model.story import OrderStory, WaferStory
from lapwright.model.wafer import WORKED_FRAME, Frame

if TYPE_CHECKING:
    from lapwright.metrology.thickness import ThicknessResult
    from lapwright.metrology.uncertainty import CombinedUncertainty
    from lapwright.reports.certificate_data import (
        BondLine,
        CertificateData,
        CertifiedGauge,
        CertifiedSet,
        CertifiedWafer,
        JudgedLimit,
        Measured,
        SignatureLine,
        WaferFigures,
    )

__all__ = ["collect", "document_path", "issue_certificate", "store_document"]

METHOD = (
    "Thickness at the listed sites with the gauges named. The thickness judged is the mean of the sites; TTV is the"
    " thickest less the thinnest site mean, with the share of gauge noise taken out; the wedge is that of the"
    " least-squares plane over the full diameter. Expanded uncertainties are for 95 %."
)


def collect(order_id: str, *, at: datetime, signatures: tuple[SignatureLine, ...] = ()) -> CertificateData:
    """All that a certificate of the judged wafers says: those that keep their limits, and those accepted as they are.

    Raises `Conflict` while none is judged, and while one that does not keep its limits waits for a decision.
    """
    from lapwright import records
    from lapwright.app import odd_ones
    from lapwright.records import story_queries
    from lapwright.reports.certificate_data import CertificateData

    story = story_queries.order_story(order_id)
    judged = [one for one in story.wafers if one.wafer.state in ("judged", "certified") and one.verdicts]
    if not judged:
        raise Conflict(f"No wafer of order {order_id!r} is judged yet. Judge them first.")
    leaving = odd_ones.leaving([one.wafer.wafer.wafer_id for one in judged])
    judged = [one for one in judged if one.wafer.wafer.wafer_id in leaving]
    if not judged:
        raise Conflict(f"No judged wafer of order {order_id!r} may leave: what was decided about each keeps it here.")
    order = story.order.order
    wafers = tuple(_wafer(one, leaving[one.wafer.wafer.wafer_id], order) for one in judged)
    issued = sum(document.kind == "certificate_pdf" for document in story.documents)
    return CertificateData(
        document_number=f"{order_id}-C{issued + 1}",
        revision=issued,
        issued=at.date(),
        software_version=__version__,
        laboratory=records.current_settings().laboratory or "Laboratory not named in the settings",
        order_id=order_id,
        customer=order.customer,
        material=order.material,
        orientation=order.orientation,
        outline=order.outline,
        target_thickness=order.target_thickness,
        edge_exclusion=order.edge_exclusion,
        rule=order.rule,
        wafers=wafers,
        gauges=_gauges(judged, wafers),
        method=METHOD,
        simulated=story.order.simulated,
        remarks=_remarks(story),
        signatures=signatures,
    )


def issue_certificate(
    order_id: str, *, language: str | None = None, method: SignMethod = "local", by: str, reason: str, at: datetime
) -> tuple[RecordedDocument, ...]:
    """Write the certificate as PDF, HTML, CSV, JSON and QIF into the data folder, record the files and sign them.

    The wafers on it become certified: those that keep their limits, and those their customer accepts as they are.
    `method` says how the signer was known.
    """
    from lapwright import records
    from lapwright.app.inspections import inspection_of
    from lapwright.formats.qif import qif_bytes
    from lapwright.records import queries, writer
    from lapwright.reports.certificate import certificate_csv, certificate_html, certificate_json, certificate_pdf
    from lapwright.reports.certificate_data import SignatureLine

    words = language or records.current_settings().language
    name = next((one.full_name or one.name for one in queries.people() if one.name == by), by)
    lines = (SignatureLine(role="issued by", name=name, signed=at.date()), SignatureLine(role="released by"))
    data = collect(order_id, at=at, signatures=lines)
    files: tuple[tuple[DocumentKind, str, bytes], ...] = (
        ("certificate_pdf", "pdf", certificate_pdf(data, words)),  # type: ignore[arg-type]
        ("certificate_html", "html", certificate_html(data, words).encode()),  # type: ignore[arg-type]
        ("certificate_csv", "csv", certificate_csv(data).encode()),
        ("certificate_json", "json", certificate_json(data).encode()),
        ("certificate_qif", "qif", qif_bytes(inspection_of(data, prepared=at, prepared_by=name))),
    )
    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        kept = tuple(
            store_document(
                order_id, f"{data.document_number}.{ending}", content, kind=kind, by=by, reason=reason, at=at
            )
            for kind, ending, content in files
        )
        sign_certificate(order_id, data.document_number, "issued", method=method, by=by, reason=reason, at=at)
        for wafer in data.wafers:
            if queries.wafer(wafer.wafer_id).state == "judged":
                writer.move_wafer(wafer.wafer_id, "certified", signature)
        return kept


# ----------------------------------------------------------------------------------------------------------------------


def _wafer(story: WaferStory, odd: OddWafer, order: Order) -> CertifiedWafer:
    from lapwright.reports.certificate_data import CertifiedWafer

    before = _last(story, "incoming")
    after = _last(story, "final")
    bond = next((one for one in reversed(story.bonds) if one.numbers is not None), None)
    return CertifiedWafer(
        wafer_id=story.wafer.wafer.wafer_id,
        limits=tuple(_limit(one, story) for one in latest_verdicts(story.verdicts)),
        before=None if before is None else _set(before, WORKED_FRAME, with_budgets=after is None),
        after=None if after is None else _set(after, WORKED_FRAME, with_budgets=True),
        bond=None if bond is None else _bond(bond, order),
        remarks=(*_concessions(odd), *_wafer_remarks(story)),
    )


def _last(story: WaferStory, moment: str) -> RecordedSet | None:
    found = [one for one in story.sets if one.moment == moment and one.state == "closed"]
    return max(found, key=lambda one: (one.closed.at if one.closed else one.opened.at, one.set_id), default=None)


def _limit(recorded: RecordedVerdict, story: WaferStory) -> JudgedLimit:
    from lapwright.reports.certificate_data import JudgedLimit

    gauge = next((one.gauge_id for one in story.sets if one.set_id == recorded.set_id), None)
    if gauge is None:
        gauge = next((one.gauge_id for one in story.findings if one.finding_id == recorded.finding_id), None)
    return JudgedLimit(verdict=recorded.verdict, gauge_id=gauge)


def _set(recorded: RecordedSet, frame: Frame, *, with_budgets: bool) -> CertifiedSet:
    from lapwright.reports.certificate_data import CertifiedSet

    result = set_values.result_of(recorded, frame=frame)
    return CertifiedSet(
        map=result.sites,
        figures=_figures(result, with_budgets=with_budgets),
        gauge_id=recorded.gauge_id,
        operator=recorded.opened.by,
        taken=recorded.opened.at,
        pattern=recorded.pattern.name,
        repeats=recorded.repeats,
        conditions=recorded.conditions,
        set_id=str(recorded.set_id),
    )


def _figures(result: ThicknessResult, *, with_budgets: bool) -> WaferFigures:
    from lapwright.reports.certificate_data import Measured, WaferFigures

    wedge = result.wedge
    return WaferFigures(
        mean=_measured(result.mean, result.mean_uncertainty),
        ttv=_measured(result.ttv, result.ttv_uncertainty),
        wedge=Measured(value=float("nan")) if wedge is None else _measured(wedge.amount, result.wedge_uncertainty),
        centre=result.centre,
        minimum=result.minimum,
        maximum=result.maximum,
        ttv_noise_bias=result.ttv_noise_bias,
        ttv_corrected=result.ttv_corrected,
        wedge_azimuth=None if wedge is None else wedge.azimuth,
        dome=None if result.dome is None else _measured(result.dome, result.dome_uncertainty),
        residual_rms=result.residual_rms,
        mean_budget=result.mean_budget if with_budgets else None,
        ttv_budget=result.ttv_budget if with_budgets else None,
        wedge_budget=result.wedge_budget if with_budgets else None,
    )


def _measured(value: float, uncertainty: CombinedUncertainty | None) -> Measured:
    from lapwright.reports.certificate_data import Measured

    if uncertainty is None:
        return Measured(value=value)
    return Measured(
        value=value,
        expanded_uncertainty=uncertainty.expanded_uncertainty,
        coverage_factor=uncertainty.coverage_factor,
    )


def _bond(bond: RecordedBond, order: Order) -> BondLine:
    from lapwright.app import bonding
    from lapwright.reports.certificate_data import BondLine

    result = bonding.bond_result(bond, order)
    wedge = result.wedge
    return BondLine(
        carrier_id=bond.carrier_id,
        adhesive=bond.adhesive,
        mean=_measured(result.mean, result.mean_uncertainty),
        range=result.range,
        wedge=None if wedge is None else _measured(wedge.amount, result.wedge_uncertainty),
        wedge_azimuth=None if wedge is None else wedge.azimuth,
    )


def _gauges(stories: list[WaferStory], wafers: tuple[CertifiedWafer, ...]) -> tuple[CertifiedGauge, ...]:
    from lapwright.records import queries
    from lapwright.reports.certificate_data import CertifiedGauge

    used = {taken.gauge_id for wafer in wafers for taken in (wafer.before, wafer.after) if taken is not None}
    used |= {one.gauge_id for story in stories for one in story.findings if one.gauge_id is not None}
    records = [queries.gauge(name) for name in sorted(used)]
    return tuple(CertifiedGauge(gauge=gauge, calibration=calibration) for gauge, calibration, _, _ in records)


def _concessions(odd: OddWafer) -> tuple[str, ...]:
    """That the customer accepts a wafer as it is, and why; the verdicts stay as they are."""
    accepted = [one for one in odd.decisions if one.choice == "customer_accepts"]
    if not odd.failed or not accepted:
        return ()
    names = ", ".join(one.verdict.limit.quantity.replace("_", " ") for one in odd.failed)
    why = accepted[-1].signature.reason
    return (f"Delivered although {names} does not keep its limit; accepted by the customer: {why}",)


def _wafer_remarks(story: WaferStory) -> tuple[str, ...]:
    lines = [note.text for note in story.notes if note.kind == "warning"]
    lines += _methods(story)
    lines += gone_on_unlooked(story)
    corrected = sum(one.replaced_by is not None for item in story.sets for one in item.readings)
    if corrected:
        were = "One reading was" if corrected == 1 else f"{corrected} readings were"
        lines.append(f"{were} corrected; the records hold both values, by whom and why.")
    kept = sum(one.question is not None for item in story.sets if item.state == "closed" for one in item.readings)
    if kept:
        were = "One reading was" if kept == 1 else f"{kept} readings were"
        lines.append(f"{were} questioned at entry and deliberately kept.")
    return tuple(lines)


def _methods(story: WaferStory) -> list[str]:
    """How each judged quantity that is no reading of thickness was measured: never a roughness without its filter."""
    judged = {one.finding_id for one in latest_verdicts(story.verdicts)}
    found = [one for one in story.findings if one.finding_id in judged and one.surface_id is not None]
    return [f"{one.quantity.replace('roughness_', '').capitalize()}: {one.method}." for one in found]


def _remarks(story: OrderStory) -> tuple[str, ...]:
    lines = [note.text for note in story.notes if note.kind == "warning"]
    for wafer in story.wafers:
        if wafer.wafer.state == "rejected":
            reason = next(one.signature.reason for one in reversed(wafer.events) if one.after == "rejected")
            lines.append(f"Wafer {wafer.wafer.wafer.wafer_id} is not delivered: {reason}")
    return tuple(lines)
