"""X3P, SDF and text surfaces against independent readers and writers, and what a hostile file is refused for."""

import io
import zipfile
from datetime import UTC, datetime

import numpy as np
import pytest
import sdfio
import x3pio

from lapwright.errors import BadInput, FileFormatError, OutOfValidRange
from lapwright.formats.file_bytes import bounded_bytes, need_points
from lapwright.formats.sdf import sdf_bytes, sdf_surface
from lapwright.formats.surfaces import surface_from_bytes
from lapwright.formats.x3p import x3p_bytes, x3p_surface
from lapwright.model.surface import HeightMap, HeightProfile

AT = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
HEIGHT = np.array([[0.0, 1e-6, 2e-6], [3e-6, np.nan, 5.5e-6], [-1e-7, 1e-9, 7e-6], [8e-6, 9e-6, 1e-5]])
MAP = HeightMap(height=HEIGHT, pixel_size=(3e-6, 2e-6))
PROFILE = HeightProfile(height=HEIGHT.ravel(), spacing=5e-7)


def parts_of(content):
    """The parts of a zip archive."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(parts, **options):
    """A zip archive of parts."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, **options) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return stream.getvalue()


def with_document(change, *, keep_sum=False):
    """An X3P file whose description was changed, with its checksum made anew unless told otherwise."""
    import hashlib

    parts = parts_of(x3p_bytes(MAP, at=AT))
    parts["main.xml"] = change(parts["main.xml"])
    if not keep_sum:
        parts["md5checksum.hex"] = hashlib.md5(parts["main.xml"], usedforsecurity=False).hexdigest().encode()
    return packed(parts)


def test_an_independent_reader_finds_the_same_x3p_surface():
    """x3pio, a reader by others, checksums verified; its row 0 is at the smallest y, ours at the largest."""
    other = x3pio.read(io.BytesIO(x3p_bytes(MAP, at=AT, about="a < b & c")))
    assert np.array_equal(other.layers[0].z, HEIGHT[::-1], equal_nan=True)
    assert (other.header.x.increment, other.header.y.increment) == (2e-6, 3e-6)
    assert other.metadata.comment == "a < b & c"
    line = x3pio.read(io.BytesIO(x3p_bytes(PROFILE, at=AT)))
    assert np.array_equal(line.layers[0].z, PROFILE.height, equal_nan=True)


@pytest.mark.parametrize("storage", list(x3pio.DataStorage))
@pytest.mark.parametrize("kind", list(x3pio.DataType))
def test_x3p_files_by_others_are_read(kind, storage):
    """All four number types, binary with validity file or listed in the description: to half a step of the type."""
    stream = io.BytesIO()
    x3pio.write(stream, HEIGHT, x_scale=2e-6, y_scale=3e-6, z_type=kind, storage=storage)
    ours = x3p_surface(stream.getvalue(), name="f")
    other = x3pio.read(io.BytesIO(stream.getvalue())).layers[0].z
    assert np.array_equal(np.isnan(ours.height), np.isnan(HEIGHT[::-1]))
    np.testing.assert_allclose(ours.height[::-1], other, rtol=1e-15, atol=0)
    assert ours.pixel_size == (3e-6, 2e-6)
    stream = io.BytesIO()
    x3pio.write(stream, HEIGHT[0], x_scale=2e-6, z_type=kind, storage=storage)
    np.testing.assert_allclose(x3p_surface(stream.getvalue(), name="f").height, HEIGHT[0], atol=2e-6 / 60_000)


@pytest.mark.parametrize("coding", ["binary", "text"])
def test_an_independent_reader_finds_the_same_sdf_surface(coding):
    """sdfio, a reader by others."""
    other = sdfio.read(io.BytesIO(sdf_bytes(MAP, at=AT, coding=coding)))
    assert np.array_equal(other.data, HEIGHT[::-1], equal_nan=True)
    assert (other.header.x_scale, other.header.y_scale) == (2e-6, 3e-6)
    told = HeightMap(height=HEIGHT, pixel_size=(3e-6, 2e-6), sign_ambiguous=True)
    other = sdfio.read(io.BytesIO(sdf_bytes(told, at=AT, coding=coding)))
    assert other.trailer_fields["SignAmbiguous"].strip() == "yes"


