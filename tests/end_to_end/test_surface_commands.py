"""`lapwright fringes`, `roughness` and `shape` as a person or a script runs them: known surfaces, and bad input.

Heights come from the simulator or from closed forms, never from the analysis.
"""

import json
import subprocess
import sys

import numpy as np
import pytest
from PIL import Image

from lapwright.cli.main import exit_status
from lapwright.formats.surfaces import read_surface
from lapwright.sim.fringe_images import (
    Camera,
    Sample,
    fringe_picture,
    smooth_form,
    stepped_pictures,
    tilt_phase,
    unit_coordinates,
)

SHAPE = (320, 320)
FRINGE = 1.2225e-6
DOME = 1.5e-6  # sagitta of the dome, m
CAMERA = Camera(levels=256, background=0.02)
SCALE = ("--fringe-um", "1.2225", "--diameter-mm", "100")


@pytest.fixture
def ask(capsys):
    """Runs a command line with --json: exit status, answer; standard output is exactly one line."""

    def run(*arguments):
        status = exit_status([*map(str, arguments), "--json"])
        out = capsys.readouterr().out
        assert out.count("\n") == 1
        return status, json.loads(out)

    return run


def dome(sense=1):
    """A paraboloid of a known sagitta, high in the middle for +1."""
    u, v = unit_coordinates(SHAPE)
    return -sense * DOME * (u * u + v * v)


def save(path, image, top=255):
    """Save intensities of 8 or 16 bits."""
    Image.fromarray(image.astype(np.uint8 if top == 255 else np.uint16)).save(path)
    return path


def photograph(folder, height, *, fringes=16, azimuth=0.3, name="f.png", **options):
    """A fringe photograph with tilt, saved."""
    made = fringe_picture(
        np.random.default_rng(7), height, fringe_height=FRINGE, fringes=fringes, azimuth=azimuth,
        camera=options.pop("camera", CAMERA), **options,
    )  # fmt: skip
    return save(folder / name, made.image)


def test_the_program_itself_answers_in_one_line(tmp_path):
    """As a process of its own; nothing on standard error; the sagitta within a hundredth of a fringe."""
    picture = photograph(tmp_path, dome())
    command = [sys.executable, "-m", "lapwright", "fringes", str(picture), *SCALE, "--json"]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
    assert (done.stdout.count("\n"), done.stderr) == (1, "")
    found = json.loads(done.stdout)["result"]
    assert found["method"] == "carrier"
    assert found["power_um"] == pytest.approx(DOME * 1e6, abs=0.012)
    assert found["pv_um"] == pytest.approx(DOME * 1e6, abs=0.03)
    assert found["rms_um"] == pytest.approx(DOME * 1e6 / np.sqrt(12), abs=0.006)  # of u² + v² on a disc: 1/√12
    assert found["fringe_um"] == 1.2225
    assert found["diameter_mm"] == pytest.approx(100.0)
    assert found["coverage"] > 0.97
    assert found["n_pixels"] > 60_000
    assert found["confidence"] > 0.9
    assert found["tilt_um"] == pytest.approx(16 * 1.2225, rel=0.04)


@pytest.mark.parametrize("sense", [1, -1])
def test_the_sign_is_open_until_something_outside_the_picture_settles_it(tmp_path, ask, capsys, sense):
    """Power is a size, no azimuth of the tilt, no word domed or dished; then both, with the right sign."""
    picture = photograph(tmp_path, dome(sense), azimuth=np.radians(40))
    _, answer = ask("fringes", picture, *SCALE)
    found = answer["result"]
    assert found["sign_ambiguous"] is True
    assert found["power_um"] == pytest.approx(DOME * 1e6, abs=0.012)
    assert found["tilt_azimuth_deg"] is None
    exit_status(["fringes", str(picture), *SCALE])
    told = capsys.readouterr()
    assert "domed" not in told.out + told.err
    assert "dished" not in told.out + told.err
    for azimuth, sign in ((40, sense), (220, -sense)):
        _, answer = ask("fringes", picture, *SCALE, "--tilt-opens-toward-deg", azimuth)
        assert answer["result"]["sign_ambiguous"] is False
        assert answer["result"]["power_um"] == pytest.approx(sign * DOME * 1e6, abs=0.012)
        assert answer["result"]["tilt_azimuth_deg"] == pytest.approx(azimuth, abs=1.0)
    exit_status(["fringes", str(picture), *SCALE, "--tilt-opens-toward-deg", "40"])
    assert ("domed" if sense > 0 else "dished") in capsys.readouterr().out


