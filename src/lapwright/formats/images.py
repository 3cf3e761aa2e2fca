"""Pictures in: PNG, TIFF and JPEG files to one plane of intensities, turned upright as the camera noted.

Colour is not mixed into grey: the channel whose intensity varies most is taken, since laser light fills one of them and
a burnt-out channel must stay visible. The picture's size is checked from its header before a pixel is unpacked.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import FileFormatError
from lapwright.formats.file_bytes import MOST_PIXELS, bounded_bytes, need_points

MOST_IMAGE_BYTES = 256 * 2**20
_ORIENTATION = 274  # TIFF and EXIF tag
_CHANNELS = ("red", "green", "blue")
_STARTS = {
    b"\x89PNG\r\n\x1a\n": "PNG",
    b"\xff\xd8\xff": "JPEG",
    b"II*\x00": "TIFF",
    b"MM\x00*": "TIFF",
    b"II+\x00": "TIFF",
    b"MM\x00+": "TIFF",
}

Channel = Literal["grey", "red", "green", "blue"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One picture: intensities (ny, nx) as stored, row 0 at the top, and where they come from."""

    intensity: NDArray[np.float32]
    kind: str
    channel: Channel

    def __post_init__(self) -> None:
        self.intensity.setflags(write=False)


def picture_kind(content: bytes) -> str | None:
    """PNG, JPEG or TIFF by the first bytes; None for anything else."""
    return next((kind for start, kind in _STARTS.items() if content.startswith(start)), None)


def read_picture(path: Path, *, channel: Channel | None = None) -> Picture:
    """A picture from a PNG, TIFF or JPEG file; `channel` picks one of a colour picture.

    Raises `FileFormatError` for a file that is no such picture, is cut short or damaged, has several pages, or is
    larger than is read.
    """
    return picture_from_bytes(bounded_bytes(path, most=MOST_IMAGE_BYTES), name=path.name, channel=channel)