VERSIONS = [
    pytest.param(revision, kind, id=f"{revision.value}-{kind.name}")
    for revision in (sdfio.Revision.ISO_1_0, sdfio.Revision.ISO_2_0)
    for kind in revision.rules.data_types
]


@pytest.mark.parametrize("coding", list(sdfio.FileFormat))
@pytest.mark.parametrize(("revision", "kind"), VERSIONS)
def test_sdf_files_by_others_are_read(revision, kind, coding):
    """Both versions of the standard, all of their number types, text and binary."""
    stream = io.BytesIO()
    metadata = sdfio.Metadata(revision=revision, manufacturer_id="other", data_type=kind)
    sdfio.write(stream, HEIGHT, x_scale=2e-6, y_scale=3e-6, format=coding, metadata=metadata)
    ours = sdf_surface(stream.getvalue(), name="f")
    other = sdfio.read(io.BytesIO(stream.getvalue())).data
    np.testing.assert_allclose(ours.height[::-1], other, rtol=1e-14, atol=0)
    assert ours.pixel_size == (3e-6, 2e-6)


ENTITY = b'<!DOCTYPE a [<!ENTITY b "bbbbbbbbbb"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]>'


def _doctype(document):
    return document.replace(b"<p:ISO5436_2", ENTITY + b"<p:ISO5436_2", 1)


HOSTILE = {
    "entities": with_document(_doctype),
    "entities in UTF-16": with_document(
        lambda text: _doctype(text).decode().replace('encoding="UTF-8"', 'encoding="UTF-16"').encode("utf-16")
    ),
    "outside entity": with_document(
        lambda text: text.replace(b"<p:ISO5436_2", b'<!DOCTYPE a SYSTEM "file:///etc/passwd"><p:ISO5436_2', 1)
    ),
    "deep nesting": with_document(lambda text: text.replace(b"<Record1>", b"<Record1>" + b"<a>" * 9000, 1)),
    "no xml": with_document(lambda _: b"not xml"),
    "absurd size": with_document(lambda text: text.replace(b"<SizeX>3<", b"<SizeX>99999999<")),
    "size beyond numbers": with_document(lambda text: text.replace(b"<SizeX>3<", b"<SizeX>" + b"9" * 5000 + b"<")),
    "negative size": with_document(lambda text: text.replace(b"<SizeX>3<", b"<SizeX>-3<")),
    "other size": with_document(lambda text: text.replace(b"<SizeX>3<", b"<SizeX>4<")),
    "no size": with_document(lambda text: text.replace(b"<SizeX>3</SizeX>", b"")),
    "layers": with_document(lambda text: text.replace(b"<SizeY>4</SizeY><SizeZ>1<", b"<SizeY>2</SizeY><SizeZ>2<")),
    "step nought": with_document(lambda text: text.replace(b">2e-06<", b">0<")),
    "step no number": with_document(lambda text: text.replace(b">2e-06<", b">nan<")),
    "changed description": with_document(lambda text: text.replace(b">2e-06<", b">4e-06<"), keep_sum=True),
    "path outside": with_document(lambda text: text.replace(b"bindata/data.bin", b"../../../data.bin")),
    "absolute path": with_document(lambda text: text.replace(b"bindata/data.bin", b"/etc/passwd")),
    "missing part": with_document(lambda text: text.replace(b"bindata/data.bin", b"bindata/none.bin")),
    "part outside": packed({**parts_of(x3p_bytes(MAP, at=AT)), "../../evil": b"x"}),
    "part on a drive": packed({**parts_of(x3p_bytes(MAP, at=AT)), "C:\\evil": b"x"}),
    "many parts": packed({**parts_of(x3p_bytes(MAP, at=AT)), **{f"p{number}": b"" for number in range(1100)}}),
    "bomb": packed({**parts_of(x3p_bytes(MAP, at=AT)), "bindata/data.bin": bytes(50_000_000)}),
    "bomb in the description": packed({**parts_of(x3p_bytes(MAP, at=AT)), "main.xml": b" " * 80_000_000}),
    "changed heights": packed({**parts_of(x3p_bytes(MAP, at=AT)), "bindata/data.bin": bytes(12 * 8)}),
    "other archive": packed({"word/document.xml": b"<a/>"}),
}


