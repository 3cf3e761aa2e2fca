"""Pictures in: depth, colour, orientation, and files that must be refused with one sentence."""

import io
import struct
import zlib

import numpy as np
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps

from lapwright.errors import FileFormatError
from lapwright.formats.images import picture_from_bytes, read_picture, upright

RAMP = np.arange(48, dtype=np.uint8).reshape(6, 8) * 5


def saved(picture, kind, **options):
    """A picture's bytes in a format."""
    stream = io.BytesIO()
    picture.save(stream, format=kind, **options)
    return stream.getvalue()


def tiff(array, **options):
    """An array as a TIFF."""
    stream = io.BytesIO()
    tifffile.imwrite(stream, array, **options)
    return stream.getvalue()


def chunk(name, content):
    """A chunk of a PNG with its checksum (PNG specification, 5.3)."""
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))


@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
def test_grey_pictures_of_8_and_16_bits_keep_every_level(kind):
    """Values as stored, row 0 at the top."""
    for array in (RAMP, RAMP.astype(np.uint16) * 257 + 3):
        picture = picture_from_bytes(saved(Image.fromarray(array), kind), name="p")
        assert picture.intensity.dtype == np.float32
        assert np.array_equal(picture.intensity, array)
        assert picture.channel == "grey"


@pytest.mark.parametrize("compression", ["tiff_lzw", "tiff_adobe_deflate", "packbits", "raw"])
def test_tiff_compressions_are_read(compression):
    """The common lossless ones."""
    array = RAMP.astype(np.uint16) * 200
    content = saved(Image.fromarray(array), "TIFF", compression=compression)
    assert np.array_equal(picture_from_bytes(content, name="p").intensity, array)


def test_a_colour_tiff_of_16_bits_keeps_its_depth():
    """The channel that varies most is taken, and named."""
    array = np.zeros((6, 8, 3), np.uint16)
    array[:, :, 0] = RAMP.astype(np.uint16) * 250 + 1
    picture = picture_from_bytes(tiff(array, photometric="rgb"), name="p")
    assert picture.channel == "red"
    assert np.array_equal(picture.intensity, array[:, :, 0])


def test_a_jpeg_is_read_within_its_loss():
    """Quality 95 keeps a smooth ramp to a few levels."""
    smooth = np.tile(np.linspace(20, 220, 64), (64, 1)).astype(np.uint8)
    picture = picture_from_bytes(saved(Image.fromarray(smooth), "JPEG", quality=95), name="p")
    assert np.abs(picture.intensity - smooth).max() < 6