def test_height_per_fringe_from_wavelength_and_angle(tmp_path, ask):
    """632.8 nm at 75 degrees from the normal: 1.2225 µm (closed form, see the published check of the sensitivity)."""
    picture = photograph(tmp_path, dome())
    _, answer = ask("fringes", picture, "--wavelength-nm", "632.8", "--incidence-deg", "75", "--diameter-mm", "100")
    assert answer["result"]["fringe_um"] == pytest.approx(1.2225, abs=5e-5)


@pytest.mark.parametrize("ending", ["x3p", "sdf", "csv"])
def test_a_saved_map_says_the_same_and_keeps_its_open_sign(tmp_path, ask, ending):
    """`shape` on the map gives the numbers of `fringes`; the sign stays open."""
    picture, saved = photograph(tmp_path, dome()), tmp_path / f"map.{ending}"
    _, first = ask("fringes", picture, *SCALE, "--out", saved)
    _, second = ask("shape", saved)
    assert second["result"]["sign_ambiguous"] is True
    for field in ("pv_um", "rms_um", "power_um", "n_pixels"):
        assert second["result"][field] == pytest.approx(first["result"][field], rel=1e-3)
    ask("fringes", picture, *SCALE, "--tilt-opens-toward-deg", "17", "--out", saved)
    height = read_surface(saved).height
    assert height[160, 160] > np.nanmin(height) + 1e-6
    assert np.isnan(height[0, 0])


def test_the_map_is_the_surface_that_was_photographed(tmp_path):
    """A random smooth surface, compared pixel by pixel: rms below 1/100 fringe in the inner 90 % of the radius."""
    height = smooth_form(np.random.default_rng(5), SHAPE, departure=1.5 * FRINGE)
    picture = photograph(tmp_path, height, fringes=20)
    status = exit_status(
        ["fringes", str(picture), *SCALE, "--tilt-opens-toward-deg", "17", "--out", str(tmp_path / "m.x3p"), "--json"]
    )
    assert status == 0
    u, v = unit_coordinates(SHAPE)
    error = (read_surface(tmp_path / "m.x3p").height - height)[u * u + v * v < 0.81]
    assert np.nanstd(error) < FRINGE / 100
    assert np.isfinite(error).mean() > 0.99


def test_stepped_pictures_with_known_and_with_unknown_steps(tmp_path, ask):
    """Four quarter steps in 16 bits: 1/200 fringe; the signed step settles the sign, unknown steps do not."""
    phase = tilt_phase(SHAPE, fringes=3, azimuth=0.3) - 2 * np.pi * dome() / FRINGE
    steps = np.radians([0, 90, 180, 270])
    camera = Camera(levels=65_536, noise=0.01)
    frames = stepped_pictures(np.random.default_rng(2), phase, steps, camera=camera)
    files = [save(tmp_path / f"{number}.tif", frame, top=65_535) for number, frame in enumerate(frames)]
    _, answer = ask("fringes", *files, *SCALE, "--steps", "0,90,180,270", "--steps-open-gap")
    assert answer["result"]["method"] == "steps"
    assert answer["result"]["power_um"] == pytest.approx(DOME * 1e6, abs=0.006)
    assert answer["result"]["sign_ambiguous"] is False
    assert answer["result"]["steps_deg"] == pytest.approx([0, 90, 180, 270])
    _, answer = ask("fringes", *files, *SCALE, "--steps", "0,90,180,270", "--steps-close-gap")
    assert answer["result"]["power_um"] == pytest.approx(-DOME * 1e6, abs=0.006)
    _, answer = ask("fringes", *files, *SCALE)
    assert answer["result"]["sign_ambiguous"] is True
    assert answer["result"]["power_um"] == pytest.approx(DOME * 1e6, abs=0.01)