@pytest.mark.parametrize("content", HOSTILE.values(), ids=HOSTILE)
def test_hostile_and_contradictory_x3p_files_are_refused(content):
    """Each in one sentence, in little time and memory."""
    with pytest.raises(FileFormatError) as caught:
        x3p_surface(content, name="bad.x3p")
    assert caught.value.sentence.startswith("bad.x3p")
    assert len(caught.value.sentence) < 300


def test_an_enciphered_archive_is_refused():
    """The flag of every part is set in both of its headers (ZIP application note, 4.4.4)."""
    content = x3p_bytes(MAP, at=AT)
    for mark, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        at = -1
        while (at := content.find(mark, at + 1)) >= 0:
            content = content[: at + place] + bytes([content[at + place] | 1]) + content[at + place + 1 :]
    with pytest.raises(FileFormatError, match="enciphered"):
        x3p_surface(content, name="f")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"NumPoints = 3", b"NumPoints = 99999999999"), (b"NumPoints = 3", b"NumPoints = -3"), (b"NumPoints = 3", b"NumPoints = 3.5"),
        (b"NumPoints = 3", b"NumPoints = 4"), (b"NumPoints = 3", b"Points = 3"), (b"DataType = 7", b"DataType = 99"),
        (b"Compression = 0", b"Compression = 1"), (b"Xscale = 2e-06", b"Xscale = 0"), (b"Xscale = 2e-06", b"Xscale = inf"),
        (b"aISO-1.0", b"aISO-9.9"), (b"BAD", b"WORSE"), (b"BAD", b"1e999"), (b"*\r\n", b""),
    ],
)  # fmt: skip
def test_contradictory_sdf_files_are_refused(old, new):
    """Header against data, and values outside the standard."""
    content = sdf_bytes(MAP, at=AT, coding="text")
    assert old in content
    with pytest.raises(FileFormatError):
        sdf_surface(content.replace(old, new), name="f")


def test_a_profile_as_text_is_read_in_any_unit_sign_and_order():
    """Units from the header, decimal commas, Windows line ends, places falling, one left out, one empty."""
    text = "\ufeffx_um;z_um\r\n3,0;0,3\r\n2,0;\r\n0,0;0,1\r\n"
    profile = surface_from_bytes(text.encode(), name="f")
    assert profile.spacing == pytest.approx(1e-6)
    np.testing.assert_allclose(profile.height, [1e-7, np.nan, np.nan, 3e-7])


def test_a_map_as_text_is_read_in_both_forms():
    """A row for each point, in any order, or a grid with notes: y grows upwards, row 0 is the top."""
    listed = surface_from_bytes(b"x_mm,y_mm,z_um\n0,0,1\n1,0,2\n0,1,3\n", name="f")
    np.testing.assert_allclose(listed.height, [[3e-6, np.nan], [1e-6, 2e-6]])
    grid = "# grid: thickness_um\n# pixel_width_mm: 1\n# pixel_height_mm: 2\n# first_row: {}\n500,501\n,502\n"
    for first, expected in (("top", [[500, 501], [np.nan, 502]]), ("bottom", [[np.nan, 502], [500, 501]])):
        found = surface_from_bytes(grid.format(first).encode(), name="f")
        np.testing.assert_allclose(found.height * 1e6, expected)
        assert found.pixel_size == (2e-3, 1e-3)
        assert found.quantity == "thickness"


