"""Bond lines against hand-made stacks and against draws."""

import math

import numpy as np
import pytest

from lapwright.errors import BadInput, TooFewSites
from lapwright.metrology.bond_line import BondUncertainties, MapUncertainty, bond_line, map_uncertainty
from lapwright.metrology.site_patterns import nine_sites
from lapwright.metrology.thickness import thickness_statistics
from lapwright.model.readings import Gauge, ThicknessSet
from lapwright.model.wafer import Frame, Round, ThicknessMap

DIAMETER = 0.0508
NINE = nine_sites(Round(diameter=DIAMETER))
KNOWN = BondUncertainties(
    wafer=MapUncertainty(site=0.2e-6, degrees_of_freedom=18.0, common=0.6e-6, gauge="G1"),
    carrier=MapUncertainty(site=0.3e-6, degrees_of_freedom=9.0, common=0.6e-6, gauge="G1"),
    stack=MapUncertainty(site=0.25e-6, degrees_of_freedom=18.0, common=0.6e-6, gauge="G1"),
)


def measured(thickness, frame=Frame()):  # noqa: B008 -- a frozen value
    """A map on nine sites."""
    return ThicknessMap(x=NINE.x, y=NINE.y, thickness=np.array(thickness, dtype=float), labels=NINE.labels, frame=frame)


def wedge(amount, azimuth):
    """A plane of that wedge over the diameter."""
    return amount * (NINE.x * math.cos(azimuth) + NINE.y * math.sin(azimuth)) / DIAMETER


def codes(result):
    """The codes of the warnings."""
    return {code for code, _ in result.warnings}


def test_bond_is_stack_less_wafer_less_carrier():
    """5 µm of wax with a 4 µm wedge towards +y; the wafer comes out 4 µm thin there."""
    bond = 5e-6 + wedge(4e-6, math.pi / 2)
    result = bond_line(
        measured(np.full(9, 5e-4)), measured(np.full(9, 1e-3)), measured(1.5e-3 + bond), diameter=DIAMETER
    )
    assert np.allclose(bond, result.bond.thickness)
    assert pytest.approx((5e-6, 4e-6, math.pi / 2)) == (result.mean, result.wedge.amount, result.wedge.azimuth)
    assert pytest.approx(np.ptp(bond)) == result.range == pytest.approx(result.predicted_ttv)
    assert pytest.approx((4e-6, -math.pi / 2)) == (result.predicted_wedge.amount, result.predicted_wedge.azimuth)


def test_predicted_wedge_is_minus_that_of_bond_and_carrier():
    """3 µm of bond wedge along +x and 4 µm of carrier wedge along +y: 5 µm thick towards atan2(-4, -3)."""
    wafer, carrier = 5e-4 + wedge(7e-6, 2.0), 1e-3 + wedge(4e-6, math.pi / 2)
    stack = wafer + carrier + 5e-6 + wedge(3e-6, 0.0)
    result = bond_line(measured(wafer), measured(carrier), measured(stack), diameter=DIAMETER)
    expected = pytest.approx((5e-6, math.atan2(-4, -3)))
    assert expected == (result.predicted_wedge.amount, result.predicted_wedge.azimuth)


def test_predicted_map_has_the_target_as_its_mean():
    """T = T - (s - w) + mean(s - w)."""
    stack = 1.505e-3 + wedge(4e-6, 1.0)
    maps = (measured(np.full(9, 5e-4)), measured(np.full(9, 1e-3)), measured(stack))
    result = bond_line(*maps, diameter=DIAMETER, target_thickness=1e-4)
    assert pytest.approx(1e-4) == result.predicted.thickness.mean()
    assert np.allclose(1e-4 - (stack - stack.mean()), result.predicted.thickness)
    assert bond_line(*maps, diameter=DIAMETER).predicted is None


def test_a_wafer_seen_from_below_is_mirrored_before_it_is_subtracted():
    """The same wafer, its map noted from the bonded face: same bond."""
    wafer, carrier = 5e-4 + wedge(7e-6, 0.4), np.full(9, 1e-3)
    stack = wafer + carrier + 5e-6 + wedge(3e-6, 0.0)
    below = ThicknessMap(x=-NINE.x, y=NINE.y, thickness=wafer, labels=NINE.labels, frame=Frame(seen_from="bonded"))
    result = bond_line(below, measured(carrier), measured(stack), diameter=DIAMETER)
    assert np.allclose(5e-6 + wedge(3e-6, 0.0), result.bond.thickness)
    assert result.frames.wafer.seen_from == "bonded"
    assert Frame() == result.frame


