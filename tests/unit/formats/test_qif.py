"""QIF results files: what is written reads back, and what is wrong is refused in a sentence."""

import re
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from lapwright.errors import BadInput, FileFormatError
from lapwright.formats.inspection import InspectedQuantity
from lapwright.formats.qif import inspection_from_bytes, qif_bytes, read_qif, write_qif
from lapwright.testing.inspections import invented_inspection

HEAD = '<QIFDocument xmlns="http://qifstandards.org/xsd/qif3" versionQIF="3.0.0" idMax="9">'
#: Written the way another program may: millimetres throughout, tolerances around a target, entries of no concern here.
FOREIGN = f"""{HEAD}
 <QPId>ffb3e503-d9ba-4046-a08e-f6cf5427cd87</QPId>
 <FileUnits><PrimaryUnits><LinearUnit><SIUnitName>meter</SIUnitName><UnitName>millimeter</UnitName>
  <UnitConversion><Factor>0.001</Factor></UnitConversion></LinearUnit></PrimaryUnits></FileUnits>
 <Features><FeatureDefinitions n="0"/></Features>
 <Characteristics>
  <CharacteristicDefinitions n="1"><ThicknessCharacteristicDefinition id="1"><Tolerance>
   <MaxValue>0.002</MaxValue><MinValue>-0.003</MinValue><DefinedAsLimit>false</DefinedAsLimit>
  </Tolerance></ThicknessCharacteristicDefinition></CharacteristicDefinitions>
  <CharacteristicNominals n="1"><ThicknessCharacteristicNominal id="2">
   <CharacteristicDefinitionId>1</CharacteristicDefinitionId><TargetValue>0.1</TargetValue>
  </ThicknessCharacteristicNominal></CharacteristicNominals>
  <CharacteristicItems n="1"><ThicknessCharacteristicItem id="3"><Name>T1</Name>
   <CharacteristicNominalId>2</CharacteristicNominalId></ThicknessCharacteristicItem></CharacteristicItems>
 </Characteristics>
 <Results>
  <MeasurementResultsSet n="1"><MeasurementResults id="4"><MeasuredCharacteristics>
   <CharacteristicMeasurements n="1"><ThicknessCharacteristicMeasurement id="5">
    <Status><CharacteristicStatusEnum>PASS</CharacteristicStatusEnum></Status>
    <CharacteristicItemId>3</CharacteristicItemId><TimeStamp>2015-10-23T05:36:11</TimeStamp>
    <Value decimalPlaces="4" combinedUncertainty="0.0002">0.10049999999998</Value>
   </ThicknessCharacteristicMeasurement></CharacteristicMeasurements></MeasuredCharacteristics>
   <InspectionStatus><InspectionStatusEnum>PASS</InspectionStatusEnum></InspectionStatus>
   <ActualComponentIds n="1"><Id>6</Id></ActualComponentIds>
  </MeasurementResults></MeasurementResultsSet>
  <ActualComponentSets n="1"><ActualComponentSet n="1"><ActualComponent id="6"><SerialNumber>7</SerialNumber>
   <Status><InspectionStatusEnum>PASS</InspectionStatusEnum></Status></ActualComponent></ActualComponentSet>
  </ActualComponentSets>
  <InspectionTraceability><ReportPreparationDate>2015-10-23T05:36:11</ReportPreparationDate></InspectionTraceability>
 </Results>
</QIFDocument>"""


def read(text):
    """The results in a text."""
    return inspection_from_bytes(text.encode(), name="r.qif")


def test_everything_reads_back_digit_for_digit(tmp_path):
    """Equal as values, and the texts of all decimals are equal too (100.40 is not 100.4)."""
    before = invented_inspection()
    write_qif(tmp_path / "r.qif", before)
    after = read_qif(tmp_path / "r.qif")
    assert after == before
    assert repr(after) == repr(before)


def test_the_same_results_give_the_same_bytes_and_others_another_identifier():
    """Identifiers come from the content: one digit changed, another document."""
    one = invented_inspection()
    assert qif_bytes(one) == qif_bytes(invented_inspection())
    other = replace(one, report="AP-2407-C2")
    ids = [re.findall(rb"<(?:QPId|ThisResultsInstanceQPId)>(.*?)<", qif_bytes(each)) for each in (one, other)]
    assert not set(ids[0]) & set(ids[1])
    parts = [re.findall(rb"<UUID>(.*?)<", qif_bytes(each)) for each in (one, other)]
    assert parts[0] == parts[1]


@pytest.mark.parametrize(
    ("outcome", "word"),
    [
        ("conforms", b"PASS"),
        ("does_not_conform", b"FAIL"),
        ("cannot_be_decided", b"INDETERMINATE"),
        (None, b"NOT_ANALYZED"),
    ],
)
def test_what_cannot_be_decided_is_neither_pass_nor_fail(outcome, word):
    """The four words of the schema that are written."""
    full = invented_inspection()
    quantity = replace(full.pieces[0].quantities[0], outcome=outcome)
    document = qif_bytes(replace(full, pieces=(replace(full.pieces[0], quantities=(quantity,)),)))
    assert re.findall(rb"<CharacteristicStatusEnum>(.*)</", document) == [word]


