"""Depth of damage from Rz or Rt: given where a ratio belongs to the face, refused with the reason elsewhere."""

import math
from dataclasses import replace

import pytest
from scipy import stats

from lapwright.errors import LibraryError, NoDamageRatio, OutOfValidRange
from lapwright.library import load
from lapwright.process.damage_from_roughness import DamageSample, RoughFace, damage_from_roughness

FACE = RoughFace(material="LiNbO3", way="lap_loose", instrument="optical", parameter="rt", value=3e-6)


@pytest.fixture(scope="module")
def library():
    """The shipped rows."""
    return load()


def samples(ratios, face=FACE):
    """Own samples with these ratios, all at one roughness."""
    return [DamageSample(face=face, depth=ratio * face.value) for ratio in ratios]


@pytest.mark.parametrize("parameter", ["ra", "rq", "sa", "rp"])
def test_no_depth_is_ever_taken_from_an_average_height(library, parameter):
    """Ra and its like are refused, also with samples at hand."""
    face = replace(FACE, parameter=parameter)
    with pytest.raises(NoDamageRatio, match="Rz or Rt"):
        damage_from_roughness(library, face, samples=samples([4.0, 5.0, 6.0], face))


def test_the_published_silicon_carbide_pair_is_not_ranked_by_ra(library):
    """Lapped: Ra 24.0 nm, cracks 1.2 µm. Ground: Ra 17.7 nm, cracks 5.8 µm. Both questions are refused."""
    for way, ra in (("lap_loose", 24.0e-9), ("grind", 17.7e-9)):
        face = RoughFace(material="4H-SiC", way=way, instrument="optical", parameter="ra", value=ra)
        with pytest.raises(NoDamageRatio):
            damage_from_roughness(library, face)


def test_a_library_row_that_knows_only_a_bound_gives_no_expected_depth(library):
    """Single crystals: below 1.4 times the optical peak to valley."""
    found = damage_from_roughness(library, FACE)

    assert found.expected is None
    assert (found.low, found.high) == (0.0, pytest.approx(4.2e-6))
    assert found.origin.trust == "read"


@pytest.mark.parametrize(
    "change",
    [{"material": "InP"}, {"way": "lap_bound"}, {"instrument": "stylus"}, {"parameter": "rz"}],
)
def test_another_material_way_instrument_or_parameter_is_refused(library, change):
    """A ratio is not carried over; the sentence says what the library holds."""
    with pytest.raises(NoDamageRatio, match="No ratio of damage to roughness") as caught:
        damage_from_roughness(library, replace(FACE, **change))
    assert "the library holds" in str(caught.value)


def test_a_row_without_instrument_is_shown_but_never_used(library):
    """Fused silica on diamond pellets: 7.4 ± 1.3, the instrument is not stated."""
    for instrument in ("stylus", "optical", "not_stated"):
        face = RoughFace(material="fused silica", way="lap_bound", instrument=instrument, parameter="rt", value=2e-6)
        with pytest.raises(NoDamageRatio):
            damage_from_roughness(library, face)


def test_own_samples_take_the_place_of_the_row(library):
    """Mean and band of the logarithms, with Student's factor of scipy."""
    ratios = [4.0, 5.0, 6.5, 5.2]
    found = damage_from_roughness(library, FACE, samples=samples(ratios))
    logs = [math.log(r) for r in ratios]
    mean, spread = sum(logs) / 4, stats.tstd(logs)
    reach = stats.t.ppf(0.975, 3) * spread * math.sqrt(1.25)

    assert found.samples == 4
    assert found.expected == pytest.approx(3e-6 * math.exp(mean), rel=1e-9)
    assert (found.low, found.high) == pytest.approx((3e-6 * math.exp(mean - reach), 3e-6 * math.exp(mean + reach)))


def test_two_own_samples_are_too_few(library):
    """With two the row of the library still answers; without a row nothing does."""
    assert damage_from_roughness(library, FACE, samples=samples([4.0, 5.0])).samples == 0
    face = replace(FACE, material="InP")
    with pytest.raises(NoDamageRatio, match="2 own samples fit"):
        damage_from_roughness(library, face, samples=samples([4.0, 5.0], face))


def test_samples_of_another_instrument_are_left_aside(library):
    """A stylus under-reads pits: its samples do not speak for an optical instrument."""
    face = replace(FACE, material="InP")
    with pytest.raises(NoDamageRatio, match="0 own samples fit"):
        damage_from_roughness(library, face, samples=samples([4.0] * 5, replace(face, instrument="stylus")))


def test_a_roughness_beyond_the_samples_is_said(library):
    """Twice the roughest sample."""
    found = damage_from_roughness(library, replace(FACE, value=6e-6), samples=samples([4.0, 5.0, 6.0]))

    assert [code for code, _ in found.warnings] == ["damage.beyond_samples"]


def test_a_roughness_that_is_none_is_a_wrong_question(library):
    """Nought, negative or not a number."""
    for value in (0.0, -1e-6, math.nan):
        with pytest.raises(OutOfValidRange):
            damage_from_roughness(library, replace(FACE, value=value))


def test_a_user_row_of_an_unknown_word_is_a_fault(tmp_path):
    """Ra as the parameter of a ratio is refused when the file is read."""
    path = tmp_path / "own.toml"
    path.write_text(
        '[[damage_ratios]]\nrow_id = "x"\nmaterial = "Si"\nway = "lap_loose"\ninstrument = "stylus"\nparameter = "ra"\n'
        'ratio_low = 1\nratio_high = 2\nsource = "own"\ntrust = "own"\n',
        encoding="utf-8",
    )
    with pytest.raises(LibraryError, match="parameter"):
        load(path)


def test_a_sample_without_depth_is_a_wrong_question():
    """A ratio of nought says nothing."""
    with pytest.raises(OutOfValidRange):
        DamageSample(face=FACE, depth=0.0)