def test_a_channel_can_be_chosen_and_must_exist():
    """A red laser fills the red channel; a grey picture has none."""
    colour = np.stack([RAMP, RAMP // 2, 0 * RAMP], axis=2)
    content = saved(Image.fromarray(colour), "PNG")
    assert picture_from_bytes(content, name="p").channel == "red"
    assert np.array_equal(picture_from_bytes(content, name="p", channel="green").intensity, RAMP // 2)
    np.testing.assert_allclose(
        picture_from_bytes(content, name="p", channel="grey").intensity, colour.mean(axis=2), rtol=1e-6
    )
    with pytest.raises(FileFormatError, match="grey picture"):
        picture_from_bytes(saved(Image.fromarray(RAMP), "PNG"), name="p", channel="red")


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photograph_is_turned_as_its_camera_noted(orientation):
    """All eight orientations as Pillow's own transposition does it (independent of ours)."""
    picture = Image.fromarray(np.kron(RAMP, np.ones((8, 8), np.uint8)))
    exif = Image.Exif()
    exif[274] = orientation
    for kind in ("JPEG", "PNG", "TIFF"):
        content = saved(picture, kind, exif=exif)
        expected = np.array(ImageOps.exif_transpose(Image.open(io.BytesIO(content))))
        assert np.array_equal(picture_from_bytes(content, name="p").intensity, expected), kind


def test_an_unknown_orientation_is_left_alone():
    """A tag outside 1 to 8 says nothing."""
    assert np.array_equal(upright(RAMP, 42), RAMP)


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "TIFF"])
def test_a_picture_cut_at_any_length_is_refused_or_whole(kind):
    """Every seventh byte and all of the last forty: never half a picture in silence."""
    noise = np.random.default_rng(1).integers(0, 255, (40, 40), dtype=np.uint8)
    content = saved(Image.fromarray(noise), kind)
    whole = picture_from_bytes(content, name="p").intensity
    read = 0
    for length in [*range(0, len(content), 7), *range(len(content) - 40, len(content))]:
        try:
            cut = picture_from_bytes(content[:length], name="p").intensity
        except FileFormatError:
            continue
        read += 1
        assert np.array_equal(cut, whole)
    assert read < 40


def test_absurd_sizes_are_refused_before_a_pixel_is_unpacked():
    """A PNG header of 60 000 by 60 000 pixels, and one of 2^31 − 1; a TIFF of 100 000 by 100 000."""
    for side in (60_000, 2**31 - 1):
        header = struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
        content = (
            b"\x89PNG\r\n\x1a\n"
            + chunk(b"IHDR", header)
            + chunk(b"IDAT", zlib.compress(b"\x00" * 1000))
            + chunk(b"IEND", b"")
        )
        with pytest.raises(FileFormatError, match=r"pixels|points"):
            picture_from_bytes(content, name="p")
    content = bytearray(tiff(RAMP))
    with tifffile.TiffFile(io.BytesIO(bytes(content))) as file:
        for tag in (256, 257):
            where = file.pages[0].tags[tag].valueoffset
            content[where : where + 4] = struct.pack("<I", 100_000)[:4]
    with pytest.raises(FileFormatError):
        picture_from_bytes(bytes(content), name="p")


def test_a_strip_that_unpacks_without_end_is_held_to_the_size_stated():
    """A TIFF of 8 by 8 pixels whose one strip unpacks to 400 MB: read or refused with less than 60 MB taken."""
    import tracemalloc

    content = bytearray(tiff(np.zeros((8, 8), np.uint8), compression="zlib", rowsperstrip=8))
    packer = zlib.compressobj()
    bomb = b"".join(packer.compress(bytes(4_000_000)) for _ in range(100)) + packer.flush()
    with tifffile.TiffFile(io.BytesIO(bytes(content))) as file:
        tags = file.pages[0].tags
        for tag, value in ((273, len(content)), (279, len(bomb))):
            where = tags[tag].valueoffset
            content[where : where + 4] = struct.pack("<I", value)
    tracemalloc.start()
    try:
        picture = picture_from_bytes(bytes(content) + bomb, name="p")
        assert picture.intensity.shape == (8, 8)
    except FileFormatError:
        pass
    finally:
        taken = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    assert taken < 60e6


def test_other_files_are_refused_with_what_is_expected(tmp_path):
    """Text, an animated kind, two pages, a folder, nothing, an empty file."""
    for content in (b"x_mm,z_nm\n1,2\n", saved(Image.fromarray(RAMP), "GIF"), saved(Image.fromarray(RAMP), "BMP")):
        with pytest.raises(FileFormatError, match="PNG, TIFF or JPEG"):
            picture_from_bytes(content, name="p")
    with pytest.raises(FileFormatError, match="2 pictures"):
        picture_from_bytes(tiff(np.stack([RAMP, RAMP]), photometric="minisblack"), name="p")
    (tmp_path / "empty.png").write_bytes(b"")
    for path in (tmp_path, tmp_path / "none.png", tmp_path / "empty.png"):
        with pytest.raises(FileFormatError):
            read_picture(path)


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "TIFF"])
@given(place=st.integers(0, 5000), value=st.integers(0, 255), more=st.binary(max_size=6))
@settings(max_examples=150, deadline=None)
def test_changed_bytes_never_crash_the_reader(kind, place, value, more):
    """A picture or a refusal, nothing else."""
    content = bytearray(saved(Image.fromarray(np.kron(RAMP, np.ones((4, 4), np.uint8))), kind))
    place %= len(content)
    content[place] = value
    content[place:place] = more
    try:
        picture = picture_from_bytes(bytes(content), name="p")
    except FileFormatError:
        return
    assert picture.intensity.ndim == 2