def test_closed_fringes_are_read_up_to_sign(tmp_path, ask):
    """Four rings without tilt: 1/20 fringe; the way the rings move settles the sign."""
    u, v = unit_coordinates(SHAPE)
    picture = photograph(tmp_path, -4.3 * FRINGE * (u * u + v * v), fringes=0)
    _, answer = ask("fringes", picture, *SCALE)
    assert answer["result"]["method"] == "closed"
    assert answer["result"]["power_um"] == pytest.approx(4.3 * 1.2225, abs=1.2225 / 20)
    assert answer["result"]["sign_ambiguous"] is True
    assert "fringes.read_as_closed" in {one["code"] for one in answer["warnings"]}
    _, answer = ask("fringes", picture, *SCALE, "--method", "closed", "--pressed-fringes-move", "outward")
    assert answer["result"]["sign_ambiguous"] is False
    assert answer["result"]["power_um"] == pytest.approx(4.3 * 1.2225, abs=1.2225 / 20)


def test_the_sample_may_be_shown_by_hand(tmp_path, ask):
    """A circle in pixels; a hole is left out; a bright picture does the same."""
    picture = photograph(tmp_path, dome())
    radius = 0.45 * 320
    _, answer = ask(
        "fringes", picture, *SCALE, "--mask", f"circle:159.5,159.5,{radius}", "--mask", "hole:159.5,159.5,30"
    )
    expected = np.pi * (radius**2 - 30**2)
    assert answer["result"]["n_pixels"] == pytest.approx(expected, rel=0.02)
    y, x = np.mgrid[:320, :320]
    drawn = np.where(np.hypot(x - 159.5, y - 159.5) <= radius, 255, 0)
    save(tmp_path / "mask.png", drawn)
    _, answer = ask("fringes", picture, *SCALE, "--mask", tmp_path / "mask.png")
    assert answer["result"]["n_pixels"] == pytest.approx(np.pi * radius**2, rel=0.01)


def test_a_speck_that_sticks_out_of_the_rim_does_not_stretch_the_scale(tmp_path, ask):
    """Twelve pixels of glare beyond the rim: without care the pixel would be 8 % smaller and the power 17 % larger."""
    picture = photograph(tmp_path, dome())
    _, answer = ask("fringes", picture, *SCALE, "--mask", "circle:159.5,159.5,143", "--mask", "circle:159.5,12,4")
    assert answer["result"]["pixel_width_um"] == pytest.approx(1e5 / 287, rel=0.005)
    assert answer["result"]["power_um"] == pytest.approx(DOME * 1e6, rel=0.02)


def test_sides_of_a_rectangle_and_the_size_of_a_pixel_give_the_scale(tmp_path, ask):
    """A rectangle of 0.9 by 0.63 of the picture: sides of 90 by 63 mm make pixels of 0.3125 mm."""
    sample = Sample(form="rectangle")
    u, v = unit_coordinates(SHAPE, sample)
    picture = photograph(tmp_path, -DOME * (u * u + v * v), sample=sample)
    _, sides = ask("fringes", picture, "--fringe-um", "1.2225", "--outline", "90x63mm")
    assert sides["result"]["pixel_width_um"] == pytest.approx(312.5, rel=0.01)
    assert sides["result"]["pixel_height_um"] == pytest.approx(312.5, rel=0.01)
    _, pixels = ask("fringes", picture, "--fringe-um", "1.2225", "--pixel-um", "312.5")
    assert pixels["result"]["power_um"] == pytest.approx(sides["result"]["power_um"], rel=0.03)