@pytest.mark.parametrize(
    "text",
    [
        "x_mm,z_nm\n", "x,z\n1,2\n", "x_mm,z_kg\n0,1\n1,2\n", "a,b\n1,2\n", "x_mm,z_nm\n0,1\n", "x_mm,z_nm\n0,1\n0,2\n1,2\n",
        "x_mm,z_nm\n0,1\n1,2\n1.4,2\n3,3\n", "x_mm,y_mm,z_um\n0,0,1\n1,0.13,1\n0.3,7,1\n0.61,2,2\n", "# grid: z_um\n1,2\n",
        "x_mm,z_nm\n0,1\n1,inf\n2,3\n", "# spacing_mm: 5\nx_mm,z_nm\n0,1\n1,2\n", "# spacing_mm: five\nx_mm,z_nm\n0,1\n1,2\n",
    ],
)  # fmt: skip
def test_text_that_is_no_surface_is_refused(text):
    """No rows, no unit, other columns, one place, two heights at one place, uneven places, notes that do not fit."""
    with pytest.raises((FileFormatError, BadInput)) as caught:
        surface_from_bytes(text.encode(), name="f")
    assert caught.value.sentence


def test_all_faulty_cells_are_listed():
    """Row and column of each."""
    with pytest.raises(BadInput) as caught:
        surface_from_bytes(b"x_mm,z_nm\n0,bad\n,2\n2,3,4\n", name="f")
    assert [(fault.row, fault.field) for fault in caught.value.faults] == [(2, "z_nm"), (3, "x_mm"), (4, None)]


def test_limits_hold(tmp_path):
    """Bytes and points above a limit, and sizes below one."""
    path = tmp_path / "f"
    path.write_bytes(b"12345")
    assert bounded_bytes(path, most=5) == b"12345"
    with pytest.raises(FileFormatError, match="MiB"):
        bounded_bytes(path, most=4)
    assert need_points("f", 2, 3) == 6
    for counts in ((0, 1), (10**9, 10**9)):
        with pytest.raises(FileFormatError):
            need_points("f", *counts)


def test_surfaces_have_their_invariants():
    """Two axes, steps above zero, no infinite height; a profile of two points at least."""
    for wrong in (
        {"height": np.zeros(3), "pixel_size": (1.0, 1.0)},
        {"height": np.zeros((2, 2)), "pixel_size": (0.0, 1.0)},
        {"height": np.full((2, 2), np.inf), "pixel_size": (1.0, 1.0)},
    ):
        with pytest.raises(OutOfValidRange):
            HeightMap(**wrong)
    for wrong in ({"height": np.zeros(1), "spacing": 1.0}, {"height": np.zeros(3), "spacing": -1.0}):
        with pytest.raises(OutOfValidRange):
            HeightProfile(**wrong)


def test_a_clean_file_reads_as_one_that_is_not():
    """The quick way and the careful way give the same numbers: one empty cell at the end takes the careful one."""
    rows = "".join(f"{place / 1000},{place % 7 - 2.125}\n" for place in range(50))
    clean = surface_from_bytes(f"x_mm,z_nm\n{rows}0.05,1\n".encode(), name="f")
    other = surface_from_bytes(f"x_mm,z_nm\n{rows}0.05,\n".encode(), name="f")
    assert np.array_equal(clean.height[:-1], other.height[:-1])
    assert clean.spacing == other.spacing
    assert np.isnan(other.height[-1])


def test_a_file_that_notes_more_points_than_it_holds_is_refused():
    """Cut at the end of a line, it would else read as a shorter profile or map."""
    for text in (
        "# points: 3\nx_mm,z_nm\n0,1\n1,2\n",
        "# points: 5\nx_mm,y_mm,z_um\n0,0,1\n1,0,\n0,1,1\n1,1,1\n",
        "# grid: z_um\n# pixel_width_mm: 1\n# pixel_height_mm: 1\n# rows: 3\n# first_row: top\n1,2\n3,4\n",
    ):
        with pytest.raises(FileFormatError, match="cut short"):
            surface_from_bytes(text.encode(), name="f")
