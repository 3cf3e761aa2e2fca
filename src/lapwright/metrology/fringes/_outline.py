"""Which pixels are the sample, by what the fringes and the brightness say."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from lapwright.metrology.fringes._grid import Single
from lapwright.metrology.fringes._search import block_mean

Mask = NDArray[np.bool_]
MISSED = 0.03  # largest share of the fringed blocks that brightness may leave out
PLAIN = 0.03  # largest share of the surrounding that may differ from its median for its brightness to be of use


def sample_outline(image: Single, amplitude: Single, *, block: int, closing: float) -> tuple[Mask, bool]:
    """The sample by its fringes, its edge by brightness where the surrounding is plain.

    `amplitude` is the fringe amplitude at the blocks; `closing` the width in blocks up to which dark stripes are
    bridged. Returns the mask, and whether brightness has drawn its edge.
    """
    strong = float(np.percentile(amplitude, 90))
    core = _largest_parts(amplitude > 0.25 * strong)
    outside = _eroded(amplitude < 0.1 * strong, 1.0)
    if outside.mean() < 0.01:
        return np.ones(image.shape, bool), True
    apart = _distinct(image, outside, block)
    if apart is None:
        return _enlarged(core, image.shape, block), False
    closed = _joined_to(_closed(block_mean(apart, block) > 0.5, closing), core)
    inner = _eroded(core, closing + 1.0)
    if np.count_nonzero(inner & ~closed) > MISSED * np.count_nonzero(inner):
        return _enlarged(core, image.shape, block), False
    return _edge_by_pixel(apart, closed, block), True


def outline_by_brightness(image: Single, *, closing: float) -> tuple[Mask, bool]:
    """The sample by brightness alone: what differs from the picture's rim, its largest part.

    `closing` is the width in blocks up to which dark stripes are bridged. Returns the mask, and False when the rim is
    not plain and the whole picture is taken.
    """
    block = max(1, min(image.shape) // 128)
    ny, nx = (length // block for length in image.shape)
    rim = np.ones((ny, nx), bool)
    rim[2:-2, 2:-2] = False
    apart = _distinct(image, rim, block)
    if apart is None:
        return np.ones(image.shape, bool), False
    closed = _closed(block_mean(apart, block) > 0.5, closing)
    label, size = _parts(closed)
    if size.max() == 0:
        return np.zeros(image.shape, bool), True
    return _edge_by_pixel(apart, label == int(np.argmax(size)), block), True


# ----------------------------------------------------------------------------------------------------------------------


def _distinct(image: Single, outside: Mask, block: int) -> Mask | None:
    """Pixels that differ from the surrounding, or None when the surrounding is not plain."""
    middle = block // 2
    ny, nx = outside.shape
    seen = image[middle : ny * block : block, middle : nx * block : block][outside]
    level = float(np.median(seen))
    spread = 1.4826 * float(np.median(np.abs(seen - level)))
    rise = float(np.percentile(np.abs(image[::16, ::16] - level), 98))
    gap = max(5.0 * spread, 0.08 * rise)
    if gap > 0.5 * rise:
        return None
    if float(np.mean(np.abs(seen - level) > gap)) > PLAIN:
        return None
    return np.abs(image - np.float32(level)) > np.float32(gap)  # type: ignore[no-any-return]


def _closed(mask: Mask, reach: float) -> Mask:
    """Closing by a disc: gaps narrower than twice the reach are filled, the outer edge stays."""
    from scipy import ndimage

    pad = int(reach) + 2
    padded = np.pad(mask, pad)
    grown = ndimage.distance_transform_edt(~padded) <= reach
    return np.asarray(ndimage.distance_transform_edt(grown) > reach)[pad:-pad, pad:-pad]


def _eroded(mask: Mask, reach: float) -> Mask:
    from scipy import ndimage

    return np.asarray(ndimage.distance_transform_edt(np.pad(mask, 1, mode="edge")) > reach)[1:-1, 1:-1]


def _largest_parts(mask: Mask) -> Mask:
    """Connected parts of at least a tenth of the largest."""
    label, size = _parts(mask)
    return (size >= 0.1 * size.max())[label] & mask  # type: ignore[no-any-return]


def _joined_to(mask: Mask, core: Mask) -> Mask:
    """Connected parts that lie on the core with at least a third of their area."""
    label, size = _parts(mask)
    on_core = np.bincount(label.ravel(), weights=core.ravel(), minlength=size.size)
    return (on_core > size / 3.0)[label] & mask  # type: ignore[no-any-return]


def _parts(mask: Mask) -> tuple[NDArray[Any], NDArray[Any]]:
    from scipy import ndimage

    label, count = ndimage.label(mask)
    size = np.bincount(label.ravel(), minlength=count + 1)
    size[0] = 0
    return label, size


def _edge_by_pixel(apart: Mask, closed: Mask, block: int) -> Mask:
    """Blocks well inside count whole; along the edge each pixel speaks for itself."""
    from scipy import ndimage

    ring = np.ones((3, 3), bool)
    inner = ndimage.binary_erosion(closed, ring, border_value=1)
    outer = ndimage.binary_dilation(closed, ring)
    full = _enlarged(outer, apart.shape, block)
    full &= apart
    full |= _enlarged(inner, apart.shape, block)
    return full


def _enlarged(blocks: Mask, shape: tuple[int, int], block: int) -> Mask:
    """A block mask on the pixels; the strip beyond the last full block follows its neighbour."""
    ny, nx = blocks.shape
    large = np.repeat(np.repeat(blocks, block, axis=0), block, axis=1)
    return np.pad(large, ((0, shape[0] - ny * block), (0, shape[1] - nx * block)), mode="edge")
