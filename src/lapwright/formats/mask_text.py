"""Where the sample lies in a picture, as text: circles, polygons and holes in pixels, or a picture bright there.

`circle:X,Y,R` and `polygon:X,Y,X,Y,X,Y…` add, `hole:X,Y,R` takes away. X counts pixels from the left, Y from the top of
the upright picture.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import FileFormatError, WrongQuestion
from lapwright.formats.images import read_picture
from lapwright.metrology.fringes import circle_mask, polygon_mask

Mask = NDArray[np.bool_]
EXAMPLE = "circle:512,512,400"


def mask_from_texts(texts: Sequence[str], shape: tuple[int, int]) -> Mask | None:
    """The mask that texts describe on a picture of a shape; None for no text.

    Raises `WrongQuestion` for a text that is none of the forms or a mask without a pixel, `FileFormatError` for a
    picture that cannot be read or has another size.
    """
    if not texts:
        return None
    mask = np.zeros(shape, bool)
    holes = np.zeros(shape, bool)
    for text in texts:
        word, mark, rest = text.partition(":")
        if mark and word in ("circle", "hole"):
            x, y, radius = _numbers(rest, text, exactly=3)
            if not radius > 0.0:
                raise WrongQuestion(f"The mask {text!r} has no radius above zero; write it like {EXAMPLE}.")
            circle = circle_mask(shape, centre=(y, x), radius=radius)
            mask, holes = (mask | circle, holes) if word == "circle" else (mask, holes | circle)
        elif mark and word == "polygon":
            corners = np.array(_numbers(rest, text)).reshape(-1, 2)[:, ::-1]
            mask = mask | polygon_mask(shape, corners=corners)
        else:
            mask = mask | _bright(Path(text), shape, text)
    if all(text.startswith("hole:") for text in texts):
        mask = ~mask
    mask &= ~holes
    if not mask.any():
        raise WrongQuestion(f"The mask {' '.join(texts)!r} holds no pixel of the picture ({shape[1]} by {shape[0]}).")
    return mask


# ----------------------------------------------------------------------------------------------------------------------


def _numbers(rest: str, text: str, *, exactly: int | None = None) -> list[float]:
    try:
        numbers = [float(part) for part in rest.split(",")]
    except ValueError:
        numbers = []
    wrong = len(numbers) != exactly if exactly else len(numbers) < 6 or len(numbers) % 2
    if wrong or not all(map(math.isfinite, numbers)):
        wanted = "polygon:100,100,900,100,500,800" if text.startswith("polygon") else EXAMPLE
        raise WrongQuestion(f"The mask {text[:80]!r} is not understood; write it like {wanted}, in pixels.")
    return numbers


def _bright(path: Path, shape: tuple[int, int], text: str) -> Mask:
    if not path.exists():
        raise WrongQuestion(
            f"The mask {text[:80]!r} is neither of the form {EXAMPLE}, polygon:… or hole:… nor a picture. Mend it."
        )
    picture = read_picture(path).intensity
    if picture.shape != shape:
        raise FileFormatError(
            f"The mask {path.name} is {picture.shape[1]} by {picture.shape[0]} pixels; "
            f"{shape[1]} by {shape[0]} are expected, as the picture has. Draw it on the picture."
        )
    return np.asarray(picture > 0.5 * float(picture.max()))
