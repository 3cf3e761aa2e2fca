"""Everything a certificate says, before it is put into words: frozen values, SI inside.

A certificate covers one order and any number of its wafers. Whoever collects the data fills these classes; how they
look and read is settled in `certificate`, `certificate_twin` and the tables of `words`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime

from lapwright.errors import BadInput, Fault, OutOfValidRange
from lapwright.metrology.uncertainty import Budget
from lapwright.model.order import DecisionRule
from lapwright.model.readings import Calibration, Conditions, Gauge
from lapwright.model.verdict import Outcome, Verdict
from lapwright.model.wafer import Outline, ThicknessMap

#: From best to worst; a wafer is as good as its worst limit.
OUTCOMES: tuple[Outcome, ...] = ("conforms", "cannot_be_decided", "does_not_conform")


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A value, its expanded uncertainty (95 %) and the coverage factor behind it. SI; unknown is None, never zero."""

    value: float
    expanded_uncertainty: float | None = None
    coverage_factor: float | None = None

    def __post_init__(self) -> None:
        if self.expanded_uncertainty is not None and self.expanded_uncertainty < 0.0:
            raise OutOfValidRange("expanded_uncertainty", self.expanded_uncertainty, "zero or more, or None if unknown")


@dataclass(frozen=True, slots=True, kw_only=True)
class WaferFigures:
    """What one readings set says of a wafer. Lengths in m, azimuth in rad.

    `wedge` is the difference over the full diameter; `wedge_azimuth` of the thickest edge is None when the wedge
    cannot be told from none. `ttv` is as read; `ttv_corrected` has the share that gauge noise adds taken out and may
    be below zero on a flat wafer. Budgets are given for the set that the certificate rests on.
    """

    mean: Measured
    ttv: Measured
    wedge: Measured
    centre: float | None = None
    minimum: float | None = None
    maximum: float | None = None
    ttv_noise_bias: float | None = None
    ttv_corrected: float | None = None
    wedge_azimuth: float | None = None
    dome: Measured | None = None
    residual_rms: float | None = None
    mean_budget: Budget | None = None
    ttv_budget: Budget | None = None
    wedge_budget: Budget | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CertifiedSet:
    """One readings set on the certificate: the map, how it was taken, by whom, and its figures."""

    map: ThicknessMap
    figures: WaferFigures
    gauge_id: str
    operator: str
    taken: datetime
    pattern: str
    repeats: int
    conditions: Conditions = field(default_factory=Conditions)
    set_id: str | None = None

    def __post_init__(self) -> None:
        if self.repeats < 1:
            raise OutOfValidRange("repeats", self.repeats, "at least 1")
        if self.taken.tzinfo is None:
            raise BadInput([Fault(sentence="The time of a set has no time zone; give it in UTC.", field="taken")])


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedLimit:
    """A limit with its verdict."""

    verdict: Verdict
    gauge_id: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BondLine:
    """The bond a wafer was worked on: adhesive thickness, its wedge over the wafer's diameter. SI."""

    carrier_id: str
    adhesive: str
    mean: Measured
    range: float | None = None
    wedge: Measured | None = None
    wedge_azimuth: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CertifiedWafer:
    """One wafer: its limits judged, its maps before and after, its bond, and what must be remarked."""

    wafer_id: str
    limits: tuple[JudgedLimit, ...]
    before: CertifiedSet | None = None
    after: CertifiedSet | None = None
    bond: BondLine | None = None
    remarks: tuple[str, ...] = ()

    @property
    def outcome(self) -> Outcome:
        """The worst outcome of all limits; without a judged limit nothing can be decided."""
        if not self.limits:
            return "cannot_be_decided"
        return max((judged.verdict.outcome for judged in self.limits), key=OUTCOMES.index)


@dataclass(frozen=True, slots=True, kw_only=True)
class CertifiedGauge:
    """A gauge that the values rest on, and the calibration that was valid then."""

    gauge: Gauge
    calibration: Calibration | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SignatureLine:
    """One line of the signature block: in which role; by whom and when, if signed already."""

    role: str
    name: str | None = None
    signed: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificateData:
    """A whole certificate. Lengths in m. Free texts are printed as given, in the language they were given in.

    `simulated` says on the page that the data come from the program's own simulator.
    """

    document_number: str
    issued: date
    software_version: str
    laboratory: str
    order_id: str
    customer: str
    material: str
    outline: Outline
    target_thickness: float
    edge_exclusion: float
    rule: DecisionRule
    wafers: tuple[CertifiedWafer, ...]
    gauges: tuple[CertifiedGauge, ...]
    method: str
    orientation: str = ""
    customer_reference: str = ""
    revision: int = 0
    simulated: bool = False
    remarks: tuple[str, ...] = ()
    signatures: tuple[SignatureLine, ...] = ()

    def __post_init__(self) -> None:
        faults = [
            Fault(sentence=f"The certificate has no {name.replace('_', ' ')}; give one.", field=name)
            for name in ("document_number", "order_id", "customer", "laboratory")
            if not getattr(self, name).strip()
        ]
        if not self.wafers:
            faults.append(Fault(sentence="The certificate covers no wafer; name at least one.", field="wafers"))
        ids = [wafer.wafer_id for wafer in self.wafers]
        faults += [
            Fault(sentence=f"Wafer {wafer!r} stands twice on the certificate; name it once.", field="wafers")
            for wafer in sorted({wafer for wafer in ids if ids.count(wafer) > 1})
        ]
        known = {known.gauge.gauge_id for known in self.gauges}
        used = {taken.gauge_id for wafer in self.wafers for taken in (wafer.before, wafer.after) if taken is not None}
        faults += [
            Fault(sentence=f"Gauge {gauge!r} was used but is not listed; add it with its calibration.", field="gauges")
            for gauge in sorted(used - known)
        ]
        faults += [
            Fault(sentence=f"Wafer {wafer.wafer_id!r} was judged by another rule than the certificate states; use one.")
            for wafer in self.wafers
            if any(judged.verdict.rule != self.rule for judged in wafer.limits)
        ]
        if faults:
            raise BadInput(faults, subject="The certificate")