def picture_from_bytes(content: bytes, *, name: str, channel: Channel | None = None) -> Picture:
    """A picture from the content of a file; raises as `read_picture`."""
    kind = picture_kind(content)
    if kind is None:
        raise FileFormatError(f"{name} is no picture that can be read; expected PNG, TIFF or JPEG. Convert it first.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            pixels, orientation = _decoded(content, kind, name)
    except FileFormatError:
        raise
    except Exception as fault:  # decoders raise whatever broken bytes lead them to
        why = str(fault).strip().rstrip(".") or type(fault).__name__
        raise FileFormatError(
            f"{name} is cut short, damaged, or of a kind that cannot be read ({why[:120]}). Save or send it again."
        ) from fault
    plane, taken = _one_plane(pixels, channel, name)
    return Picture(intensity=np.ascontiguousarray(upright(plane, orientation), np.float32), kind=kind, channel=taken)


def upright(pixels: NDArray[Any], orientation: int) -> NDArray[Any]:
    """Pixels turned and mirrored as the orientation tag asks (TIFF 6.0, tag 274; 1 = as stored)."""
    turned: dict[int, Callable[[NDArray[Any]], NDArray[Any]]] = {
        2: lambda a: a[:, ::-1],
        3: lambda a: a[::-1, ::-1],
        4: lambda a: a[::-1],
        5: lambda a: a.swapaxes(0, 1),
        6: lambda a: np.rot90(a, -1),
        7: lambda a: a[::-1, ::-1].swapaxes(0, 1),
        8: np.rot90,
    }
    return turned[orientation](pixels) if orientation in turned else pixels


# ----------------------------------------------------------------------------------------------------------------------


def _decoded(content: bytes, kind: str, name: str) -> tuple[NDArray[Any], int]:
    """Pixels (ny, nx) or (ny, nx, channels) as stored, and the orientation tag."""
    if kind == "TIFF":
        found = _decoded_tiff(content, name)
        if found is not None:
            return found
    from PIL import Image

    try:
        opened = Image.open(io.BytesIO(content), formats=(kind,))
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as fault:
        raise FileFormatError(f"{name} states more pixels than are read ({MOST_PIXELS}). Make it smaller.") from fault
    with opened:
        need_points(name, opened.width, opened.height, most=MOST_PIXELS)
        pages = int(getattr(opened, "n_frames", 1))
        if pages > 1:
            raise _several_pages(name, pages)
        orientation = int(opened.getexif().get(_ORIENTATION, 1))
        opened.load()
        picture: Image.Image = opened
        if picture.mode in ("P", "PA", "CMYK", "YCbCr", "LAB", "HSV"):
            picture = picture.convert("RGB")
        elif picture.mode == "1":
            picture = picture.convert("L")
        return np.array(picture), orientation


def _decoded_tiff(content: bytes, name: str) -> tuple[NDArray[Any], int] | None:
    """An uncompressed TIFF in its full depth; None for one that the other decoder, which bounds it, must unpack."""
    import logging

    import tifffile

    logging.getLogger("tifffile").setLevel(logging.CRITICAL)  # what it would log is in our own sentence
    with tifffile.TiffFile(io.BytesIO(content)) as file:
        if len(file.pages) != 1:
            raise _several_pages(name, len(file.pages))
        page: Any = file.pages[0]
        need_points(name, *(int(side) for side in page.shape), most=3 * MOST_PIXELS)
        _need_all_bytes(page, len(content), name)
        orientation = page.tags.get(_ORIENTATION)
        if page.compression != 1 or page.photometric.name not in ("MINISBLACK", "MINISWHITE", "RGB"):
            return None
        pixels = page.asarray()
        if page.planarconfig == 2 and pixels.ndim == 3:
            pixels = np.moveaxis(pixels, 0, -1)
        if page.photometric.name == "MINISWHITE":
            pixels = pixels.max() - pixels
        return pixels, int(orientation.value) if orientation is not None else 1


def _need_all_bytes(page: Any, size: int, name: str) -> None:
    """The reader of TIFF fills up what a cut file lacks; here it is refused."""
    ends = [offset + count for offset, count in zip(page.dataoffsets, page.databytecounts, strict=False)]
    is_short = page.compression == 1 and sum(page.databytecounts) < page.size * page.bitspersample // 8
    if not ends or max(ends) > size or is_short:
        raise FileFormatError(f"{name} is cut short: its pixels reach beyond its end. Save or send it again.")


def _several_pages(name: str, pages: int) -> FileFormatError:
    return FileFormatError(f"{name} holds {pages} pictures; exactly one is expected. Save each in a file of its own.")


def _one_plane(pixels: NDArray[Any], channel: Channel | None, name: str) -> tuple[NDArray[Any], Channel]:
    """One channel of the picture; transparency is left out."""
    if pixels.ndim == 3 and pixels.shape[2] in (1, 2):
        pixels = pixels[:, :, 0]
    if pixels.ndim == 3 and pixels.shape[2] in (3, 4) and _is_grey(pixels):
        pixels = pixels[:, :, 0]
    if pixels.ndim == 2 and pixels.dtype.kind in "uifb":
        if channel not in (None, "grey"):
            raise FileFormatError(f"{name} is a grey picture and has no {channel} channel; leave the channel out.")
        return pixels, "grey"
    if pixels.ndim != 3 or pixels.shape[2] not in (3, 4) or pixels.dtype.kind not in "uif":
        raise FileFormatError(f"{name} holds pixels of an unusual kind; expected grey or red, green, blue. Convert it.")
    if channel == "grey":
        return pixels[:, :, :3].mean(axis=2, dtype=np.float32), "grey"
    number = int(np.argmax(pixels[::4, ::4, :3].reshape(-1, 3).std(axis=0)))
    taken: Channel = channel or _CHANNELS[number]  # type: ignore[assignment]  # the names are those of the type
    return pixels[:, :, _CHANNELS.index(taken)], taken


def _is_grey(pixels: NDArray[Any]) -> bool:
    return bool((pixels[:, :, 0] == pixels[:, :, 1]).all() and (pixels[:, :, 0] == pixels[:, :, 2]).all())