def test_a_carrier_turned_by_a_quarter_is_turned_back():
    """Its wedge, noted along +x before it was turned by 90 degrees, lies along +y in the stack."""
    stack = 1.505e-3 + wedge(4e-6, math.pi / 2)
    carrier = measured(1e-3 + wedge(4e-6, 0.0), Frame(turn=math.pi / 2))
    result = bond_line(measured(np.full(9, 5e-4)), carrier, measured(stack), diameter=DIAMETER)
    assert pytest.approx(0.0, abs=1e-15) == result.range


def test_sites_that_do_not_coincide_are_all_named():
    """A carrier turned by 10 degrees: its eight outer sites have no partner."""
    with pytest.raises(BadInput, match="has no partner in the map of the carrier") as caught:
        bond_line(
            measured(np.full(9, 5e-4)),
            measured(np.full(9, 1e-3), Frame(turn=math.radians(10))),
            measured(np.full(9, 1.505e-3)),
            diameter=DIAMETER,
        )
    assert len(caught.value.faults) == 8


def test_a_stack_thinner_than_its_parts_is_refused():
    """Wafer and stack mixed up."""
    with pytest.raises(BadInput, match="thinner on average"):
        bond_line(
            measured(np.full(9, 1.505e-3)), measured(np.full(9, 1e-3)), measured(np.full(9, 5e-4)), diameter=DIAMETER
        )


def test_a_single_negative_site_is_told():
    """A bond of 5 µm with one site at -2 µm: a warning that names it, and a suspect."""
    bond = np.full(9, 5e-6)
    bond[4] = -2e-6
    result = bond_line(
        measured(np.full(9, 5e-4)),
        measured(np.full(9, 1e-3)),
        measured(1.5e-3 + bond),
        diameter=DIAMETER,
        uncertainties=KNOWN,
    )
    assert "bond.negative" in codes(result)
    assert [one.label for one in result.suspects] == ["A4"]


def test_sites_missing_in_one_map_are_left_out_and_named():
    """NaN at one site of the wafer; two measured sites are too few."""
    wafer = np.full(9, 5e-4)
    wafer[2] = np.nan
    result = bond_line(measured(wafer), measured(np.full(9, 1e-3)), measured(np.full(9, 1.505e-3)), diameter=DIAMETER)
    assert len(result.bond.thickness) == 8
    assert ("bond.sites_missing", "Not measured in all three maps: A2.") in result.warnings
    wafer[2:] = np.nan
    with pytest.raises(TooFewSites):
        bond_line(measured(wafer), measured(np.full(9, 1e-3)), measured(np.full(9, 1.505e-3)), diameter=DIAMETER)


def test_unknown_uncertainties_stay_none():
    """Nothing is assumed."""
    result = bond_line(
        measured(np.full(9, 5e-4)), measured(np.full(9, 1e-3)), measured(np.full(9, 1.505e-3)), diameter=DIAMETER
    )
    assert result.mean_uncertainty is None
    assert result.predicted_ttv_uncertainty is None
    assert result.predicted_ttv_noise_bias is None
    assert "bond.uncertainty_unknown" in codes(result)