def test_a_disc_seen_at_a_slant_is_told_and_can_be_corrected(tmp_path, ask):
    """Every second row left out: a pixel is twice as high as wide on the sample."""
    whole = np.array(Image.open(photograph(tmp_path, dome())))
    save(tmp_path / "half.png", whole[::2])
    _, answer = ask("fringes", tmp_path / "half.png", *SCALE)
    assert "fringes.not_round" in {one["code"] for one in answer["warnings"]}
    _, answer = ask("fringes", tmp_path / "half.png", *SCALE, "--pixel-aspect", "2")
    assert answer["result"]["power_um"] == pytest.approx(DOME * 1e6, abs=0.02)
    assert answer["result"]["astigmatism_um"] < 0.03
    assert "fringes.not_round" not in {one["code"] for one in answer["warnings"]}


def test_pictures_that_must_not_become_maps_are_refused(tmp_path, ask):
    """Noise, an even grey, and a burnt-out picture: exit 3, a reason, never a map."""
    noise = np.random.default_rng(1).integers(0, 255, SHAPE)
    for name, image in (("noise", noise), ("grey", np.full(SHAPE, 90)), ("burnt", np.full(SHAPE, 255))):
        status, answer = ask("fringes", save(tmp_path / f"{name}.png", image), *SCALE, "--out", tmp_path / "no.x3p")
        assert (status, answer["ok"]) == (3, False), name
        assert answer["code"].startswith("fringes.")
        assert not (tmp_path / "no.x3p").exists()


@pytest.mark.parametrize(
    "arguments",
    [
        (), ("--fringe-um", "1"), ("--diameter-mm", "100"), (*SCALE, "--wavelength-nm", "633"), (*SCALE, "--incidence-deg", "75"),
        ("--fringe-um", "0", "--diameter-mm", "100"), ("--fringe-um", "-1", "--diameter-mm", "100"),
        ("--fringe-um", "nan", "--diameter-mm", "100"), ("--fringe-um", "1", "--diameter-mm", "0"),
        ("--wavelength-nm", "633", "--incidence-deg", "90", "--diameter-mm", "100"), (*SCALE, "--outline", "5x5mm"),
        ("--fringe-um", "1", "--pixel-um", "a"), (*SCALE, "--pixel-aspect", "-1"), (*SCALE, "--steps", "0,90"),
        (*SCALE, "--steps", "a,b"), (*SCALE, "--method", "steps"), (*SCALE, "--mask", "circle:1,2"), (*SCALE, "--mask", "none.png"),
        (*SCALE, "--mask", "circle:9999,9999,3"), (*SCALE, "--mask", "polygon:1,1,2,2"), (*SCALE, "--out", "map.pdf"),
        (*SCALE, "--tilt-opens-toward-deg", "inf"), (*SCALE, "--channel", "red"), (*SCALE, "--tilt-opens-toward-deg", "107.2"),
        (*SCALE, "--zernike-terms", "9999"),
    ],
)  # fmt: skip
def test_wrong_questions_about_fringes_are_told(tmp_path, ask, arguments):
    """Exit status 2, a sentence, no traceback."""
    status, answer = ask("fringes", photograph(tmp_path, dome(), fringes=20), *arguments)
    assert (status, answer["ok"]) == (2, False)
    assert "fault of its own" not in answer["error"]


def test_files_that_are_no_pictures_or_do_not_belong_together_are_told(tmp_path, ask):
    """Text, nothing, a folder, pictures of two sizes."""
    picture = photograph(tmp_path, dome())
    (tmp_path / "text.png").write_text("x_mm,z_nm\n0,1\n")
    small = save(tmp_path / "small.png", np.zeros((40, 40)))
    for files in ([tmp_path / "text.png"], [tmp_path / "none.png"], [tmp_path], [picture, small, picture]):
        status, answer = ask("fringes", *files, *SCALE)
        assert (status, answer["ok"]) == (2, False)


