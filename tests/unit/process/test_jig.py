"""Adjuster corrections: signs, frames, rounding, and two rounds on a jig of its own kind."""

import math

import numpy as np
import pytest

from lapwright.errors import BadInput, OutOfValidRange
from lapwright.model.shelf import Jig
from lapwright.model.wafer import Wedge
from lapwright.process.jig import Adjuster, JigGeometry, adjuster_corrections, geometry_of


def jig(azimuths=(90, 210, 330), *, radius=0.07, travel=2e-6, sense=1, **geometry):
    """A jig with adjusters at these azimuths."""
    adjusters = tuple(
        Adjuster(azimuth=math.radians(a), radius=radius, travel_per_division=travel, sense=sense) for a in azimuths
    )
    return JigGeometry(adjusters=adjusters, **geometry)


def corrections(found):
    """Corrections in um."""
    return [move.correction * 1e6 for move in found.moves]


def wedge(amount_um=6.0, azimuth_deg=30.0):
    """A wedge."""
    return Wedge(amount=amount_um * 1e-6, azimuth=math.radians(azimuth_deg))


def test_the_worked_example():
    """6 um over 100 mm at 70 mm is 4.2 um; cos 60 = 0.5, cos 180 = -1, cos 300 = 0.5."""
    assert corrections(adjuster_corrections(wedge(), 0.1, jig())) == pytest.approx([2.1, -4.2, 2.1])


@pytest.mark.parametrize(
    ("azimuth", "expected"),
    [(0, (6.0, -3.0, -3.0)), (30, (5.196, 0.0, -5.196)), (90, (0.0, 5.196, -5.196))],
)
def test_closed_form_at_three_azimuths(azimuth, expected):
    """10 um over 100 mm, adjusters at 0, 120, 240 on 60 mm: 6 um times the cosine."""
    found = adjuster_corrections(wedge(10, azimuth), 0.1, jig((0, 120, 240), radius=0.06))

    assert corrections(found) == pytest.approx(expected, abs=1e-3)


def test_the_thick_side_comes_nearer_the_plate():
    """An adjuster under the thick edge gets a positive correction: more is removed there."""
    found = adjuster_corrections(wedge(6, 90), 0.1, jig())

    assert found.moves[0].correction > 0.0
    assert found.centre_shift == pytest.approx(0.0, abs=1e-18)


def test_divisions_are_rounded_to_what_can_be_set():
    """1.05 divisions become 1.00, -2.1 become -2.0; what is left is computed from those."""
    found = adjuster_corrections(wedge(), 0.1, jig(division_step=0.25))

    assert [m.divisions_exact for m in found.moves] == pytest.approx([1.05, -2.1, 1.05])
    assert [m.divisions_to_set for m in found.moves] == [1.0, -2.0, 1.0]
    # set 2, -4, 2 um: the plane 4 um at 70 mm is 5.714 um over 100 mm, so 0.286 um stay, still thick at 30 degrees
    assert found.residual.amount * 1e6 == pytest.approx(0.2857, abs=1e-4)
    assert math.degrees(found.residual.azimuth) == pytest.approx(30.0)


def test_a_left_handed_thread_turns_the_divisions_round():
    """The correction in um is the same, the divisions change sign."""
    right = adjuster_corrections(wedge(), 0.1, jig())
    left = adjuster_corrections(wedge(), 0.1, jig(sense=-1))

    assert corrections(left) == pytest.approx(corrections(right))
    assert [m.divisions_to_set for m in left.moves] == [-m.divisions_to_set for m in right.moves]


def test_both_views_name_the_same_screw():
    """Seen from the jig's top x is mirrored: 90, 210, 330 become 90, 330, 210 and each screw moves as before."""
    worked = adjuster_corrections(wedge(), 0.1, jig((90, 210, 330)))
    operator = adjuster_corrections(wedge(), 0.1, jig((90, 330, 210), view="operator"))

    assert corrections(operator) == pytest.approx(corrections(worked))


def test_mount_angle_turns_wafer_to_jig():
    """A wafer mounted 60 degrees on has its wedge at 90 in the jig: straight under the first adjuster."""
    found = adjuster_corrections(wedge(6, 30), 0.1, jig(mount_angle=math.radians(60)))

    assert corrections(found) == pytest.approx([4.2, -2.1, -2.1])


def test_the_residual_is_told_in_the_wafer_frame():
    """Turning wafer and adjusters together changes nothing but the frame of the jig."""
    plain = adjuster_corrections(wedge(6, 40), 0.1, jig((90, 210, 330), division_step=1.0))
    turned = adjuster_corrections(
        wedge(6, 40), 0.1, jig((150, 270, 390), division_step=1.0, mount_angle=math.radians(60))
    )

    assert turned.residual.amount == pytest.approx(plain.residual.amount)
    assert turned.residual.azimuth == pytest.approx(plain.residual.azimuth)


def test_a_fixed_adjuster_does_not_move_and_the_centre_does():
    """With the second held, the others move by their difference to it: 6.3, 0, 6.3; the centre comes 4.2 um nearer."""
    found = adjuster_corrections(wedge(), 0.1, jig(division_step=0.01), fixed_adjuster=1)

    assert corrections(found) == pytest.approx([6.3, 0.0, 6.3])
    assert found.centre_shift * 1e6 == pytest.approx(4.2, abs=0.01)
    assert len(found.voids) == 2


