"""Unwrapping: turns, islands, holes."""

import numpy as np
import pytest

from lapwright.errors import ShapeMismatch
from lapwright.metrology.unwrap import islands, unwrapped_phase

Y, X = np.mgrid[-1:1:90j, -1:1:110j]
SHEET = 30.0 * (X**2 + 0.5 * Y**2) + 8.0 * X


def wrapped(sheet):
    """Angle up to whole turns."""
    return np.angle(np.exp(1j * sheet))


def test_smooth_sheet_is_recovered_up_to_whole_turns():
    """The difference is one whole number of turns all over."""
    found, island = unwrapped_phase(wrapped(SHEET), mask=np.ones(X.shape, bool))
    turns = (found - SHEET) / (2 * np.pi)

    np.testing.assert_allclose(turns, np.round(turns.mean()), atol=1e-12)
    assert np.all(island == 1)


def test_hole_in_the_middle_does_no_harm():
    """A ring unwraps like a disc."""
    ring = (np.hypot(X, Y) < 0.9) & (np.hypot(X, Y) > 0.3)
    found, _ = unwrapped_phase(wrapped(SHEET), mask=ring)

    assert np.ptp((found - SHEET)[ring]) < 1e-12
    assert np.isnan(found[~ring]).all()


def test_islands_unwrap_each_for_itself():
    """Two parts, numbered by size."""
    mask = np.ones(X.shape, bool)
    mask[:, 70:74] = False
    found, island = unwrapped_phase(wrapped(SHEET), mask=mask)

    assert island[0, 0] == 1
    assert island[0, -1] == 2
    for number in (1, 2):
        assert np.ptp((found - SHEET)[island == number]) < 1e-12


def test_paths_keep_off_bad_pixels():
    """A scratch of random phase with low quality does not shift what lies behind it."""
    phase = wrapped(SHEET)
    generator = np.random.default_rng(1)
    scratch = np.zeros(X.shape, bool)
    scratch[10:80, 50:53] = True
    phase[scratch] = generator.uniform(-np.pi, np.pi, scratch.sum())
    quality = np.where(scratch, 0.01, 1.0)
    found, _ = unwrapped_phase(phase, mask=np.ones(X.shape, bool), quality=quality)

    assert np.ptp((found - SHEET)[~scratch]) < 1e-12


def test_empty_mask_gives_nothing():
    """No pixel, no phase, no island."""
    found, island = unwrapped_phase(SHEET, mask=np.zeros(X.shape, bool))

    assert np.isnan(found).all()
    assert not island.any()


def test_shapes_must_agree():
    """A mask of another size is refused."""
    with pytest.raises(ShapeMismatch):
        unwrapped_phase(SHEET, mask=np.ones((3, 3), bool))


def test_islands_are_numbered_by_size():
    """Three parts of 6, 2 and 1 pixels; corners do not join."""
    mask = np.array([[1, 0, 1, 1, 1], [0, 0, 1, 1, 1], [1, 1, 0, 0, 0]], bool)
    assert islands(mask).tolist() == [[3, 0, 1, 1, 1], [0, 0, 1, 1, 1], [2, 2, 0, 0, 0]]
