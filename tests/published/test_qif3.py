"""QIF documents against the content models of the public QIF 3.0 schemas."""

import csv
import re
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from lapwright.formats.inspection import InspectedDevice
from lapwright.formats.qif import qif_bytes
from lapwright.testing.inspections import invented_inspection

NAMESPACE = "{http://qifstandards.org/xsd/qif3}"
ROWS = (Path(__file__).parent / "data" / "qif3_content.csv").read_text(encoding="utf-8").splitlines()[1:]
MODELS = {row["element"]: row for row in csv.DictReader(ROWS)}
DECIMAL = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")  # XML Schema part 2, 3.2.3: no exponent
UUID = re.compile(r"[A-Fa-f0-9]{8}-[A-Fa-f0-9]{4}-[A-Fa-f0-9]{4}-[A-Fa-f0-9]{4}-[A-Fa-f0-9]{12}")


def sparse():
    """Results with everything left out that may be."""
    full = invented_inspection()
    pieces = tuple(
        replace(piece, outcome=None, quantities=tuple(replace(one, device_id=None) for one in piece.quantities))
        for piece in full.pieces
    )
    empty = {"prepared_by": "", "customer_reference": "", "material": "", "software_version": "", "simulated": False}
    return replace(full, devices=(), pieces=pieces, **empty)


def strange():
    """Texts with marks, controls and other letters, numbers very large and small."""
    full = invented_inspection()
    one = replace(full.pieces[0].quantities[0], value=Decimal("1E+9"), upper=None, lower=Decimal("1E-12"), outcome=None)
    pieces = (replace(full.pieces[0], piece_id="a<b>&\"' ]]>\x00\ud800 µ 硅", quantities=(one,)),)
    return replace(full, pieces=pieces, devices=(InspectedDevice(device_id="G2", passed=False),))


DOCUMENTS = {"full": invented_inspection, "sparse": sparse, "strange": strange}


@pytest.fixture(params=DOCUMENTS)
def root(request):
    """A document, parsed."""
    return ET.fromstring(qif_bytes(DOCUMENTS[request.param]()))


def walked(element, parent=""):
    """Every element with its name and the content model for it; a name that the schemas do not have fails."""
    assert element.tag.startswith(NAMESPACE)
    name = element.tag.removeprefix(NAMESPACE)
    yield element, name, MODELS.get(f"{parent}/{name}") or MODELS[name]
    for child in element:
        yield from walked(child, name)


def pattern(content):
    """A sequence of children as a regular expression over their names."""
    return re.compile(re.sub(r"\w+", r"(?:\g<0>;)", content).replace(" ", ""))


def is_of_type(text, kind):
    """Whether a text is of a simple type of the schemas."""
    if kind.startswith("#enum:"):
        return text in kind.removeprefix("#enum:").split("|")
    if kind == "#dateTime":
        return bool(re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z", text)) and bool(
            datetime.fromisoformat(text)
        )
    if kind == "#token":
        return text == " ".join(text.split()) != ""
    if kind == "#positive":
        return bool(DECIMAL.fullmatch(text)) and Decimal(text) > 0
    patterns = {"#uuid": UUID, "#decimal": DECIMAL, "#reference": re.compile("[0-9]+"), "#string": re.compile("(?s).*")}
    return bool(patterns[kind].fullmatch(text))


def test_children_stand_in_the_order_of_the_schemas(root):
    """Names, order, number and choice of children of every element; elements of text hold no children."""
    for element, name, model in walked(root):
        children = "".join(f"{child.tag.removeprefix(NAMESPACE)};" for child in element)
        content = "" if model["content"].startswith("#") else model["content"]
        assert pattern(content).fullmatch(children), f"{name}: {children}"


def test_texts_are_of_the_types_of_the_schemas(root):
    """Decimals without exponent, UUIDs, times, words of the enumerations."""
    for element, name, model in walked(root):
        if model["content"].startswith("#"):
            assert is_of_type(element.text or "", model["content"]), f"{name}: {element.text}"


def test_attributes_are_those_of_the_schemas(root):
    """Required ones are there, others are known, numbers in them are numbers."""
    for element, name, model in walked(root):
        known = {one.rstrip("!"): one.endswith("!") for one in model["attributes"].split()}
        assert set(element.attrib) <= set(known), name
        assert {one for one, required in known.items() if required} <= set(element.attrib), name
        for number in ("combinedUncertainty", "meanError", "decimalPlaces", "n", "id"):
            assert DECIMAL.fullmatch(element.get(number, "0")), name
        assert ("combinedUncertainty" in element.attrib) == ("meanError" in element.attrib), "both or none (Units.xsd)"


def test_ids_references_and_counts_agree(root):
    """Ids stand once, the largest is stated, each reference has its entry, each list its count, each unit its name."""
    ids = [int(element.get("id")) for element in root.iter() if element.get("id")]
    assert len(set(ids)) == len(ids)
    assert (root.get("versionQIF"), int(root.get("idMax"))) == ("3.0.0", max(ids))
    units = {element.text for element in root.iter(f"{NAMESPACE}UnitName")}
    for element, name, model in walked(root):
        if model["content"] == "#reference":
            assert int(element.text) in ids, name
        assert element.get("n", str(len(element))) == str(len(element)), name
        assert element.get("linearUnit", "mm") in units, name


def test_identifiers_are_unique(root):
    """The schema collects them in one key."""
    names = ("QPId", "ThisResultsInstanceQPId", "UUID")
    found = [element.text for name in names for element in root.iter(f"{NAMESPACE}{name}")]
    assert len(set(found)) == len(found) >= 4
