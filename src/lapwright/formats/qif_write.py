"""Results as a QIF document: one part, its characteristics, and one set of measurements for each piece."""

from __future__ import annotations

import itertools
import re
import uuid
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from decimal import Decimal
from xml.etree import ElementTree as ET

from lapwright.errors import BadInput, Fault
from lapwright.formats import qif_names as names
from lapwright.formats.inspection import InspectedDevice, InspectedPiece, InspectedQuantity, Inspection

#: Root of all identifiers that are derived here, so that the same results have the same ones.
ROOT_ID = uuid.uuid5(uuid.NAMESPACE_URL, "urn:lapwright:qif")
_NOBODY = uuid.UUID(int=0)
_FORBIDDEN = re.compile("[^\t\n\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
#: What a definition is shared by: quantity, unit, limits, target.
_Key = tuple[str, str, Decimal | None, Decimal | None, Decimal | None]
_Marks = Mapping[str, str | bool | None]


def qif_bytes(inspection: Inspection) -> bytes:
    """The document; the same results give the same bytes, identifiers included.

    Raises `BadInput` for results that such a document cannot hold.
    """
    _need_sound(inspection)
    draft = _serialised(_document(inspection, _NOBODY))
    return _serialised(_document(inspection, uuid.uuid5(ROOT_ID, draft.decode())))


# ----------------------------------------------------------------------------------------------------------------------


def _need_sound(inspection: Inspection) -> None:
    devices = {one.device_id for one in inspection.devices}
    faults = [
        Fault(sentence=f"{one.quantity} of {piece.piece_id!r} names the gauge {one.device_id!r}, which is not listed.")
        for piece in inspection.pieces
        for one in piece.quantities
        if one.device_id is not None and one.device_id not in devices
    ]
    if not inspection.pieces or not all(piece.quantities for piece in inspection.pieces):
        faults.append(Fault(sentence="A piece has no quantity, or there is no piece; give at least one of each."))
    for what, listed in (
        ("Piece", [_fit(piece.piece_id) for piece in inspection.pieces]),
        ("Gauge", [_fit(one.device_id) for one in inspection.devices]),
    ):
        twice = sorted({one for one in listed if listed.count(one) > 1})
        faults += [Fault(sentence=f"{what} {one!r} stands twice; name it once.") for one in twice]
    if inspection.prepared.tzinfo is None:
        faults.append(Fault(sentence="The time of the report has no time zone; give it in UTC.", field="prepared"))
    if faults:
        raise BadInput(faults, subject="The results")


def _document(inspection: Inspection, own_id: uuid.UUID) -> ET.Element:
    return _Writer(inspection, own_id).document()


def _serialised(root: ET.Element) -> bytes:
    ET.indent(root)
    text: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return text + b"\n"


class _Writer:
    """Builds one document; hands out the ids of its entries, counting up."""

    def __init__(self, inspection: Inspection, own_id: uuid.UUID) -> None:
        self._of, self._own_id = inspection, own_id
        self._ids: Iterator[int] = itertools.count(1)
        self._devices: dict[str, str] = {}
        self._items: dict[_Key, str] = {}

    def document(self) -> ET.Element:
        root = ET.Element("QIFDocument", {"xmlns": names.NAMESPACE, "versionQIF": names.VERSION, "idMax": "0"})
        _add(root, "QPId", str(self._own_id))
        self._heading(root)
        standard = self._standard(root)
        self._units(root)
        self._resources(root)
        path = self._product(root)
        self._characteristics(root, standard)
        self._results(root, path)
        root.set("idMax", str(next(self._ids) - 1))
        return root

    def _next(self) -> str:
        return str(next(self._ids))

    def _heading(self, root: ET.Element) -> None:
        marks: _Marks = {
            "Simulated": self._of.simulated,
            "SoftwareVersion": self._of.software_version,
            "Material": self._of.material,
        }
        _add_attributes(root, marks)
        _add(_add(root, "Version"), "TimeCreated", _moment(self._of.prepared))
        header = _add(root, "Header")
        _add(_add(header, "Application"), "Name", "Lapwright")
        if self._of.simulated:
            _add(header, "Description", "Simulated: every reading in this document was invented by a program.")
        _add(header, "Scope", "Results")

    def _standard(self, root: ET.Element) -> str:
        """The document that decisions follow; the schema asks for one."""
        standard = _add(_add(root, "StandardsDefinitions", n="1"), "Standard", id=self._next())
        _add(_add(standard, "Organization"), "OtherStandardsOrganization", "JCGM")
        _add(standard, "Designator", "106")
        _add(standard, "Year", "2012")
        _add(standard, "Title", "The role of measurement uncertainty in conformity assessment")
        return standard.attrib["id"]

    def _units(self, root: ET.Element) -> None:
        units = _add(root, "FileUnits")
        _add_unit(_add(units, "PrimaryUnits"), "mm")
        used = {one.unit for piece in self._of.pieces for one in piece.quantities} - {"mm"}
        if used:
            others = _add(units, "OtherUnits", n=str(len(used)))
            for unit in sorted(used):
                _add_unit(others, unit)

    def _resources(self, root: ET.Element) -> None:
        if not self._of.devices:
            return
        devices = _add(_add(root, "MeasurementResources"), "MeasurementDevices", n=str(len(self._of.devices)))
        for one in self._of.devices:
            device = _add(devices, "MeasurementDevice", id=self._next())
            self._devices[one.device_id] = device.attrib["id"]
            _add(device, "Name", one.device_id)
            if one.name:
                _add(device, "Description", one.name)
            _add_attributes(device, _calibration(one))

    def _product(self, root: ET.Element) -> str:
        product = _add(root, "Product")
        part = _add(_add(product, "PartSet", n="1"), "Part", id=self._next())
        _add(part, "UUID", _derived(ROOT_ID, f"part {self._of.order_id}"))
        _add(part, "ModelNumber", self._of.order_id)
        component = _add(_add(product, "ComponentSet", n="1"), "Component", id=self._next())
        _add(component, "UUID", _derived(ROOT_ID, f"component {self._of.order_id}"))
        _add(_add(component, "Part"), "Id", part.attrib["id"])
        path = _add(_add(product, "AsmPaths", n="1"), "AsmPath", id=self._next())
        _add_references(path, "ComponentIds", component.attrib["id"])
        return path.attrib["id"]

    def _characteristics(self, root: ET.Element, standard: str) -> None:
        shared: dict[_Key, InspectedQuantity] = {}
        for piece in self._of.pieces:
            for one in piece.quantities:
                shared.setdefault(_key(one), one)
        characteristics = _add(root, "Characteristics")
        _add(characteristics, "FormalStandardId", standard)
        count = str(len(shared))
        definitions = _add(characteristics, "CharacteristicDefinitions", n=count)
        nominals = _add(characteristics, "CharacteristicNominals", n=count)
        items = _add(characteristics, "CharacteristicItems", n=count)
        for key, one in shared.items():
            stem = names.kind_of(one).stem
            definition = _add(definitions, f"{stem}CharacteristicDefinition", id=self._next())
            _define(definition, one)
            nominal = _add(nominals, f"{stem}CharacteristicNominal", id=self._next())
            _add(nominal, "CharacteristicDefinitionId", definition.attrib["id"])
            if one.target is not None:
                _add_number(nominal, "TargetValue", one.target, one.unit)
            item = _add(items, f"{stem}CharacteristicItem", id=self._next())
            _add(item, "Name", one.quantity)
            _add(item, "CharacteristicNominalId", nominal.attrib["id"])
            self._items[key] = item.attrib["id"]

    def _results(self, root: ET.Element, path: str) -> None:
        results = _add(root, "Results")
        count = str(len(self._of.pieces))
        sets = _add(results, "MeasurementResultsSet", n=count)
        components = _add(_add(results, "ActualComponentSets", n="1"), "ActualComponentSet", n=count)
        for piece in self._of.pieces:
            component = _add(components, "ActualComponent", id=self._next())
            _add(component, "SerialNumber", piece.piece_id)
            _add(_add(component, "Status"), "InspectionStatusEnum", names.PIECE_STATUS[piece.outcome])
            _add(component, "AsmPathId", path)
            self._measurements(sets, piece, component.attrib["id"])
        self._traceability(results)

    def _measurements(self, sets: ET.Element, piece: InspectedPiece, component: str) -> None:
        results = _add(sets, "MeasurementResults", id=self._next())
        _add(results, "ThisResultsInstanceQPId", _derived(self._own_id, piece.piece_id))
        measured = _add(results, "MeasuredCharacteristics")
        listed = _add(measured, "CharacteristicMeasurements", n=str(len(piece.quantities)))
        for one in piece.quantities:
            self._measurement(listed, one, component)
        _add(_add(results, "InspectionStatus"), "InspectionStatusEnum", names.PIECE_STATUS[piece.outcome])
        _add_references(results, "ActualComponentIds", component)

    def _measurement(self, listed: ET.Element, one: InspectedQuantity, component: str) -> None:
        kind = names.kind_of(one)
        measurement = _add(listed, f"{kind.stem}CharacteristicMeasurement", id=self._next())
        marks = {names.EXPANDED: _text(one.expanded_uncertainty), names.FACTOR: _text(one.coverage_factor)}
        _add_attributes(measurement, marks)
        _add(_add(measurement, "Status"), "CharacteristicStatusEnum", names.STATUS[one.outcome])
        _add(measurement, "CharacteristicItemId", self._items[_key(one)])
        if one.measured is not None:
            _add(measurement, "TimeStamp", _moment(one.measured))
        _add(measurement, "ActualComponentId", component)
        if one.device_id is not None:
            _add_references(measurement, "MeasurementDeviceIds", self._devices[one.device_id])
        if one.value is not None:
            value = _add_number(measurement, kind.value, one.value, one.unit)
            if one.standard_uncertainty is not None:
                value.set("combinedUncertainty", _decimal(one.standard_uncertainty))
                # The schema wants both or none; a result is corrected for what is known (JCGM 100:2008, 3.2.4).
                value.set("meanError", "0")

    def _traceability(self, results: ET.Element) -> None:
        trace = _add(results, "InspectionTraceability")
        _add(_add(trace, "InspectingOrganization"), "Name", self._of.laboratory)
        if self._of.customer_reference:
            _add(trace, "PurchaseOrderNumber", self._of.customer_reference)
        _add(trace, "ReportNumber", self._of.report)
        if self._of.prepared_by:
            _add(_add(trace, "ReportPreparer"), "Name", self._of.prepared_by)
        _add(trace, "ReportPreparationDate", _moment(self._of.prepared))
        _add_attributes(trace, {"Customer": self._of.customer})


def _key(one: InspectedQuantity) -> _Key:
    return one.quantity, one.unit, one.lower, one.upper, one.target


def _define(definition: ET.Element, one: InspectedQuantity) -> None:
    kind = names.kind_of(one)
    if kind in names.ONE_SIDED and one.upper is not None:
        _add_number(definition, names.ONE_SIDED[kind], one.upper, one.unit)
        return
    if one.lower is None and one.upper is None:
        _add(definition, "NonTolerance", "MEASURED")
    else:
        tolerance = _add(definition, "Tolerance")
        for name, bound in (("MaxValue", one.upper), ("MinValue", one.lower)):
            if bound is not None:
                _add_number(tolerance, name, bound, one.unit)
        _add(tolerance, "DefinedAsLimit", "true")
    if kind is names.LENGTH:
        _add(definition, "WhatToMeasure", names.MEANINGS.get(one.quantity, one.quantity))


def _calibration(one: InspectedDevice) -> _Marks:
    """A calibration as marks: the schema's own entry asks for the temperature then, which is not recorded."""
    return {
        "CalibrationCertificate": one.certificate,
        "CalibrationDate": None if one.calibrated is None else one.calibrated.isoformat(),
        "CalibrationDue": None if one.due is None else one.due.isoformat(),
        "CalibrationPassed": one.passed,
    }


def _add(parent: ET.Element, tag: str, text: str | None = None, /, **attributes: str) -> ET.Element:
    added = ET.SubElement(parent, tag, attributes)
    if text is not None:
        added.text = _fit(text)
    return added


def _add_attributes(parent: ET.Element, marks: _Marks) -> None:
    known = {name: value for name, value in marks.items() if value is not None and value != ""}
    if not known:
        return
    attributes = _add(parent, "Attributes", n=str(len(known)))
    for name, value in known.items():
        if isinstance(value, bool):
            _add(attributes, "AttributeBool", name=name, value="true" if value else "false")
        else:
            _add(attributes, "AttributeStr", name=name, value=_fit(value))


def _add_number(parent: ET.Element, name: str, value: Decimal, unit: str) -> ET.Element:
    text = _decimal(value)
    _, _, decimals = text.partition(".")
    return _add(parent, name, text, linearUnit=unit, decimalPlaces=str(len(decimals)))


def _add_references(parent: ET.Element, name: str, reference: str) -> None:
    _add(_add(parent, name, n="1"), "Id", reference)


def _add_unit(parent: ET.Element, unit: str) -> None:
    added = _add(parent, "LinearUnit")
    _add(added, "SIUnitName", "meter")
    _add(added, "UnitName", unit)
    _add(_add(added, "UnitConversion"), "Factor", names.FACTORS[unit])  # type: ignore[index]


def _decimal(value: Decimal) -> str:
    return f"{value:f}"


def _text(value: Decimal | None) -> str | None:
    return None if value is None else _decimal(value)


def _moment(at: datetime) -> str:
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _derived(root: uuid.UUID, name: str) -> str:
    return str(uuid.uuid5(root, _fit(name)))


def _fit(text: str) -> str:
    """Text as XML can carry it: controls replaced by a visible mark, no space that a reader would take away."""
    return " ".join(_FORBIDDEN.sub("\ufffd", text).split())
