"""Where the form of several wafers comes from."""

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.process.attribution import WaferForm, form_sources

NOISE_WEDGE, NOISE_DOME = 0.4e-6, 0.25e-6


def mix(seed):
    """Eight wafers on two jigs and two plates, with none, one or two sources planted; the truth beside them."""
    rng = np.random.default_rng(seed)
    planted = [
        ("plate", str(rng.choice(["P1", "P2"]))), ("jig", str(rng.choice(["J1", "J2"]))),
        ("bond", f"W{rng.integers(8)}"),
    ]  # fmt: skip
    chosen = {planted[i] for i in rng.choice(3, size=int(rng.integers(0, 3)), replace=False)}
    size = {
        key: rng.uniform(2e-6, 6e-6) * (rng.choice([-1, 1]) if key[0] == "plate" else np.exp(2j * np.pi * rng.random()))
        for key in sorted(chosen)
    }
    forms = []
    for number in range(8):
        lies = {("plate", f"P{1 + number % 2}"), ("jig", f"J{1 + number // 2 % 2}"), ("bond", f"W{number}")}
        given = [size[key] for key in sorted(lies & chosen) if key[0] != "plate"]
        dome = sum(float(np.real(size[key])) for key in lies & chosen if key[0] == "plate")
        wedge = sum(given, 0j) + NOISE_WEDGE * (rng.standard_normal() + 1j * rng.standard_normal())
        forms.append(
            WaferForm(
                wafer_id=f"W{number}", jig=f"J{1 + number // 2 % 2}", plate=f"P{1 + number % 2}", wedge=complex(wedge),
                dome=dome * rng.normal(1.0, 0.1) + NOISE_DOME * rng.standard_normal(),
                wedge_uncertainty=NOISE_WEDGE, dome_uncertainty=NOISE_DOME,
            )
        )  # fmt: skip
    return forms, chosen, size


def test_the_right_sources_are_named_in_nine_mixes_of_ten():
    """100 simulated mixes of plate, jig and bond troubles, and of none: all planted named, nothing else."""
    right = 0
    for seed in range(100):
        forms, chosen, _ = mix(seed)
        right += {(one.kind, one.name) for one in form_sources(forms)} == chosen

    assert right >= 90


def test_the_size_of_a_source_is_told():
    """Within a tenth and the noise of four wafers."""
    for seed in range(20):
        forms, _, size = mix(seed)
        for one in form_sources(forms):
            if (one.kind, one.name) in size and one.kind != "bond":
                assert abs(one.size) == pytest.approx(abs(size[one.kind, one.name]), abs=0.1 * 6e-6 + 2e-6 * 0.5)


def test_the_sentence_names_the_plate_and_not_the_wafer():
    """Dished wafers come from a domed plate."""
    forms = [
        WaferForm(wafer_id=f"W{i}", jig=f"J{i}", plate="L2", wedge=0j, dome=-3e-6, wedge_uncertainty=4e-7,
                  dome_uncertainty=3e-7)
        for i in range(4)
    ]  # fmt: skip
    found = form_sources(forms)[0]

    assert found.sentence.startswith("This is the plate, not the wafers: 4 wafers of L2 are dished by 3.0 µm")
    assert found.sentence.endswith("L2 is domed.")


def test_a_turned_shop_names_the_same_sources():
    """All wedges turned by one angle, wafers in another order: nothing changes but the angle."""
    forms, _, _ = mix(7)
    turned = [
        WaferForm(
            wafer_id=one.wafer_id, jig=one.jig, plate=one.plate, wedge=one.wedge * 1j, dome=one.dome,
            wedge_uncertainty=one.wedge_uncertainty, dome_uncertainty=one.dome_uncertainty,
        )
        for one in reversed(forms)
    ]  # fmt: skip

    one, other = ({(s.kind, s.name): s.size for s in form_sources(each)} for each in (forms, turned))
    assert one.keys() == other.keys()
    assert [one[key] for key in sorted(one)] == pytest.approx([other[key] for key in sorted(one)])


def test_one_wafer_tells_nothing():
    """Plate, jig and bond look alike."""
    forms, _, _ = mix(1)
    with pytest.raises(OutOfValidRange):
        form_sources(forms[:1])
