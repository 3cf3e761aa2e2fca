"""Roughness of profiles: the chain from raw heights, choice of cutoff, refusals, notices."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import signal

from lapwright.errors import (
    DidNotConverge,
    HeightsClipped,
    OutOfValidRange,
    ProfileTooShort,
    SamplingTooCoarse,
    ShapeNotDetermined,
    SurfaceRefused,
    TipTooLarge,
    TooManyMissing,
)
from lapwright.metrology.roughness import chosen_roughness, measured_roughness, settings_for_cutoff
from lapwright.metrology.roughness_curves import core_heights, height_difference, material_ratio, material_ratio_curve
from lapwright.metrology.roughness_form import profile_form
from lapwright.metrology.roughness_parameters import mean_element_spacing, profile_parameters, root_mean_square_slope
from lapwright.metrology.roughness_settings import ProfileInstrument, RoughnessSettings, setting_class_for
from lapwright.metrology.roughness_spectrum import power_spectral_density

SPACING = 0.5e-6
SETTINGS = RoughnessSettings(cutoff=0.25e-3, short_cutoff=2.5e-6)


def rough(count=4000, size=1e-7, seed=1, spacing=SPACING, length=4e-6):
    """Normal heights with an autocorrelation length."""
    noise = np.random.default_rng(seed).normal(size=count + 400)
    offsets = np.arange(-200, 201) * spacing / length
    smooth = np.convolve(noise, np.exp(-2 * offsets**2), mode="valid")
    return size * smooth[:count] / smooth.std()


def codes(result):
    """Codes of the warnings."""
    return [code for code, _ in result.warnings]


def test_the_parts_add_up_to_the_profile():
    """Form + waviness + roughness is the profile when no short cutoff is applied."""
    height = rough() + 0.01 * np.arange(4000) * SPACING
    found = measured_roughness(height, spacing=SPACING, settings=replace(SETTINGS, short_cutoff=None))

    assert np.allclose(height, found.form + found.waviness + found.roughness, atol=1e-18)


def test_the_evaluation_length_lies_in_the_middle():
    """Five sections of 500 points in 4000: 750 points of run-up at each end, and the result says so."""
    found = measured_roughness(rough(), spacing=SPACING, settings=SETTINGS)

    assert found.evaluated == (750, 3250)
    assert found.end_effects == "0.375 mm at each end only fed the filter."


def test_a_profile_of_just_five_sections_is_evaluated_to_its_ends():
    """And the local straight line at the ends is stated."""
    found = measured_roughness(rough(2500), spacing=SPACING, settings=SETTINGS)

    assert found.evaluated == (0, 2500)
    assert "local straight line" in found.end_effects


def test_tilt_and_level_do_not_matter():
    """A line is form."""
    height = rough()
    tilted = height + 3e-3 + 0.02 * np.arange(4000) * SPACING
    level, lifted = (measured_roughness(z, spacing=SPACING, settings=SETTINGS) for z in (height, tilted))

    assert lifted.parameters.ra == pytest.approx(level.parameters.ra, rel=1e-9)


def test_a_ball_needs_the_arc_as_form():
    """On a ball of 2 mm radius the line leaves waviness, the arc the planted roughness."""
    height = rough(4000)
    x = (np.arange(4000) - 2000) * SPACING
    ball = np.sqrt(2e-3**2 - x**2)
    flat = measured_roughness(height, spacing=SPACING, settings=SETTINGS)
    arc = measured_roughness(height + ball, spacing=SPACING, settings=replace(SETTINGS, form="arc"))
    line = measured_roughness(height + ball, spacing=SPACING, settings=SETTINGS)

    assert arc.waviness_parameters.rq < 1.2 * flat.waviness_parameters.rq
    assert arc.parameters.ra == pytest.approx(flat.parameters.ra, rel=2e-3)
    assert line.waviness_parameters.rq > 100 * flat.waviness_parameters.rq


@pytest.mark.parametrize(("form", "degree"), [("level", 0), ("line", 1), ("parabola", 2), ("cubic", 3), ("quartic", 4)])
def test_polynomial_form_is_that_of_numpy(form, degree):
    """Against numpy.polyfit on the measured heights."""
    x = np.linspace(-1, 1, 300)
    height = np.random.default_rng(3).normal(size=300) + 5 * x**4
    height[40:60] = np.nan
    known = np.isfinite(height)
    theirs = np.polyval(np.polyfit(x[known], height[known], degree), x)

    assert np.allclose(theirs, profile_form(height, spacing=1.0, form=form), atol=1e-10)


def test_form_of_too_few_heights_is_refused():
    """A parabola through two."""
    with pytest.raises(ShapeNotDetermined, match="parabola needs at least 3"):
        profile_form(np.array([0.0, np.nan, 1.0]), spacing=1.0, form="parabola")


def test_no_arc_through_a_wall():
    """Heights steeper than any circle over their length."""
    with pytest.raises(DidNotConverge):
        profile_form(np.where(np.arange(100) < 50, 0.0, 1e6), spacing=1.0, form="arc")


def test_waviness_is_found_apart_from_roughness():
    """A wave of 1 mm of 1 µm and roughness of Ra about 80 nm with a cutoff of 0.25 mm."""
    height = rough(20_000) + 1e-6 * np.sin(2 * np.pi * np.arange(20_000) * SPACING / 1e-3)
    found = measured_roughness(height, spacing=SPACING, settings=replace(SETTINGS, sections=None))

    assert found.settings.sections == 39
    assert found.parameters.ra == pytest.approx(0.79 * 1e-7, rel=0.1)
    assert found.waviness_parameters.ra == pytest.approx(2e-6 / math.pi, rel=0.1)


@pytest.mark.parametrize(
    ("size", "cutoff"), [(3e-9, 0.08e-3), (60e-9, 0.25e-3), (400e-9, 0.8e-3)], ids=["polished", "fine lapped", "lapped"]
)
def test_the_cutoff_is_chosen_by_the_profile_itself(size, cutoff):
    """The chosen class holds the Ra that was found with it."""
    found = chosen_roughness(rough(10_000, size), spacing=SPACING)

    assert found.settings.cutoff == pytest.approx(cutoff)
    assert found.settings.rule == "iso21920"
    assert setting_class_for(found.parameters.ra).name == found.settings.setting_class


def test_a_rough_short_profile_is_told_which_class_it_needs():
    """Ra of 0.3 µm on 2 mm: 0.8 mm needs 4 mm."""
    with pytest.raises(ProfileTooShort, match=r"asks for class Sc3.*need 4 mm"):
        chosen_roughness(rough(4000, 400e-9), spacing=SPACING)


def test_a_smooth_coarse_profile_is_told_to_be_taken_finer():
    """Ra of 3 nm at 5 µm spacing: 0.08 mm would have 16 points."""
    with pytest.raises(SamplingTooCoarse, match="finer class"):
        chosen_roughness(rough(2000, 3e-9, spacing=5e-6, length=20e-6), spacing=5e-6)


def test_below_the_table_the_finest_class_is_taken_and_said():
    """ISO 4288 begins at 6 nm."""
    found = chosen_roughness(rough(4000, 1e-9), spacing=SPACING, rule="iso4288")

    assert found.settings.cutoff == pytest.approx(0.08e-3)
    assert "surface.below_table" in codes(found)


def test_a_periodic_profile_is_chosen_by_its_spacing():
    """Rsm 0.1 mm: 0.25 mm by ISO 4288."""
    height = 1e-6 * np.sin(2 * np.pi * np.arange(10_000) * SPACING / 0.1e-3)
    found = chosen_roughness(height, spacing=SPACING, selected_by="rsm", rule="iso4288")

    assert found.settings.cutoff == pytest.approx(0.25e-3)


def test_a_table_that_is_not_there_is_a_wrong_question():
    """ISO 21920-3 does not choose by Rsm."""
    with pytest.raises(OutOfValidRange):
        chosen_roughness(rough(), spacing=SPACING, selected_by="rsm")


# ------------------------------------------------------------------------------------------- the five planted bad files


def test_too_short_is_refused_with_the_length_needed():
    """1.2 mm for five sections of 0.25 mm."""
    with pytest.raises(ProfileTooShort, match=r"1.2 mm long.*1.25 mm"):
        measured_roughness(rough(2400), spacing=SPACING, settings=SETTINGS)


def test_too_coarse_is_refused_with_the_spacing_needed():
    """20 µm for a cutoff of 0.25 mm."""
    with pytest.raises(SamplingTooCoarse, match=r"20 µm apart.*10 µm"):
        measured_roughness(rough(200), spacing=20e-6, settings=RoughnessSettings(cutoff=0.25e-3))


@pytest.mark.parametrize("sign", [1, -1])
def test_clipped_is_refused(sign):
    """Heights cut off where the range ended, at either end."""
    with pytest.raises(HeightsClipped, match="ran out of range"):
        measured_roughness(sign * np.minimum(rough(), 1e-7), spacing=SPACING, settings=SETTINGS)


def test_a_tip_too_large_for_the_cutoff_is_refused():
    """10 µm where 2 µm are allowed; 5 µm only on a rough face at 0.8 mm."""
    blunt = ProfileInstrument(kind="stylus", tip_radius=10e-6)
    with pytest.raises(TipTooLarge, match="allows 2 µm"):
        measured_roughness(rough(), spacing=SPACING, settings=SETTINGS, instrument=blunt)
    medium = ProfileInstrument(kind="stylus", tip_radius=5e-6)
    wide = settings_for_cutoff(0.8e-3, spacing=SPACING)
    with pytest.raises(TipTooLarge):
        measured_roughness(rough(10_000, length=20e-6), spacing=SPACING, settings=wide, instrument=medium)
    assert measured_roughness(rough(10_000, 1e-6, length=30e-6), spacing=SPACING, settings=wide, instrument=medium)


def test_a_tip_too_blunt_for_the_valleys_is_refused():
    """Waves of ±0.5 µm in 5 µm have valleys of 1.3 µm radius."""
    steep = 0.5e-6 * np.sin(2 * np.pi * np.arange(4000) * SPACING / 5e-6)
    fine = ProfileInstrument(kind="stylus", tip_radius=2e-6)
    with pytest.raises(TipTooLarge, match="did not reach their ground"):
        measured_roughness(steep, spacing=SPACING, settings=replace(SETTINGS, short_cutoff=None), instrument=fine)


def test_too_many_missing_points_are_refused():
    """Every seventh point."""
    height = rough()
    height[::7] = np.nan
    with pytest.raises(TooManyMissing, match=r"14\.3 %"):
        measured_roughness(height, spacing=SPACING, settings=SETTINGS)


def test_points_that_stand_alone_do_not_count_as_supported():
    """Missing in whole stretches inside the evaluation length only."""
    height = rough(20_000)
    height[9500:10_500] = np.nan
    with pytest.raises(TooManyMissing):
        measured_roughness(height, spacing=SPACING, settings=SETTINGS)


def test_all_reasons_are_given_at_once():
    """Short, coarse, clipped and full of holes."""
    height = np.minimum(rough(200), 1e-8)
    height[::5] = np.nan
    with pytest.raises(SurfaceRefused) as caught:
        measured_roughness(height, spacing=15e-6, settings=RoughnessSettings(cutoff=0.8e-3, short_cutoff=2.5e-6))
    assert {"surface.too_short", "surface.too_coarse", "surface.too_many_missing"} <= {
        fault.code for fault in caught.value.faults
    }
    assert caught.value.code == "surface.not_trusted"


def test_nothing_measured_is_refused():
    """No height at all, or no point at all."""
    for height in (np.full(4000, np.nan), np.zeros(0)):
        with pytest.raises(SurfaceRefused):
            measured_roughness(height, spacing=SPACING, settings=SETTINGS)


def test_infinite_heights_and_spacings_are_wrong_questions():
    """Infinity is no height; nought is no spacing."""
    with pytest.raises(OutOfValidRange):
        measured_roughness(np.array([0.0, np.inf]), spacing=SPACING)
    with pytest.raises(OutOfValidRange):
        measured_roughness(np.zeros(100), spacing=0.0)


# ------------------------------------------------------------------------------------------------------------- notices


def test_a_few_missing_points_are_said_and_left_out():
    """One in fifty: Ra changes by less than two per cent."""
    height = rough()
    holed = height.copy()
    holed[::50] = np.nan
    settings = replace(SETTINGS, short_cutoff=None)
    whole, less = (measured_roughness(z, spacing=SPACING, settings=settings) for z in (height, holed))

    assert less.n_missing == 50
    assert "surface.points_missing" in codes(less)
    assert less.parameters.ra == pytest.approx(whole.parameters.ra, rel=0.02)


def test_coarse_height_steps_are_said():
    """A square wave has two heights; it is not taken for clipped."""
    found = measured_roughness(np.sign(np.sin(np.arange(4000) / 20)), spacing=SPACING, settings=SETTINGS)
    assert "surface.coarse_steps" in codes(found)


def test_a_missing_short_cutoff_is_said():
    """Detail then depends on the spacing."""
    found = measured_roughness(rough(), spacing=SPACING, settings=RoughnessSettings(cutoff=0.25e-3))
    assert codes(found) == ["surface.no_short_cutoff"]
    assert settings_for_cutoff(0.25e-3, spacing=1e-6).short_cutoff is None
    assert settings_for_cutoff(0.3e-3, spacing=0.5e-6) == RoughnessSettings(cutoff=0.3e-3)


# ---------------------------------------------------------------------------------------------------------- parameters


def test_a_flat_profile_has_no_shape_of_heights():
    """Skewness, kurtosis, spacing and core are not numbers there."""
    found = profile_parameters(np.zeros(100), spacing=1.0)
    assert (found.ra, found.rt, found.rdq) == (0.0, 0.0, 0.0)
    assert (found.rsk, found.rku, found.rsm, found.core) == (None, None, None, None)


def test_rz_is_the_mean_over_the_sections():
    """Five sections with peaks 1, 2, 3, 4, 5 and valleys of 1: Rz 4, Rp 3, Rv 1, Rt 6."""
    height = np.zeros(500)
    for section in range(5):
        height[100 * section + 20] = section + 1.0
        height[100 * section + 60] = -1.0
    found = profile_parameters(height, spacing=1.0)

    assert (found.rp, found.rv, found.rz, found.rt) == (3.0, 1.0, 4.0, 6.0)


def test_a_section_without_heights_is_refused():
    """The third of five."""
    height = np.ones(100)
    height[40:60] = np.nan
    with pytest.raises(OutOfValidRange, match="in a section"):
        profile_parameters(height, spacing=1.0)


def test_small_ripples_are_no_elements():
    """A ripple of 2 % on a wave of 100 points does not count as one."""
    places = np.arange(2000)
    wave = np.sin(2 * np.pi * places / 100) + 0.02 * np.sin(2 * np.pi * places / 7)
    assert mean_element_spacing(wave, spacing=1.0, discrimination=0.2) == pytest.approx(100.0, rel=2e-3)
    assert mean_element_spacing(wave[:120], spacing=1.0, discrimination=0.2) is None


def test_a_slope_needs_six_neighbours():
    """With every third height missing there is none."""
    height = np.arange(60.0)
    height[::3] = np.nan
    assert root_mean_square_slope(height, spacing=1.0) is None


def test_a_profile_of_three_plateaus_has_the_core_of_the_middle_one():
    """Peaks of height 10 on 10 %, valleys of depth 20 on 15 % of an even ramp from −1 to 1 (ISO 13565-2 idea)."""
    peaks, core, valleys = np.full(1000, 11.0), np.linspace(1.0, -1.0, 7500), np.full(1500, -21.0)
    found = core_heights(np.concatenate((peaks, core, valleys)))
    slope = 2.0 / 0.75  # height of the ramp per share

    assert found.rk == pytest.approx(slope, rel=1e-3)
    assert found.mr1 == pytest.approx(0.1, abs=2e-3)
    assert found.mr2 == pytest.approx(0.85, abs=2e-3)
    assert found.rpk == pytest.approx(2 * (11.0 - 1.0 - slope * 0.1), rel=1e-2)
    assert found.rvk == pytest.approx(2 * (21.0 - 1.0 - slope * 0.15), rel=1e-2)


def test_material_ratio_and_its_curve_are_inverse():
    """Share at the level of a share."""
    height = rough()
    ratio, level = material_ratio_curve(height, points=11)

    assert [material_ratio(height, one) for one in level[1:-1]] == pytest.approx(list(ratio[1:-1]), abs=1e-3)
    assert height_difference(height, from_ratio=0.0, to_ratio=1.0) == np.ptp(height)
    with pytest.raises(OutOfValidRange):
        height_difference(height, from_ratio=0.5, to_ratio=0.5)
    with pytest.raises(TooManyMissing):
        material_ratio(np.array([np.nan]), 0.0)


# ------------------------------------------------------------------------------------------------------------ spectrum


def test_the_spectrum_holds_the_mean_square():
    """Integral over frequency = mean square height, 3 %."""
    height = rough(50_000)
    found = power_spectral_density(height, spacing=SPACING)
    total = float(np.sum(found.density) * (found.frequency[1] - found.frequency[0]))

    assert total == pytest.approx(float(np.mean(height**2)), rel=0.03)


def test_scipy_gives_the_same_spectrum():
    """signal.welch with the same pieces and taper."""
    height = rough(10_000)
    ours = power_spectral_density(height, spacing=SPACING)
    frequency, density = signal.welch(height, 1 / SPACING, window="hann", nperseg=4000, detrend="linear")

    assert ours.pieces == 4
    assert np.allclose(frequency, ours.frequency)
    assert np.allclose(density, ours.density, rtol=1e-6, atol=1e-12 * density.max())


def test_a_spectrum_needs_a_whole_stretch():
    """Pieces with a hole are left out; holes everywhere are refused."""
    height = rough(10_000)
    height[100] = np.nan
    assert power_spectral_density(height, spacing=SPACING).pieces == 3
    height[::50] = np.nan
    with pytest.raises(TooManyMissing):
        power_spectral_density(height, spacing=SPACING)


@pytest.mark.parametrize(
    "wrong", [{"cutoff": 0.0}, {"cutoff": 1e-4, "short_cutoff": 1e-4}, {"cutoff": 1e-4, "sections": 0}]
)
def test_settings_that_make_no_sense_are_wrong_questions(wrong):
    """No cutoff, a short cutoff as long as the cutoff, no section."""
    with pytest.raises(OutOfValidRange):
        RoughnessSettings(**wrong)


def test_above_the_table_the_coarsest_class_is_taken_and_said():
    """Ra of 150 µm by ISO 4288, which ends at 80 µm."""
    height = rough(12_000, 190e-6, spacing=5e-6, length=0.2e-3)
    found = chosen_roughness(height, spacing=5e-6, rule="iso4288")

    assert found.settings.setting_class == "Sc5"
    assert "surface.beyond_table" in codes(found)


def test_a_profile_without_elements_cannot_be_chosen_by_its_spacing():
    """One bump: the coarsest class that fits is taken, and it is said why."""
    x = np.arange(100_000) * SPACING
    found = chosen_roughness(np.exp(-(((x - 0.025) / 1e-3) ** 2)), spacing=SPACING, selected_by="rsm", rule="iso4288")
    assert "surface.beyond_table" in codes(found)


def test_without_settings_the_choice_is_made():
    """The short way and the long one agree."""
    height = rough(10_000, 60e-9)
    short = measured_roughness(height, spacing=SPACING)

    assert short.settings == chosen_roughness(height, spacing=SPACING).settings


def test_a_negative_roughness_is_a_wrong_question():
    """No class for it."""
    with pytest.raises(OutOfValidRange):
        setting_class_for(-1e-9)
