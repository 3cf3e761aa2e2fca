"""Photographs that are kept as they are: whether a file is one that a page can show, looked at before it is stored."""

from __future__ import annotations

import io
import warnings
from pathlib import Path

from lapwright.errors import FileFormatError
from lapwright.formats.file_bytes import MOST_PIXELS
from lapwright.formats.images import picture_kind

MOST_PHOTO_BYTES = 50 * 1024 * 1024  # a large photograph; common practice, no source
ENDINGS = {"JPEG": ".jpg", "PNG": ".png"}


def photograph_name(content: bytes, name: str) -> str:
    """The name under which a photograph is kept: with the ending of what it is, whatever it was called.

    Raises `FileFormatError` for a file that is empty, too large, no JPEG or PNG picture, cut short or damaged.
    """
    from PIL import Image

    shown = name[:80] or "file"
    if not content:
        raise FileFormatError(f"{shown!r} is empty. Choose the photograph again.")
    if len(content) > MOST_PHOTO_BYTES:
        raise FileFormatError(
            f"{shown!r} is larger than the {MOST_PHOTO_BYTES // 1048576} MB that are kept at most."
            " Send a smaller photograph."
        )
    kind = picture_kind(content)
    if kind not in ENDINGS:
        raise FileFormatError(f"{shown!r} is no JPEG or PNG picture. Send the photograph as one of these.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(content), formats=[kind]) as picture:
                pixels = picture.width * picture.height
                if pixels > MOST_PIXELS:
                    raise FileFormatError(
                        f"{shown!r} has {pixels / 1e6:.0f} million points; at most {MOST_PIXELS / 1e6:.0f} million are"
                        " shown. Send a smaller photograph."
                    )
                picture.load()
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as error:
        raise FileFormatError(f"{shown!r} is cut short or damaged. Take or copy the photograph again.") from error
    return f"{Path(name).stem[:100] or 'photograph'}{ENDINGS[kind]}"