def test_only_positive_moves_shift_the_centre_and_void_the_zero():
    """All moves towards the plate; the shift is told with its consequence."""
    found = adjuster_corrections(wedge(), 0.1, jig(division_step=0.01), only_positive=True)

    assert min(corrections(found)) == pytest.approx(0.0)
    assert found.centre_shift * 1e6 == pytest.approx(4.2, abs=0.01)
    assert any("zero" in sentence for sentence in found.voids)


def test_any_move_voids_the_zero_and_no_move_does_not():
    """A wedge too small to round to a step asks for nothing."""
    assert adjuster_corrections(wedge(), 0.1, jig()).voids
    assert adjuster_corrections(wedge(0.1), 0.1, jig(division_step=1.0)).voids == ()


def test_a_wedge_without_azimuth_asks_for_no_move():
    """What cannot be told from none is not corrected, and stays as it is."""
    found = adjuster_corrections(Wedge(amount=0.4e-6, azimuth=None), 0.1, jig())

    assert corrections(found) == [0.0, 0.0, 0.0]
    assert found.residual == Wedge(amount=0.4e-6, azimuth=None)


def test_four_adjusters_leave_a_misfit_and_three_do_not():
    """Rounded travels of four screws need not lie in one plane; the plane is fitted to them."""
    four = adjuster_corrections(wedge(5, 37), 0.1, jig((0, 80, 190, 280), division_step=1.0))
    three = adjuster_corrections(wedge(5, 37), 0.1, jig(division_step=1.0))

    assert four.misfit > 0.0
    assert three.misfit == 0.0


def test_uneven_radii_and_azimuths_still_take_the_wedge_out():
    """With a very fine step nothing is left, wherever the adjusters stand."""
    adjusters = tuple(
        Adjuster(azimuth=a, radius=r, travel_per_division=t)
        for a, r, t in ((0.1, 0.05, 1e-6), (1.9, 0.07, 2e-6), (3.7, 0.06, 0.5e-6), (5.0, 0.04, 3e-6))
    )
    found = adjuster_corrections(wedge(8, 250), 0.0762, JigGeometry(adjusters=adjusters, division_step=1e-6))

    assert found.residual.amount < 1e-11


@pytest.mark.parametrize("given", [{"fixed_adjuster": 1, "only_positive": True}, {"fixed_adjuster": 3}])
def test_contradicting_wishes_are_refused(given):
    """A fixed adjuster excludes one-way moves; an index must name one."""
    with pytest.raises(BadInput):
        adjuster_corrections(wedge(), 0.1, jig(), **given)


def test_adjusters_on_one_line_are_refused():
    """They cannot tilt the wafer both ways."""
    line = JigGeometry(
        adjusters=tuple(
            Adjuster(azimuth=a, radius=r, travel_per_division=1e-6)
            for a, r in ((0.0, 0.05), (0.0, 0.07), (math.pi, 0.06))
        )
    )
    with pytest.raises(OutOfValidRange, match="one line"):
        adjuster_corrections(wedge(), 0.1, line)


def test_a_jig_from_the_shelf_is_taken_as_it_stands():
    """Radius, azimuths, advance and step are those recorded."""
    recorded = Jig(
        jig_id="J", name="jig", adjuster_radius=0.07, advance_per_division=2e-6, division_step=0.5,
        adjuster_azimuths=tuple(math.radians(a) for a in (90, 210, 330)),
    )  # fmt: skip

    found = adjuster_corrections(wedge(), 0.1, geometry_of(recorded))

    assert [m.divisions_to_set for m in found.moves] == [1.0, -2.0, 1.0]


def one_round(true_wedge, read_wedge, *, gain, diameter, radius, azimuths, travel, step):
    """A jig that does what its screws are told, times a gain: the plane through three screws by cross product."""
    found = adjuster_corrections(
        Wedge(amount=float(np.hypot(*read_wedge)), azimuth=math.atan2(read_wedge[1], read_wedge[0])),
        diameter, jig(azimuths, radius=radius, travel=travel, division_step=step),
    )  # fmt: skip
    feet = [
        np.array(
            [radius * math.cos(math.radians(a)), radius * math.sin(math.radians(a)), m.divisions_to_set * travel * g]
        )
        for a, m, g in zip(azimuths, found.moves, gain, strict=True)
    ]
    normal = np.cross(feet[1] - feet[0], feet[2] - feet[0])
    slope = -normal[:2] / normal[2]
    return true_wedge - diameter * slope


def test_two_rounds_bring_the_wedge_to_a_tenth():
    """Screws that move 0.8 to 1.2 of what they say, readings off by u: after two rounds <= 10 % + rounding + 2 u.

    Rounding: half a step at each of three screws, worst case 4/3 of it over the radius times the diameter.
    """
    generator = np.random.default_rng(20260711)
    u, step, travel, radius, diameter = 0.15e-6, 0.25, 2e-6, 0.07, 0.0508
    rounding = diameter / radius * 4.0 / 3.0 * 0.5 * step * travel
    kept = 0
    for _ in range(300):
        angle, amount = generator.uniform(0, 2 * math.pi), generator.uniform(3e-6, 12e-6)
        now = amount * np.array([math.cos(angle), math.sin(angle)])
        gain = generator.uniform(0.8, 1.2, 3)
        for _ in range(2):
            read = now + u / math.sqrt(2.0) * generator.standard_normal(2)
            now = one_round(
                now,
                read,
                gain=gain,
                diameter=diameter,
                radius=radius,
                azimuths=(90, 210, 330),
                travel=travel,
                step=step,
            )
        kept += np.hypot(*now) <= 0.1 * amount + rounding + 2.0 * u
    assert kept == 300
