"""One suite over every format of results for other programs: round trips, cut files, strange and hostile bytes."""

from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lapwright.errors import LapwrightError
from lapwright.formats.inspection import InspectedDevice, InspectedPiece, InspectedQuantity, Inspection
from lapwright.formats.qif import inspection_from_bytes, qif_bytes, read_qif
from lapwright.testing.inspections import invented_inspection


@dataclass(frozen=True)
class Form:
    """A format: how it is written, how bytes and files of it are read."""

    name: str
    write: object
    parse: object
    read: object


FORMS = (Form("qif", qif_bytes, lambda content: inspection_from_bytes(content, name="f"), read_qif),)
each = pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)
settled = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])

words = st.text(st.characters(exclude_categories=["C", "Z"]), max_size=12)
named = words.filter(bool)
numbers = st.decimals(min_value=-(10**9), max_value=10**9, places=4)
known = st.none() | numbers
sizes = st.none() | st.decimals(min_value=0, max_value=10**3, places=3)
quantities = st.builds(
    InspectedQuantity,
    quantity=st.sampled_from(["thickness", "ttv", "wedge", "flatness", "roughness_ra", "roughness_sq", "bow"]),
    unit=st.sampled_from(["um", "nm", "mm", "m", "in"]),
    value=numbers,
    lower=known,
    upper=known,
    standard_uncertainty=sizes,
    expanded_uncertainty=sizes,
    coverage_factor=sizes,
    outcome=st.sampled_from(["conforms", "does_not_conform", "cannot_be_decided", None]),
    device_id=st.sampled_from([None, "G1"]),
    measured=st.none() | st.datetimes(min_value=datetime(1990, 1, 1), timezones=st.just(UTC)),  # noqa: DTZ001
)
inspections = st.builds(
    Inspection,
    report=named,
    order_id=named,
    laboratory=named,
    customer=words,
    prepared=st.just(datetime(2026, 3, 16, 15, 0, tzinfo=UTC)),
    pieces=st.lists(
        st.builds(InspectedPiece, piece_id=named, quantities=st.lists(quantities, min_size=1, max_size=3).map(tuple)),
        min_size=1,
        max_size=3,
        unique_by=lambda piece: piece.piece_id,
    ).map(tuple),
    devices=st.just((InspectedDevice(device_id="G1", name="gauge"),)),
    material=words,
    simulated=st.booleans(),
)


@each
@settled
@given(before=inspections)
def test_what_is_written_reads_back_digit_for_digit(form, before):
    """Every text, number and unknown; writing what was read gives the same bytes, so no digit changed."""
    content = form.write(before)
    after = form.parse(content)
    assert after == before
    assert form.write(after) == content


@each
@settled
@given(cut=st.floats(0.0, 0.999))
def test_a_cut_file_is_refused(form, cut):
    """Any beginning that lacks more than the last line break."""
    content = form.write(invented_inspection()).rstrip()
    with pytest.raises(LapwrightError):
        form.parse(content[: int(cut * len(content))])


@each
@settled
@given(place=st.floats(0.0, 0.999), piece=st.binary(min_size=1, max_size=12))
def test_altered_bytes_are_read_or_refused_by_an_error_of_ours(form, place, piece):
    """Bytes written over somewhere: never a foreign exception."""
    content = bytearray(form.write(invented_inspection()))
    at = int(place * len(content))
    content[at : at + len(piece)] = piece
    with suppress(LapwrightError):
        form.parse(bytes(content))


@each
@pytest.mark.parametrize("content", [b"", b"\n", b"\xff\xfe\x00", b"\x00" * 64, b"PK\x03\x04", b"wafer;1", b"<a/>"])
def test_strange_bytes_are_refused_by_an_error_of_ours(form, content, tmp_path):
    """Empty, zeros, an archive, a table, another document; no file, a folder."""
    path = tmp_path / "file"
    path.write_bytes(content)
    for each_path in (path, tmp_path / "none", tmp_path):
        with pytest.raises(LapwrightError):
            form.read(each_path)


@each
def test_a_value_not_measured_stays_unknown(form):
    """Neither zero nor an empty text."""
    found = form.parse(form.write(invented_inspection()))
    values = {one.quantity: one.value for one in found.pieces[0].quantities}
    assert values["roughness_sq"] is None
    assert values["ttv"] == Decimal("-0.03")
