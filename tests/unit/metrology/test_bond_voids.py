"""Voids in photographs of a bond: synthetic pictures whose voids are known, drawn by the simulator, which knows no ours.

Area within 5 % and none longer than 1 mm missed are what the capability asks for.
"""

import math

import numpy as np
import pytest

from lapwright.errors import BadInput, OutOfValidRange, VoidsUnclear
from lapwright.metrology.bond_voids import bond_voids
from lapwright.metrology.photo_places import PhotoPlace, wafer_in_photo
from lapwright.model.wafer import Rectangle, Round
from lapwright.sim.bond_photos import Camera, bond_photo
from lapwright.sim.bonding import Void

WAFER = Round(diameter=15e-3, mark="flat", flat_length=5e-3)
#: Middle [m] and diameter [m] of voids apart from each other and from the edge.
VOIDS = tuple(
    Void(x=x * 1e-3, y=y * 1e-3, diameter=d * 1e-3)
    for x, y, d in ((-5.0, 0.0, 1.05), (-1.5, 3.5, 1.5), (3.0, 2.5, 2.2), (1.5, -3.0, 3.0), (-3.0, -3.5, 0.6))
)


def photo(seed, **camera):
    """A picture of the wafer with its voids."""
    return bond_photo(
        WAFER.diameter, VOIDS, Camera(**camera), rng=np.random.default_rng(seed), flat_length=WAFER.flat_length
    )


@pytest.mark.parametrize(
    ("pixel", "contrast", "blur", "noise"),
    [(0.08e-3, 0.25, 1.0, 0.01), (0.098e-3, -0.15, 1.3, 0.01), (0.06e-3, 0.12, 0.0, 0.02), (0.09e-3, -0.5, 0.5, 0.003)],
)
def test_areas_are_right_to_five_percent_and_none_over_a_millimetre_is_missed(pixel, contrast, blur, noise):
    """Four cameras: fine and coarse, voids lighter and darker, sharp and blurred, quiet and noisy; nothing is invented."""
    picture = photo(1, pixel=pixel, contrast=contrast, blur=blur, noise=noise)
    found = bond_voids(picture, wafer_in_photo(picture, outline=WAFER), outline=WAFER).voids
    for true in (one for one in VOIDS if one.diameter > 1e-3):
        near = [one for one in found if math.hypot(one.x - true.x, one.y - true.y) < 0.1e-3]
        assert len(near) == 1
        assert near[0].area == pytest.approx(math.pi / 4.0 * true.diameter**2, rel=0.05)
        assert near[0].longest == pytest.approx(true.diameter, rel=0.12)
        edge = min(WAFER.diameter / 2.0 - math.hypot(true.x, true.y), true.y + _flat()) - true.diameter / 2.0
        assert near[0].edge_distance == pytest.approx(edge, abs=0.2e-3)
    for one in found:
        assert any(math.hypot(one.x - true.x, one.y - true.y) < true.diameter / 2.0 for true in VOIDS)


def test_a_bond_without_voids_has_none():
    """Shading and noise alone are no void."""
    picture = bond_photo(WAFER.diameter, (), Camera(noise=0.02), rng=np.random.default_rng(2), flat_length=5e-3)
    found = bond_voids(picture, wafer_in_photo(picture, outline=WAFER), outline=WAFER)
    assert found.voids == ()
    assert found.longest == 0.0


def test_the_mark_may_lie_anywhere():
    """A picture turned by a quarter gives the same voids when it is said where the mark lies."""
    picture = photo(3)
    place = wafer_in_photo(picture, outline=WAFER)
    side = picture.shape[0] - 1
    turned = PhotoPlace(column=side - place.row, row=place.column, pixel=place.pixel, quarter_turns=1)
    one, other = (
        bond_voids(image, at, outline=WAFER).voids for image, at in ((picture, place), (np.rot90(picture, -1), turned))
    )
    assert [void.longest for void in one] == pytest.approx([void.longest for void in other], rel=1e-9)
    assert [void.x for void in one] == pytest.approx([void.x for void in other], abs=1e-9)


def test_a_hole_counts_as_void_and_a_look_picks_one_side():
    """A ring is a void up to its outer rim; asked for darker ones, a lighter one is film."""
    row, column = np.mgrid[0:400, 0:400]
    distance = np.hypot(column - 200.0, row - 150.0)
    picture = np.where((distance < 20.0) & (distance > 8.0), 140.0, 100.0)
    place, outline = PhotoPlace(column=200.0, row=200.0, pixel=1e-4), Rectangle(width=0.03, height=0.03)
    found = bond_voids(picture, place, outline=outline)
    assert found.voids[0].area == pytest.approx(math.pi * 2e-3**2, rel=0.03)
    assert bond_voids(picture, place, outline=outline, look="darker").voids == ()


@pytest.mark.parametrize("light", ["a side", "the middle"])
def test_uneven_light_moves_no_edge_and_hides_no_void(light):
    """Half as bright at one side, or at the whole rim, as in the middle: the wafer's place and every area hold."""
    picture = photo(6, shading=0.0, noise=0.005) / 130.0
    row, column = np.indices(picture.shape)
    middle = (picture.shape[0] - 1) / 2.0
    across, apart = (column - middle) / middle, np.hypot(column - middle, row - middle) / middle
    picture *= 1.0 + 0.6 * across if light == "a side" else 1.0 - 0.55 * apart**2
    found = bond_voids(picture, wafer_in_photo(picture, outline=WAFER), outline=WAFER).voids
    for true in (one for one in VOIDS if one.diameter > 1e-3):
        near = [one for one in found if math.hypot(one.x - true.x, one.y - true.y) < 0.1e-3]
        assert [one.area for one in near] == [pytest.approx(math.pi / 4.0 * true.diameter**2, rel=0.05)]


def test_where_the_film_is_overexposed_nothing_is_said():
    """A void there would leave no trace; one that fills the scale in a film that does not is seen."""
    picture = photo(7, contrast=0.5, noise=0.0).astype(float)
    place = wafer_in_photo(picture, outline=WAFER)
    assert len(bond_voids(np.minimum(picture, 165.0), place, outline=WAFER, full_scale=165.0).voids) == 5
    with pytest.raises(VoidsUnclear, match="overexposed"):
        bond_voids(np.minimum(picture * 1.9, 255.0), place, outline=WAFER, full_scale=255.0)


def test_what_cannot_be_told_is_refused():
    """Too coarse, cut off, half of it different: each says what to do."""
    picture = photo(4)
    with pytest.raises(OutOfValidRange, match=r"0\.0001 m"):
        bond_voids(picture, PhotoPlace(column=150.0, row=150.0, pixel=0.2e-3), outline=WAFER)
    with pytest.raises(BadInput, match="beyond the photograph"):
        bond_voids(picture, PhotoPlace(column=10.0, row=10.0, pixel=0.08e-3), outline=WAFER)
    rng = np.random.default_rng(5)
    patchy = np.where(rng.random((20, 20)).repeat(20, axis=0).repeat(20, axis=1) < 0.5, 60.0, 140.0)
    with pytest.raises(VoidsUnclear, match="so uneven"):
        bond_voids(patchy, PhotoPlace(column=200.0, row=200.0, pixel=1e-4), outline=Round(diameter=0.03))


# ----------------------------------------------------------------------------------------------------------------------


def _flat():
    """How far the flat lies below the middle [m]."""
    return math.sqrt((WAFER.diameter / 2.0) ** 2 - (WAFER.flat_length / 2.0) ** 2)