def test_uncertainties_match_draws():
    """60 000 seeded draws of site and shared errors: mean bond, one site, both wedges and TTV to 2 %."""
    generator = np.random.default_rng(12)
    wafer, carrier = 5e-4 + wedge(2e-6, 0.3), 1e-3 + wedge(1e-6, 1.0)
    stack = wafer + carrier + 6e-6 + wedge(9e-6, 0.2)
    result = bond_line(measured(wafer), measured(carrier), measured(stack), diameter=DIAMETER, uncertainties=KNOWN)
    draws = 60_000
    shared = generator.normal(0.0, 0.6e-6, (draws, 1))
    w = wafer + shared + generator.normal(0.0, 0.2e-6, (draws, 9))
    c = carrier + shared + generator.normal(0.0, 0.3e-6, (draws, 9))
    s = stack + shared + generator.normal(0.0, 0.25e-6, (draws, 9))
    bond = s - w - c
    finished = -(s - w) + (s - w).mean(axis=1, keepdims=True)
    plane = np.linalg.pinv(np.column_stack((np.ones(9), NINE.x, NINE.y)))[1:] * DIAMETER
    seen = {
        "mean": bond.mean(axis=1).std(),
        "site": bond[:, 3].std(),
        "wedge": np.hypot(*(bond @ plane.T).T).std(),
        "predicted wedge": np.hypot(*(finished @ plane.T).T).std(),
    }
    found = {
        "mean": result.mean_uncertainty.standard_uncertainty,
        "site": result.site_uncertainty.standard_uncertainty,
        "wedge": result.wedge_uncertainty.standard_uncertainty,
        "predicted wedge": result.predicted_wedge_uncertainty.standard_uncertainty,
    }
    assert seen == pytest.approx(found, rel=0.02)
    ends = finished[:, np.argmax(result.predicted_deviation.thickness)]
    ends = ends - finished[:, np.argmin(result.predicted_deviation.thickness)]
    assert ends.std() == pytest.approx(result.predicted_ttv_uncertainty.standard_uncertainty, rel=0.02)


def test_one_gauge_for_all_three_enters_the_mean_bond_once():
    """Shared 0.6 µm: 0.6; three gauges of their own: 0.6 sqrt(3)."""
    maps = (measured(np.full(9, 5e-4)), measured(np.full(9, 1e-3)), measured(np.full(9, 1.505e-3)))

    def common(*gauges):
        known = [MapUncertainty(site=0.0, common=0.6e-6, gauge=gauge) for gauge in gauges]
        known = BondUncertainties(wafer=known[0], carrier=known[1], stack=known[2])
        return bond_line(*maps, diameter=DIAMETER, uncertainties=known).mean_uncertainty.standard_uncertainty

    assert pytest.approx(0.6e-6) == common("G1", "G1", "G1")
    assert pytest.approx(0.6e-6 * math.sqrt(3)) == common("G1", "G2", "G3")
    assert pytest.approx(0.6e-6 * math.sqrt(3)) == common(None, None, None)


def test_map_uncertainty_takes_scatter_repeats_and_local_error():
    """Repeatability 0.4 µm over two repeats and a local 0.3 µm: sqrt(0.08 + 0.03) µm."""
    gauge = Gauge(gauge_id="g", name="g", limit=1e-6, local=0.3e-6)
    noise = np.tile([-0.2e-6 * math.sqrt(2), 0.2e-6 * math.sqrt(2)], 9)
    taken = ThicknessSet(
        piece="w", labels=NINE.labels, x=NINE.x, y=NINE.y, site=np.repeat(np.arange(9), 2), thickness=5e-4 + noise
    )
    known = map_uncertainty(thickness_statistics(taken, outline=Round(diameter=DIAMETER), gauge=gauge), gauge=gauge)
    assert pytest.approx(math.sqrt(0.08 + 0.03) * 1e-6) == known.site
    assert pytest.approx(9 * (0.11 / 0.08) ** 2) == known.degrees_of_freedom
    assert pytest.approx(1e-6 / math.sqrt(3)) == known.common


def test_map_uncertainty_without_gauge_or_scatter():
    """No gauge: nothing common is known. No scatter: nothing at all."""
    nine = ThicknessSet(
        piece="w", labels=NINE.labels, x=NINE.x, y=NINE.y, site=np.arange(9), thickness=np.full(9, 5e-4)
    )
    known = map_uncertainty(thickness_statistics(nine, outline=Round(diameter=DIAMETER)), gauge=None)
    assert (known.common, known.gauge) == (None, None)
    three = ThicknessSet(
        piece="w",
        labels=("a", "b", "c"),
        x=NINE.x[1:7:2],
        y=NINE.y[1:7:2],
        site=np.arange(3),
        thickness=np.full(3, 5e-4),
    )
    assert map_uncertainty(thickness_statistics(three, outline=Round(diameter=DIAMETER)), gauge=None) is None
