"""Uncertainty of Ra and Rq: contributions by hand, warnings, and coverage in simulation."""

import math

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange, ShapeMismatch
from lapwright.metrology.roughness import measured_roughness
from lapwright.metrology.roughness_settings import ProfileInstrument, RoughnessSettings
from lapwright.metrology.roughness_uncertainty import roughness_uncertainty
from lapwright.testing.roughness_campaign import Face, covered

SPACING, CUTOFF = 1e-6, 80e-6
FACES = 450
SETTINGS = RoughnessSettings(cutoff=CUTOFF)


def measured(height, instrument=None, settings=SETTINGS):
    """A line on the face."""
    return measured_roughness(height, spacing=SPACING, settings=settings, instrument=instrument or ProfileInstrument())


def noise(seed=1, count=600):
    """White heights of 10 nm."""
    return 1e-8 * np.random.default_rng(seed).normal(size=count)


def test_the_sections_are_the_sample():
    """Ra and u = s/√4 of five sections (one held back), with four degrees of freedom."""
    line = measured(noise())
    sections = [np.abs(part).mean() for part in np.split(line.evaluated_roughness, 5)]
    found = roughness_uncertainty([line])

    assert found.measured == pytest.approx(np.mean(sections))
    assert found.combined.standard_uncertainty == pytest.approx(np.std(sections, ddof=1) / math.sqrt(4))
    assert found.combined.degrees_of_freedom == pytest.approx(4.0)
    assert [code for code, _ in found.warnings] == ["surface.noise_unknown", "surface.height_scale_unknown"]


def test_more_lines_are_a_larger_sample():
    """Three lines: fifteen sections."""
    found = roughness_uncertainty([measured(noise(seed)) for seed in (1, 2, 3)], parameter="rq")
    assert found.samples == 15
    assert found.combined.degrees_of_freedom == pytest.approx(14.0)


def test_noise_scale_and_repeats_enter_as_stated():
    """Noise out in squares, relative scale times the value, repeatability as given."""
    instrument = ProfileInstrument(noise=4e-9, noise_degrees_of_freedom=20.0, height_uncertainty=0.03)
    line = measured(noise(), instrument)
    found = roughness_uncertainty([line], parameter="rq", repeatability=1e-10)
    budget = {one.name: one for one in found.budget.contributions}
    value = math.sqrt(found.measured**2 - 16e-18)

    assert found.combined.value == pytest.approx(value)
    assert found.noise_bias == pytest.approx(found.measured - value)
    assert budget["height scale"].standard_uncertainty == pytest.approx(0.03 * value)
    assert budget["repeats"].standard_uncertainty == 1e-10
    assert budget["repeats"].sensitivity == pytest.approx(found.measured / value)
    assert budget["noise floor"].standard_uncertainty == pytest.approx(4e-9 / math.sqrt(40))
    assert budget["noise floor"].sensitivity == pytest.approx(4e-9 / value)
    assert found.warnings == ()


def test_the_cutoff_enters_by_what_it_does():
    """A wave of one cutoff's length: Ra changes by ln 2 times 2^-1 / (1 − 2^-1) = 1.386 of a relative change, 3 %."""
    places = np.arange(6000) * SPACING
    settings = RoughnessSettings(cutoff=CUTOFF, sections=60)
    instrument = ProfileInstrument(cutoff_uncertainty=0.01)
    line = measured(1e-7 * np.sin(2 * np.pi * places / CUTOFF), instrument, settings)
    found = roughness_uncertainty([line])
    effect = next(one for one in found.budget.contributions if one.name == "cutoff")

    assert effect.standard_uncertainty == pytest.approx(0.01 * 2 * math.log(2) * found.measured, rel=0.03)


def test_a_roughness_below_the_noise_is_not_told():
    """No value, and the reason."""
    found = roughness_uncertainty([measured(noise(), ProfileInstrument(noise=2e-8))])
    assert found.combined is None
    assert "cannot be told from none" in found.warnings[0][1]


def test_lines_must_be_taken_alike():
    """Other settings, another instrument, or none at all."""
    line = measured(noise())
    for other in (
        measured(noise(), settings=RoughnessSettings(cutoff=60e-6)),
        measured(noise(), ProfileInstrument(noise=1e-9)),
    ):
        with pytest.raises(ShapeMismatch):
            roughness_uncertainty([line, other])
    with pytest.raises(ShapeMismatch):
        roughness_uncertainty([])
    with pytest.raises(OutOfValidRange):
        roughness_uncertainty([measured(noise(), settings=RoughnessSettings(cutoff=CUTOFF, sections=1))])


@pytest.mark.parametrize("lines", [1, 3])
def test_the_interval_covers_the_true_roughness(lines):
    """Many faces with noise and scale error: 95 % within three standard errors and 2 % (93 to 97 wanted)."""
    generator, faces = np.random.default_rng(11), FACES // lines
    held = [covered(Face(lines=lines), generator) for _ in range(faces)]

    for parameter in ("ra", "rq"):
        share = sum(one[parameter] for one in held) / faces
        assert share == pytest.approx(0.95, abs=0.02 + 3 * math.sqrt(0.05 * 0.95 / faces))