def profile(folder, height, *, step=0.5, length=5600.0, name="p.csv", header="x_mm,z_nm"):
    """A profile [nm] as a function of the place [µm], saved."""
    x = np.arange(0.0, length, step)
    rows = "".join(f"{place / 1000:.6f},{z:.6f}\n" for place, z in zip(x.tolist(), height(x).tolist(), strict=True))
    (folder / name).write_text(f"{header}\n{rows}")
    return folder / name


def test_a_sine_has_the_roughness_of_the_closed_form(tmp_path, ask):
    """Amplitude A = 100 nm, period 0.1 mm, cutoff 0.8 mm: Ra 2A/π, Rq A/√2, Rz 2A, Rsk 0, Rku 1.5, Rdq √2πA/λ.

    The Gaussian filter leaves 1 − 2^−(0.8/0.1)² of A (ISO 16610-21): all of it.
    """
    path = profile(tmp_path, lambda x: 100 * np.sin(2 * np.pi * x / 100))
    status, answer = ask("roughness", path, "--cutoff-mm", "0.8")
    found = answer["result"]
    assert (status, answer["ok"]) == (0, True)
    assert found["ra_nm"] == pytest.approx(63.66198, rel=2e-3)
    assert found["rq_nm"] == pytest.approx(70.71068, rel=2e-3)
    assert found["rz_nm"] == pytest.approx(200.0, rel=2e-3)
    assert found["rsk"] == pytest.approx(0.0, abs=1e-3)
    assert found["rku"] == pytest.approx(1.5, rel=2e-3)
    assert found["rdq"] == pytest.approx(4.442883 * 0.1 / 100, rel=2e-3)
    assert found["rsm_um"] == pytest.approx(100.0, rel=1e-3)
    assert found["settings"]["cutoff_mm"] == 0.8
    assert found["settings"]["sections"] == 5
    assert found["settings"]["evaluation_length_mm"] == pytest.approx(4.0)


def test_a_wave_at_the_cutoff_is_halved(tmp_path, ask):
    """50 % at the cutoff (ISO 16610-21): Rq is half of A/√2."""
    path = profile(tmp_path, lambda x: 100 * np.sin(2 * np.pi * x / 800), length=9600.0, step=2.0)
    _, answer = ask("roughness", path, "--cutoff-mm", "0.8")
    assert answer["result"]["rq_nm"] == pytest.approx(35.35534, rel=5e-3)


def test_units_and_formats_do_not_change_a_roughness(tmp_path, ask):
    """The same profile in µm with decimal commas, and as X3P and SDF."""
    from datetime import UTC, datetime

    from lapwright.formats.surfaces import write_surface

    path = profile(tmp_path, lambda x: 100 * np.sin(2 * np.pi * x / 100))
    rows = [line.split(",") for line in path.read_text().splitlines()[1:]]
    text = "x_um;z_um\r\n" + "".join(
        f"{float(x) * 1000:.3f};{float(z) / 1000:.9f}\r\n".replace(".", ",") for x, z in rows
    )
    (tmp_path / "q.csv").write_text(text)
    for ending in ("x3p", "sdf"):
        write_surface(tmp_path / f"q.{ending}", read_surface(path), at=datetime(2026, 1, 2, tzinfo=UTC))
    _, first = ask("roughness", path, "--cutoff-mm", "0.8")
    for other in ("q.csv", "q.x3p", "q.sdf"):
        _, second = ask("roughness", tmp_path / other, "--cutoff-mm", "0.8")
        for field in ("ra_nm", "rz_nm", "rku"):
            assert second["result"][field] == pytest.approx(first["result"][field], rel=1e-6)


