"""A QIF document as results; whatever is not understood is refused, nothing is passed over that changes a value."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import NamedTuple
from xml.etree import ElementTree as ET

from lapwright.formats import qif_names as names
from lapwright.formats.inspection import InspectedDevice, InspectedPiece, InspectedQuantity, Inspection, LengthUnit
from lapwright.formats.qif_elements import EXACT, Elements, tag_of
from lapwright.formats.sound_xml import sound_root
from lapwright.model.verdict import Outcome

#: Words for what was not judged, besides our own.
_NOT_JUDGED = ("UNDEFINED", "BASIC_OR_TED", "NOT_MEASURED")


def inspection_from_bytes(document: bytes, *, name: str) -> Inspection:
    """The results in a document.

    Raises `FileFormatError` for one that is hostile, cut short or contradicts itself, or that holds a kind of
    characteristic that is not read.
    """
    found = Elements(sound_root(document, name, most_elements=names.MOST_ELEMENTS), name)
    return _Reader(found).inspection()


# ----------------------------------------------------------------------------------------------------------------------


class _Asked(NamedTuple):
    """What a characteristic item asks for."""

    kind: names.Kind
    quantity: str
    bounds: tuple[tuple[Decimal, LengthUnit] | None, ...]


class _Reader:
    """Follows the references of one document from its measurements back to what was asked."""

    def __init__(self, found: Elements) -> None:
        self._found = found
        self._root = found.root
        found.need_root("QIFDocument", versions="3.")
        self._by_id = found.by_id()
        self._units = self._declared_units()

    def inspection(self) -> Inspection:
        found, root = self._found, self._root
        marks = found.attributes(root)
        results = found.one(root, "Results")
        trace = found.maybe(results, "InspectionTraceability")
        prepared = found.text(trace, "ReportPreparationDate") or found.text(root, "Version/TimeCreated")
        return Inspection(
            report=found.text(trace, "ReportNumber"),
            order_id=found.text(root, "Product/PartSet/Part/ModelNumber"),
            laboratory=found.text(trace, "InspectingOrganization/Name"),
            customer="" if trace is None else found.attributes(trace).get("Customer", ""),
            customer_reference=found.text(trace, "PurchaseOrderNumber"),
            prepared=self._report_time(prepared),
            prepared_by=found.text(trace, "ReportPreparer/Name"),
            material=marks.get("Material", ""),
            software_version=marks.get("SoftwareVersion", ""),
            simulated=marks.get("Simulated") == "true",
            devices=tuple(self._device(one) for one in self._listed("MeasurementResources/MeasurementDevices")),
            pieces=tuple(self._piece(one) for one in found.counted(found.one(results, "MeasurementResultsSet"))),
        )

    def _listed(self, path: str) -> Iterator[ET.Element]:
        listed = self._found.maybe(self._root, path)
        return iter(()) if listed is None else self._found.counted(listed)

    def _declared_units(self) -> Mapping[str | None, LengthUnit]:
        """Unit by its name in this file; that of a number without a name under None (metres unless declared)."""
        found = self._found
        declared: dict[str | None, LengthUnit] = {None: "m"}
        for path, is_default in (
            ("FileUnits/PrimaryUnits/LinearUnit", True),
            ("FileUnits/PrimaryUnits/PMILinearUnit", True),
            ("FileUnits/OtherUnits/LinearUnit", False),
        ):
            for one in found.all(self._root, path):
                name, unit = self._unit(one)
                declared[name] = unit
                if is_default:
                    declared[None] = unit
        return declared

    def _unit(self, declared: ET.Element) -> tuple[str, LengthUnit]:
        found = self._found
        name = found.text(declared, "UnitName")
        conversion = found.maybe(declared, "UnitConversion")
        factor, offset = Decimal(1), Decimal(0)
        if conversion is not None:
            factor = found.decimal(found.text(conversion, "Factor"), "a unit's factor")
            offset = found.decimal(found.text(conversion, "Offset") or "0", "a unit's offset")
        unit = names.UNIT_BY_FACTOR.get(factor)
        if unit is None or offset != 0:
            raise found.fault(f"declares the length unit {name[:20]!r} with factor {factor}", "m, mm, µm, nm or inch")
        return name, unit

    def _device(self, device: ET.Element) -> InspectedDevice:
        found, marks = self._found, self._found.attributes(device)
        passed = marks.get("CalibrationPassed")
        return InspectedDevice(
            device_id=found.text(device, "Name"),
            name=found.text(device, "Description"),
            certificate=marks.get("CalibrationCertificate"),
            calibrated=self._day(marks.get("CalibrationDate")),
            due=self._day(marks.get("CalibrationDue")),
            passed=None if passed is None else passed == "true",
        )

    def _piece(self, results: ET.Element) -> InspectedPiece:
        found = self._found
        component = self._referred(found.text(results, "ActualComponentIds/Id"), "ActualComponent")
        listed = found.maybe(results, "MeasuredCharacteristics/CharacteristicMeasurements")
        return InspectedPiece(
            piece_id=found.text(component, "SerialNumber"),
            quantities=() if listed is None else tuple(self._quantity(one) for one in found.counted(listed)),
            outcome=self._outcome(found.one(results, "InspectionStatus"), names.PIECE_STATUS),
        )

    def _quantity(self, measurement: ET.Element) -> InspectedQuantity:
        found = self._found
        asked = self._asked(found.text(measurement, "CharacteristicItemId"))
        if tag_of(measurement) != f"{asked.kind.stem}CharacteristicMeasurement":
            raise found.fault(f"holds a {tag_of(measurement)[:60]} for another kind", "the kind of its item")
        element = found.maybe(measurement, asked.kind.value)
        value = None if element is None else self._number(element)
        known = {one[1] for one in (value, *asked.bounds) if one is not None}
        if len(known) > 1:
            raise found.fault(f"gives {asked.quantity[:40]!r} in several units", "one unit for value and limits")
        marks = found.attributes(measurement)
        lower, upper, target = (None if one is None else one[0] for one in asked.bounds)
        return InspectedQuantity(
            quantity=asked.quantity,
            unit=known.pop() if known else self._units[None],
            value=None if value is None else value[0],
            lower=lower,
            upper=upper,
            target=target,
            standard_uncertainty=self._mark(None if element is None else element.get("combinedUncertainty")),
            expanded_uncertainty=self._mark(marks.get(names.EXPANDED)),
            coverage_factor=self._mark(marks.get(names.FACTOR)),
            outcome=self._outcome(found.one(measurement, "Status"), names.STATUS),
            device_id=self._device_id(found.text(measurement, "MeasurementDeviceIds/Id")),
            measured=self._moment(found.text(measurement, "TimeStamp")),
        )

    def _asked(self, item_id: str) -> _Asked:
        found = self._found
        kind, item = self._of_kind(item_id, "Item")
        _, nominal = self._of_kind(found.text(item, "CharacteristicNominalId"), "Nominal", kind)
        _, definition = self._of_kind(found.text(nominal, "CharacteristicDefinitionId"), "Definition", kind)
        aim = found.maybe(nominal, "TargetValue")
        target = None if aim is None else self._number(aim)
        return _Asked(kind, found.text(item, "Name"), (*self._limits(kind, definition, target), target))

    def _of_kind(self, reference: str, aspect: str, kind: names.Kind | None = None) -> tuple[names.Kind, ET.Element]:
        element = self._by_id.get(reference)
        tag = "" if element is None else tag_of(element)
        for one in names.KINDS if kind is None else (kind,):
            if element is not None and tag == f"{one.stem}Characteristic{aspect}":
                return one, element
        what = f"holds a {tag[:60]}" if tag else f"refers to {reference[:20]!r}, which is not there"
        raise self._found.fault(what, "thickness, flatness, surface texture or a user-defined length")

    def _limits(
        self, kind: names.Kind, definition: ET.Element, target: tuple[Decimal, LengthUnit] | None
    ) -> tuple[tuple[Decimal, LengthUnit] | None, tuple[Decimal, LengthUnit] | None]:
        found = self._found
        if kind in names.ONE_SIDED:
            return None, self._number(found.one(definition, names.ONE_SIDED[kind]))
        tolerance = found.maybe(definition, "Tolerance")
        if tolerance is None:
            return None, None
        low, high = (found.maybe(tolerance, name) for name in ("MinValue", "MaxValue"))
        lower, upper = (None if one is None else self._number(one) for one in (low, high))
        if found.text(tolerance, "DefinedAsLimit") == "true":
            return lower, upper
        if target is None or any(one is not None and one[1] != target[1] for one in (lower, upper)):
            raise found.fault("states a tolerance without a target in the same unit", "limits, or a target with them")
        around = [None if one is None else (EXACT.add(target[0], one[0]), one[1]) for one in (lower, upper)]
        return around[0], around[1]

    def _number(self, element: ET.Element) -> tuple[Decimal, LengthUnit]:
        found, name = self._found, element.get("linearUnit")
        unit = self._units.get(name)
        if unit is None:
            raise found.fault(f"uses the unit {str(name)[:20]!r}, which it does not declare", "a declared unit")
        value = found.decimal(element.text or "", tag_of(element))
        return found.specified(value, element.get("decimalPlaces")), unit

    def _mark(self, text: str | None) -> Decimal | None:
        return None if text is None else self._found.decimal(text, "an uncertainty")

    def _device_id(self, reference: str) -> str | None:
        if not reference:
            return None
        device = self._by_id.get(reference)
        if device is None:
            raise self._found.fault(f"refers to the device {reference[:20]!r}, which is not there", "a listed device")
        return self._found.text(device, "Name")

    def _referred(self, reference: str, tag: str) -> ET.Element:
        element = self._by_id.get(reference)
        if element is None or tag_of(element) != tag:
            raise self._found.fault(f"refers to {reference[:20]!r} as {tag}, which it is not", "a listed one")
        return element

    def _outcome(self, status: ET.Element, words: Mapping[Outcome | None, str]) -> Outcome | None:
        text = "".join(status.itertext()).strip()
        if text in _NOT_JUDGED:
            return None
        for outcome, word in words.items():
            if text == word:
                return outcome
        raise self._found.fault(f"states the outcome {text[:40]!r}", ", ".join(words.values()))

    def _report_time(self, text: str) -> datetime:
        """The time of a report; the standard has it in GMT where no zone is stated."""
        at = self._found.moment(text)
        return at if at.tzinfo is not None else at.replace(tzinfo=UTC)

    def _moment(self, text: str) -> datetime | None:
        """A time of measuring; one without a zone is not known."""
        at = self._found.moment(text) if text else None
        return at if at is not None and at.tzinfo is not None else None

    def _day(self, text: str | None) -> date | None:
        if text is None:
            return None
        try:
            return date.fromisoformat(text)
        except ValueError as fault:
            raise self._found.fault(f"states the day {text[:20]!r}", "year-month-day") from fault
