"""Laws of frames and bond lines."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.metrology.bond_line import bond_line
from lapwright.metrology.frames import transformed
from lapwright.metrology.site_patterns import nine_sites
from lapwright.model.wafer import Frame, Round, ThicknessMap

DIAMETER = 0.0508
NINE = nine_sites(Round(diameter=DIAMETER))
micrometres = st.floats(min_value=-3.0, max_value=3.0).map(lambda value: round(value, 3) * 1e-6)
uneven = st.lists(micrometres, min_size=9, max_size=9).map(np.array)
frames = st.builds(
    Frame, seen_from=st.sampled_from(["worked", "bonded"]), turn=st.floats(min_value=-math.pi, max_value=math.pi)
)
LAW = settings(max_examples=40, deadline=None)


def measured(thickness, frame=Frame(), x=NINE.x, y=NINE.y):  # noqa: B008 -- a frozen value
    """A map on nine sites."""
    return ThicknessMap(x=np.array(x), y=np.array(y), thickness=np.array(thickness), labels=NINE.labels, frame=frame)


def same(one, other):
    """The same map: places, thicknesses, labels."""
    return (
        np.allclose(one.x, other.x, atol=1e-15)
        and np.allclose(one.y, other.y, atol=1e-15)
        and np.array_equal(one.thickness, other.thickness)
        and one.labels == other.labels
        and one.frame == other.frame
    )


@LAW
@given(uneven)
def test_a_flip_made_twice_is_no_flip(rise):
    """Mirrored in x and mirrored back, both times by going to the frame of the other face."""
    here = measured(5e-4 + rise)
    below = transformed(here, to=Frame(seen_from="bonded"))
    assert np.array_equal(-here.x, below.x)
    assert same(here, transformed(below))


@LAW
@given(uneven, frames, frames)
def test_to_another_frame_and_back_is_the_same_map(rise, one, other):
    """For any face and any turn."""
    here = measured(5e-4 + rise, one)
    assert same(here, transformed(transformed(here, to=other), to=one))


@LAW
@given(uneven, frames, frames, frames)
def test_frames_compose(rise, one, two, three):
    """By way of another frame is as good as straight."""
    here = measured(5e-4 + rise, one)
    assert same(transformed(here, to=three), transformed(transformed(here, to=two), to=three))


@LAW
@given(uneven, uneven, frames, frames)
def test_the_frames_of_the_maps_do_not_change_the_bond(wafer, carrier, wafer_frame, carrier_frame):
    """Maps noted from either face and at any turn give the same bond once their frames are stated."""
    wafer, carrier = 5e-4 + wafer, 1e-3 + carrier
    stack = wafer + carrier + 20e-6
    plain = bond_line(measured(wafer), measured(carrier), measured(stack), diameter=DIAMETER)
    noted = bond_line(
        transformed(measured(wafer), to=wafer_frame),
        transformed(measured(carrier), to=carrier_frame),
        measured(stack),
        diameter=DIAMETER,
    )
    assert np.allclose(plain.bond.thickness, noted.bond.thickness, atol=1e-15)
    assert plain.predicted_ttv == noted.predicted_ttv


@LAW
@given(uneven, uneven, uneven, micrometres)
def test_a_common_error_cancels_in_the_prediction(wafer, carrier, bond, error):
    """The gauge reads all maps too high by the same: range, wedge and prediction stay, the mean falls by it once."""
    wafer, carrier = 5e-4 + wafer, 1e-3 + carrier
    stack = wafer + carrier + 30e-6 + bond
    true = bond_line(measured(wafer), measured(carrier), measured(stack), diameter=DIAMETER)
    seen = bond_line(measured(wafer + error), measured(carrier + error), measured(stack + error), diameter=DIAMETER)
    assert abs(true.mean - error - seen.mean) < 1e-15
    assert np.allclose(true.predicted_deviation.thickness, seen.predicted_deviation.thickness, atol=1e-15)
    assert abs(true.wedge.amount - seen.wedge.amount) < 1e-14


@LAW
@given(uneven, uneven, uneven)
def test_predicted_wedge_is_minus_the_wedge_of_bond_and_carrier(wafer, carrier, bond):
    """As vectors."""
    wafer, carrier, bond = 5e-4 + wafer, 1e-3 + carrier, 30e-6 + bond
    result = bond_line(measured(wafer), measured(carrier), measured(wafer + carrier + bond), diameter=DIAMETER)
    plane = np.linalg.pinv(np.column_stack((np.ones(9), NINE.x, NINE.y)))[1:] * DIAMETER
    expected = -plane @ (bond + carrier - 1.03e-3)
    assert abs(np.hypot(*expected) - result.predicted_wedge.amount) < 1e-14
    found = plane @ result.predicted_deviation.thickness
    assert np.allclose(expected, found, atol=1e-14)