@pytest.mark.parametrize(
    ("quantity", "lower", "upper", "kind"),
    [
        ("thickness", 98, 102, "Thickness"),
        ("flatness", None, 1, "Flatness"),
        ("flatness", 1, 2, "UserDefinedLinear"),
        ("roughness_ra", None, 1, "SurfaceTexture"),
        ("roughness_ra", None, None, "UserDefinedLinear"),
        ("roughness_sq", None, 1, "UserDefinedLinear"),
        ("wedge", None, 1, "UserDefinedLinear"),
    ],
)
def test_the_kind_of_the_schema_is_taken_where_it_can_hold_the_limits(quantity, lower, upper, kind):
    """Flatness and surface texture hold one upper limit and nothing else."""
    bounds = {name: None if one is None else Decimal(one) for name, one in (("lower", lower), ("upper", upper))}
    one = InspectedQuantity(quantity=quantity, unit="um", value=Decimal("1.5"), **bounds)
    full = invented_inspection()
    before = replace(full, pieces=(replace(full.pieces[0], quantities=(one,)),))
    document = qif_bytes(before)
    assert f"<{kind}CharacteristicMeasurement ".encode() in document
    assert inspection_from_bytes(document, name="f") == before


def test_a_file_of_another_program_is_read_by_the_rules_of_the_standard():
    """Primary unit, limits around a target, rounding to the stated decimals, report times in GMT; others unknown."""
    found = read(FOREIGN)
    quantity = found.pieces[0].quantities[0]
    assert (quantity.quantity, quantity.unit, str(quantity.value)) == ("T1", "mm", "0.1005")
    assert (quantity.lower, quantity.upper, quantity.target) == (Decimal("0.097"), Decimal("0.102"), Decimal("0.1"))
    assert (quantity.standard_uncertainty, quantity.expanded_uncertainty) == (Decimal("0.0002"), None)
    assert quantity.measured is None
    assert found.prepared == datetime(2015, 10, 23, 5, 36, 11, tzinfo=UTC)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("Thickness", "Diameter", "holds a Diameter"),
        ("<Factor>0.001</Factor>", "<Factor>0.002</Factor>", "factor 0.002"),
        ("<Factor>0.001</Factor>", "<Factor>0.001</Factor><Offset>1</Offset>", "factor 0.001"),
        ("0.10049999999998", "1e-1", "'1e-1' for Value"),
        ("0.10049999999998", "NaN", "'NaN' for Value"),
        ("0.10049999999998", "9" * 61, "for Value"),
        ('decimalPlaces="4"', 'decimalPlaces="999"', "'999' decimals"),
        ('decimalPlaces="4"', 'decimalPlaces="-1"', "'-1' decimals"),
        ("<Value ", '<Value linearUnit="fathom" ', "'fathom', which it does not declare"),
        ('combinedUncertainty="0.0002"', 'combinedUncertainty="small"', "'small' for an uncertainty"),
        ('id="6"', 'id="5"', "the id '5' twice"),
        ("<Id>6</Id>", "<Id>3</Id>", "as ActualComponent"),
        ("<CharacteristicItemId>3<", "<CharacteristicItemId>8<", "refers to '8'"),
        ("<CharacteristicItemId>3<", "<CharacteristicItemId>2<", "holds a ThicknessCharacteristicNominal"),
        ('<CharacteristicMeasurements n="1">', '<CharacteristicMeasurements n="2">', "says '2' entries"),
        ("<TargetValue>0.1</TargetValue>", "", "a tolerance without a target"),
        (">PASS</CharacteristicStatusEnum>", ">REWORK</CharacteristicStatusEnum>", "the outcome 'REWORK'"),
        ("2015-10-23T05:36:11</ReportP", "yesterday</ReportP", "the time 'yesterday'"),
        ('versionQIF="3.0.0"', 'versionQIF="2.1.0"', "of version '2.1.0'"),
        ("qifstandards.org/xsd/qif3", "example.org", "begins with 'QIFDocument'"),
        ("<Results>", "<Result>", "no sound XML"),
    ],
)
def test_a_document_that_says_something_else_is_refused(old, new, said):
    """One change a case; the sentence names what was found."""
    with pytest.raises(FileFormatError, match=re.escape(said)):
        read(FOREIGN.replace(old, new))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('<!DOCTYPE a [<!ENTITY b "c">]>' + FOREIGN, "declares a document type"),
        ('<!DOCTYPE a SYSTEM "file:///etc/passwd">' + FOREIGN, "declares a document type"),
        ("<a>" * 40 + "</a>" * 40, "nests deeper"),
        (HEAD + "<a/>" * 500_001 + "</QIFDocument>", "more than 500000 elements"),
        (HEAD + "</QIFDocument>", "has no Results"),
        ("not xml", "no sound XML"),
    ],
)
def test_a_hostile_document_is_refused(text, said):
    """Entities, depth and number are limited before anything is built."""
    with pytest.raises(FileFormatError, match=said):
        read(text)


def test_a_file_cut_short_anywhere_is_refused():
    """Any beginning of a document that is not the whole of it."""
    document = qif_bytes(invented_inspection())
    for length in range(0, len(document) - 2, 97):
        with pytest.raises(FileFormatError):
            inspection_from_bytes(document[:length], name="r.qif")


def test_an_empty_or_absent_file_is_refused(tmp_path):
    """One sentence each."""
    (tmp_path / "empty.qif").write_bytes(b"")
    for name in ("empty.qif", "absent.qif"):
        with pytest.raises(FileFormatError):
            read_qif(tmp_path / name)


def test_results_that_cannot_be_written_name_every_fault():
    """A gauge not listed, a piece twice, no time zone: all at once."""
    full = invented_inspection()
    wrong = replace(full, devices=(), pieces=(full.pieces[1], full.pieces[1]), prepared=datetime(2026, 1, 1))  # noqa: DTZ001
    with pytest.raises(BadInput) as caught:
        qif_bytes(wrong)
    assert len(caught.value.faults) == 4


def test_nothing_measured_is_no_document():
    """The schema has no empty lists."""
    with pytest.raises(BadInput, match="no quantity"):
        qif_bytes(replace(invented_inspection(), pieces=()))