def test_an_egg_box_has_the_areal_roughness_of_the_closed_form(tmp_path, ask):
    """A = 100 nm: Sa 4A/π² = 40.528 nm, Sq A/2, Ssk 0, Sku 2.25; a gap is told."""
    wave = np.sin(2 * np.pi * np.arange(240) / 60)
    box = 100 * wave[:, None] * wave
    rows = "\n".join(",".join(f"{z:.6f}" for z in row) for row in box.tolist())
    rows = rows.replace(rows.split(",")[100], "", 1)
    notes = "# grid: z_nm\n# pixel_width_um: 2\n# pixel_height_um: 2\n# first_row: top\n"
    (tmp_path / "box.csv").write_text(notes + rows)
    _, answer = ask("roughness", tmp_path / "box.csv")
    found = answer["result"]
    assert found["sa_nm"] == pytest.approx(40.52847, rel=2e-3)
    assert found["sq_nm"] == pytest.approx(50.0, rel=1e-3)
    assert found["ssk"] == pytest.approx(0.0, abs=1e-3)
    assert found["sku"] == pytest.approx(2.25, rel=1e-3)
    assert found["settings"]["n_missing"] == 1
    assert "surface.points_missing" in {one["code"] for one in answer["warnings"]}


def test_profiles_that_cannot_answer_are_refused(tmp_path, ask):
    """Too short, too coarse, and clipped: exit 3 with the code."""
    short = profile(tmp_path, np.sin, length=900.0)
    status, answer = ask("roughness", short, "--cutoff-mm", "0.8")
    assert (status, answer["code"]) == (3, "surface.too_short")
    coarse = profile(tmp_path, np.sin, step=100.0, length=9000.0)
    status, answer = ask("roughness", coarse, "--cutoff-mm", "0.8")
    assert (status, answer["code"]) == (3, "surface.too_coarse")
    clipped = profile(tmp_path, lambda x: np.minimum(60 * np.sin(x / 16) + 50 * np.sin(x / 27.3), 70))
    status, answer = ask("roughness", clipped, "--cutoff-mm", "0.8")
    assert (status, answer["code"]) == (3, "surface.clipped")


def test_wrong_questions_about_roughness_are_told(tmp_path, ask):
    """A cutoff of nought, a form of the other kind, a picture, an empty file, faulty cells all at once."""
    good = profile(tmp_path, np.sin)
    (tmp_path / "empty.csv").write_text("")
    (tmp_path / "bad.csv").write_text("x_mm,z_nm\n0,a\n1,b\n2,3\n")
    for arguments in (
        (good, "--cutoff-mm", "0"), (good, "--cutoff-mm", "0.8", "--form", "quadric"), (good, "--form", "arc"),
        (photograph(tmp_path, dome()),), (tmp_path / "empty.csv",), (tmp_path / "none.csv",),
    ):  # fmt: skip
        status, answer = ask("roughness", *arguments)
        assert (status, answer["ok"]) == (2, False), arguments
    status, answer = ask("roughness", tmp_path / "bad.csv")
    assert (status, [fault["row"] for fault in answer["errors"]]) == (2, [2, 3])


def thickness_map(folder, thickness, *, title="thickness_um", radius=50, step=2):
    """A round map [µm] as a function of the place [mm], saved as a list of points."""
    places = [
        (x, y)
        for y in range(-radius, radius + 1, step)
        for x in range(-radius, radius + 1, step)
        if x * x + y * y <= radius * radius
    ]
    rows = "".join(f"{x},{y},{thickness(x, y):.6f}\n" for x, y in places)
    (folder / "m.csv").write_text(f"x_mm,y_mm,{title}\n{rows}")
    return folder / "m.csv"


