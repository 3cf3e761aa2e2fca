"""Pictures that must not become maps."""

import numpy as np
import pytest

from lapwright.errors import (
    BadInput,
    FringesClosed,
    FringesRefused,
    FringesSaturated,
    FringesTooWeak,
    FringesUndersampled,
    NoSampleFound,
    OutOfValidRange,
    ShapeMismatch,
    TooFewFringes,
)
from lapwright.metrology.fringes import height_from_carrier, height_from_closed, height_from_steps

SIDE = 384
Y, X = np.mgrid[-1 : 1 : SIDE * 1j, -1 : 1 : SIDE * 1j]
DISC = X * X + Y * Y < 0.8
GENERATOR = np.random.default_rng(5)
NOISE = GENERATOR.normal(size=(SIDE, SIDE))


def on_disc(values):
    """A picture with a dark surrounding and a little noise."""
    return np.where(DISC, values, 5.0) + 2.0 * NOISE


def fringes(count):
    """Straight fringes across the picture's side."""
    return 100.0 + 50.0 * np.cos(np.pi * count * X)


rough = 6.0 * GENERATOR.normal(size=(SIDE // 8, SIDE // 8)).repeat(8, axis=0).repeat(8, axis=1)
speckle = GENERATOR.exponential(1.0, (SIDE // 4, SIDE // 4)).repeat(4, axis=0).repeat(4, axis=1)
POOR = {
    "noise only": (NOISE, FringesTooWeak),
    "even grey": (np.full((SIDE, SIDE), 100.0), FringesTooWeak),
    "too dark": (np.where(DISC, 3 + 0.4 * np.cos(60 * X), 0.0) + NOISE, FringesTooWeak),
    "no fringes": (on_disc(120.0 + 40.0 * X), FringesTooWeak),
    "drowned in noise": (on_disc(120.0 + np.cos(60 * X) + 20.0 * NOISE), FringesTooWeak),
    "burnt out": (np.minimum(on_disc(4.0 * fringes(20)), 200.0), FringesSaturated),
    "three fringes": (on_disc(fringes(3)), TooFewFringes),
    "rings": (on_disc(100 + 50 * np.cos(16 * np.pi * (X * X + Y * Y))), FringesClosed),
    "rings with too little tilt": (on_disc(100 + 50 * np.cos(16 * np.pi * (X * X + Y * Y) + 30 * X)), FringesClosed),
    "narrower than the pixels": (on_disc(fringes(170)), FringesUndersampled),
    "two sets crossing": (on_disc(0.5 * fringes(30) + 0.5 * fringes(28).T), FringesClosed),
    "fringes on a corner": (on_disc(np.where(Y > 0.35, fringes(30), 100.0)), FringesRefused),
    "thumb print": (on_disc(100 + 50 * np.cos(30 * np.pi * X + rough)), FringesRefused),
    "speckle": (np.where(DISC, 100.0 * speckle, 0.0), FringesRefused),
    "no numbers": (np.full((SIDE, SIDE), np.nan), NoSampleFound),
}


@pytest.mark.parametrize("name", POOR)
def test_poor_picture_is_refused_with_its_reason(name):
    """No map comes out of a bad picture; the error names what is wrong."""
    image, reason = POOR[name]
    with pytest.raises(reason) as caught:
        height_from_carrier(image, fringe_height=1e-6, pixel_size=1e-4)
    assert caught.value.code.startswith("fringes.")


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in POOR if "ring" not in name])
def test_poor_picture_does_not_pass_as_closed_fringes(name):
    """The method for closed fringes refuses the same pictures."""
    with pytest.raises(FringesRefused):
        height_from_closed(POOR[name][0], fringe_height=1e-6, pixel_size=1e-4)


def test_picture_that_is_no_picture_is_a_wrong_question():
    """Colour, a stamp and text are told apart from poor pictures; both faults of one picture at once."""
    with pytest.raises(BadInput, match="3 axes"):
        height_from_carrier(np.zeros((64, 64, 3)), fringe_height=1e-6, pixel_size=1e-4)
    with pytest.raises(BadInput) as caught:
        height_from_carrier(np.zeros((9, 9), complex), fringe_height=1e-6, pixel_size=1e-4)
    assert len(caught.value.faults) == 2


@pytest.mark.parametrize(
    "given", [{"fringe_height": 0.0, "pixel_size": 1e-4}, {"fringe_height": 1e-6, "pixel_size": (1e-4, -1e-4)}]
)
def test_scales_must_be_lengths(given):
    """Zero or negative scales are refused."""
    with pytest.raises(OutOfValidRange):
        height_from_carrier(on_disc(fringes(20)), **given)


def test_mask_must_have_the_picture_s_shape():
    """A mask of another size is refused."""
    with pytest.raises(ShapeMismatch):
        height_from_carrier(on_disc(fringes(20)), fringe_height=1e-6, pixel_size=1e-4, mask=np.ones((5, 5), bool))


def test_empty_mask_holds_no_sample():
    """A mask without pixels is refused."""
    with pytest.raises(FringesRefused):
        height_from_carrier(
            on_disc(fringes(20)), fringe_height=1e-6, pixel_size=1e-4, mask=np.zeros((SIDE, SIDE), bool)
        )


def test_direction_along_the_fringes_cannot_tell_the_sign():
    """The gap cannot open along the fringes."""
    with pytest.raises(OutOfValidRange, match="square to the fringes"):
        height_from_carrier(on_disc(fringes(20)), fringe_height=1e-6, pixel_size=1e-4, tilt_opens_toward=np.pi / 2)


def test_contradicting_directions_are_refused():
    """Tilt and pressing must agree."""
    with pytest.raises(BadInput, match="contradict"):
        height_from_carrier(
            on_disc(fringes(20)),
            fringe_height=1e-6,
            pixel_size=1e-4,
            tilt_opens_toward=0.0,
            pressed_fringes_toward=np.pi,
        )


def test_two_pictures_cannot_carry_a_phase():
    """Three known or four unknown steps are the least."""
    with pytest.raises(BadInput, match="at least 3"):
        height_from_steps(np.zeros((2, 64, 64)), fringe_height=1e-6, pixel_size=1e-4, steps=np.array([0.0, 1.0]))
    with pytest.raises(BadInput, match="at least 4"):
        height_from_steps(np.zeros((3, 64, 64)), fringe_height=1e-6, pixel_size=1e-4)


def test_steps_of_half_turns_cannot_carry_a_phase():
    """0, 180 and 360 degrees lie on one line."""
    with pytest.raises(FringesRefused, match="quarter"):
        height_from_steps(
            np.ones((3, 64, 64)), fringe_height=1e-6, pixel_size=1e-4, steps=np.array([0.0, np.pi, 2 * np.pi])
        )


def test_pictures_that_do_not_move_are_refused():
    """Five equal pictures hold no phase."""
    frames = np.repeat(on_disc(fringes(20))[None], 5, axis=0)
    with pytest.raises(FringesRefused):
        height_from_steps(frames, fringe_height=1e-6, pixel_size=1e-4, steps=np.arange(5) * np.pi / 2)
