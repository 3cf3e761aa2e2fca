"""The shop as one value: streams of chance by name, sets with zeros, and the truth beside them."""

import ast
from pathlib import Path

import numpy as np
import pytest

import lapwright.sim
from lapwright.sim import bonding, gauges, lapping, polishing, room, shop, wafers

KIND = wafers.WaferKind(
    diameter=50.8e-3, thickness=5e-4, thickness_spread=1e-6, wedge=3e-6, dome=1e-6, saddle=0.3e-6, unevenness=0.1e-6
)
SITES = (np.array([0.0, 0.02, -0.02]), np.array([0.0, 0.0, 0.0]))


def small_shop(seed: int = 1) -> shop.Shop:
    """A shop with one gauge, one station, two wafers and a carrier."""
    empty = shop.Shop(
        seed=seed,
        room=room.Room(swing=0.0, ramps=(room.Ramp(start=38_400.0, end=46_800.0, rise=1.8),)),
        gauges={"G1": gauges.drop_gauge("G1", offset=0.3e-6, growth=0.6e-6)},
        stations={"L1": lapping.Station(name="L1", rate=5e-8)},
        jig=lapping.new_jig(tilt_amount=0.0, diameter=50.8e-3, rng=np.random.default_rng(seed)),
        pad=polishing.Pad(rate=2e-9),
        press=bonding.Press(),
    )
    stocked = shop.with_wafers(empty, ("W1", "W2"), KIND)
    return shop.with_carriers(stocked, ("C1",), diameter=0.06, thickness=6e-3)


def test_a_stream_depends_on_its_names_and_the_seed_only():
    """Order of use elsewhere does not matter; another name is another stream."""
    first = shop.stream(7, "wafer", "W1").standard_normal()
    shop.stream(7, "set", "x").standard_normal(100)
    assert first == shop.stream(7, "wafer", "W1").standard_normal()
    assert first != shop.stream(7, "wafer", "W2").standard_normal()
    assert first != shop.stream(8, "wafer", "W1").standard_normal()


def test_zeros_and_readings_carry_what_the_stand_grew_since_it_was_set():
    """Zeroed at 10:40, read at 13:00: 1.8 K of 0.6 µm/K in the zero after."""
    zeroed = shop.set_zero(small_shop(), "G1", 38_400.0)
    wafer = zeroed.wafers["W1"].thickness
    taken = shop.take_set(zeroed, "G1", wafer, SITES, name="s", span=(38_400.0, 46_800.0), repeats=300)
    assert taken.zero_before == pytest.approx(0.0, abs=0.7e-6)
    assert taken.zero_after == pytest.approx(1.08e-6, abs=0.7e-6)
    late = taken.readings[-30:] - taken.truth
    assert late.mean() == pytest.approx(0.3e-6 + 0.95 * 1.08e-6, abs=0.2e-6)


def test_truth_stays_beside_the_readings():
    """The truth of a set is the field at its sites."""
    open_shop = small_shop()
    wafer = open_shop.wafers["W1"].thickness
    taken = shop.take_set(open_shop, "G1", wafer, SITES, name="s", span=(30_000.0, 30_300.0))
    assert taken.truth == pytest.approx(wafer.at(*SITES))


def test_work_gives_a_new_shop_and_leaves_the_old_one_alone():
    """Bond, lap, polish, debond: the wafer ends thinner by what came off, in the new shop only."""
    before = small_shop()
    bonded = shop.bond_wafer(before, "W1", "C1")
    cut_shop, cut = shop.lap_wafer(bonded, "W1", "L1", travel=100e-6, rate=5e-8)
    done, skin = shop.polish_wafer(cut_shop, "W1", time=3600.0)
    free = shop.debond_wafer(done, "W1")
    centre = (np.zeros(1), np.zeros(1))
    lost = before.wafers["W1"].thickness.at(*centre) - free.wafers["W1"].thickness.at(*centre)
    assert lost[0] == pytest.approx(cut.removed + skin.removed, abs=0.5e-6)
    assert not free.stacks
    assert not before.stacks
    assert free.pad.worked == pytest.approx(3600.0)


def test_the_same_seed_gives_the_same_shop():
    """Wafers, carriers and jig are drawn from the seed alone."""
    assert small_shop(4) == small_shop(4)
    assert small_shop(4) != small_shop(5)


def test_generators_import_neither_metrology_nor_process_nor_app():
    """Only the scenario and trials of a rule may go through the program; a formula must not be checked with itself."""
    folder = Path(lapwright.sim.__file__).parent
    for module in sorted(folder.glob("*.py")):
        if module.stem == "scenario" or module.stem.endswith("_trials"):
            continue
        names = {
            alias.name if isinstance(node, ast.Import) else f"{node.module}.{alias.name}"
            for node in ast.walk(ast.parse(module.read_text(encoding="utf-8")))
            if isinstance(node, ast.Import | ast.ImportFrom)
            for alias in node.names
        }
        barred = ("lapwright.metrology", "lapwright.process", "lapwright.app", "lapwright.records")
        assert not [name for name in names if name.startswith(barred)], module.name