def test_a_bowl_has_the_power_and_flatness_of_the_closed_form(tmp_path, ask):
    """Dished by 2 µm over 100 mm on a slope of 0.6 µm: power −2, pv 2, FLTt 2, rms 2/√12, tilt 0.6 at 0 degrees."""
    path = thickness_map(tmp_path, lambda x, y: 2 * (x * x + y * y) / 2500 + 0.3 * x / 50, title="z_um")
    status, answer = ask("shape", path, "--diameter-mm", "100")
    found = answer["result"]
    assert (status, found["map_of"]) == (0, "face")
    assert found["power_um"] == pytest.approx(-2.0, rel=1e-6)
    assert found["pv_um"] == pytest.approx(2.0, rel=1e-3)
    assert found["fltt_um"] == pytest.approx(2.0, rel=1e-3)
    assert found["rms_um"] == pytest.approx(2 / np.sqrt(12), rel=0.02)
    assert found["tilt_um"] == pytest.approx(0.6, rel=1e-6)
    assert found["tilt_azimuth_deg"] == pytest.approx(0.0, abs=1e-4)
    assert found["zernike_um"][3] == pytest.approx(2 / (2 * np.sqrt(3)), rel=1e-6)  # 2ρ² = 1 + (2ρ² − 1), norm √3
    assert found["gbir_um"] is None
    assert found["bow_um"] is None
    assert found["n_sites"] is None
    _, median = ask("shape", path, "--map-of", "median", "--diameter-mm", "100")
    assert median["result"]["warp_um"] == pytest.approx(2.0, rel=1e-3)
    assert median["result"]["bow_um"] == pytest.approx(-2.0, rel=0.05)


def test_sites_of_a_wedge_have_the_terms_of_the_closed_form(tmp_path, ask):
    """Thickness rising 0.05 µm/mm along x: GBIR 5 µm, SBIR 1 µm over 20 mm, SFQR and GFLR nought."""
    path = thickness_map(tmp_path, lambda x, _y: 500 + 0.05 * x)
    _, answer = ask("shape", path, "--site-mm", "20x20", "--diameter-mm", "100")
    found = answer["result"]
    assert found["map_of"] == "thickness"
    assert found["gbir_um"] == pytest.approx(5.0)
    assert found["gflr_um"] == pytest.approx(0.0, abs=1e-6)
    assert found["sbir_max_um"] == pytest.approx(1.0)
    assert found["sfqr_max_um"] == pytest.approx(0.0, abs=1e-6)
    assert (
        found["n_sites"] == len(found["sites"]) == 12
    )  # whole 20 mm squares in a disc of 100 mm, corner at the centre
    _, partial = ask("shape", path, "--site-mm", "20x20mm", "--diameter-mm", "100", "--partial-sites-percent", "50")
    assert partial["result"]["n_sites"] > 12


def test_maps_that_cannot_answer_and_wrong_questions_are_told(tmp_path, ask):
    """Sites that do not fit (3), a line (3), an exclusion that leaves nothing, nonsense sizes, a profile (2)."""
    path = thickness_map(tmp_path, lambda x, _y: 500 + 0.05 * x)
    assert ask("shape", path, "--site-mm", "200x200")[0] == 3
    for arguments in (
        ("--edge-exclusion-mm", "60"),
        ("--site-mm", "nonsense"),
        ("--site-mm", "0x5"),
        ("--diameter-mm", "-3"),
        ("--site-mm", "1.2.3x4"),
    ):
        status, answer = ask("shape", path, *arguments)
        assert (status, answer["ok"]) == (2, False), arguments
        assert "fault of its own" not in answer["error"]
    assert ask("shape", profile(tmp_path, np.sin))[0] == 2


def test_people_get_tables_and_words(tmp_path, capsys):
    """Each command without --json: the main numbers with their units."""
    picture = photograph(tmp_path, dome())
    for line, words in (
        (["fringes", str(picture), *SCALE], ("peak to valley", "µm", "Which way is up is not known")),
        (["roughness", str(profile(tmp_path, lambda x: 100 * np.sin(2 * np.pi * x / 100)))], ("Ra", "nm", "Cutoff")),
        (["shape", str(thickness_map(tmp_path, lambda x, _y: 500 + x / 20)), "--site-mm", "20x20"], ("GBIR", "sites")),
    ):
        assert exit_status(line) == 0
        out = capsys.readouterr().out
        for word in words:
            assert word in out
