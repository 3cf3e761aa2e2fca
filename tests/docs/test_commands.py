"""Every command, option and result field is documented, and so is every code that a file can earn."""

import importlib
import re
from pathlib import Path

import numpy as np
import pytest
import typer.main

from lapwright.cli.main import COMMANDS, exit_status

ROOT = Path(__file__).parents[2]
DATA = ROOT / "tests" / "published" / "data"
PAGE = (ROOT / "docs/reference/commands.md").read_text(encoding="utf-8")
SECTIONS = dict(re.findall(r"^## lapwright (\S+)\n(.*?)(?=^## |\Z)", PAGE, re.DOTALL | re.MULTILINE))
#: What the interface promises of each result, whatever else it holds.
PROMISED = {
    "thickness": (
        "n_sites n_readings mean_um centre_um min_um max_um ttv_um ttv_noise_bias_um wedge_um wedge_azimuth_deg dome_um "
        "residual_rms_um mean_expanded_uncertainty_um ttv_expanded_uncertainty_um outliers"
    ),
    "bond": (
        "mean_um range_um wedge_um wedge_azimuth_deg suspects predicted_ttv_um predicted_ttv_expanded_uncertainty_um "
        "predicted_wedge_um predicted_wedge_azimuth_deg frame verdict"
    ),
    "jig": (
        "adjusters azimuth_deg correction_um divisions_exact divisions_to_set residual_wedge_um residual_azimuth_deg"
    ),
    "plate": "dome_um dome_standard_uncertainty_um",
    "kinematics": "mean_speed_m_per_s radial radius_mm nonuniformity",
    "capability": (
        "method components part operator interaction repeatability anova source df ss ms f p grr_percent_total_variation "
        "ndc notes residual"
    ),
    "chart": "points centre limits signals index rule arl_in_control",
    "uncertainty": (
        "value standard_uncertainty effective_df coverage_factor expanded_uncertainty contributions monte_carlo"
    ),
    "route": (
        "alternatives stages kind name abrasive plate removal_um preset_um preset_datum rate_um_per_min time_min "
        "thickness_after_um total_time_min chance_in_tolerance damage_left_um"
    ),
    "fringes": (
        "method n_pixels coverage fringe_um pv_um rms_um tilt_um tilt_azimuth_deg power_um astigmatism_um zernike_um "
        "confidence sign_ambiguous"
    ),
    "roughness": "ra_nm rq_nm rz_nm rsk rku settings",
    "shape": "pv_um rms_um power_um astigmatism_um zernike_um sfqr_um sbir_um gbir_um bow_um warp_um",
}


def _commands(name):
    """The command of a name and its subcommands, as (title, command)."""
    command = typer.main.get_command(importlib.import_module(COMMANDS[name]).app)
    inner = getattr(command, "commands", None)
    return [(f"{name} {sub}", one) for sub, one in inner.items()] if inner else [(name, command)]


@pytest.mark.parametrize("name", COMMANDS)
def test_each_command_and_each_of_its_options_is_documented(name):
    """A command without a section, a subcommand without a heading, or an option without a row fails."""
    section = SECTIONS[name]
    whole = typer.main.get_command(importlib.import_module(COMMANDS[name]).app)
    assert whole.get_short_help_str(), f"lapwright --help says nothing of {name}"
    for title, command in _commands(name):
        assert title == name or f"### lapwright {title}\n" in section
        for parameter in command.params:
            for option in parameter.opts:
                assert parameter.name == "help" or not option.startswith("--") or option in section, f"{title} {option}"


@pytest.mark.parametrize("name", PROMISED)
def test_each_promised_field_is_documented(name):
    """The names of the interface stand in the table of the command."""
    documented = set(re.findall(r"`([a-z0-9_]+)`", SECTIONS[name]))
    assert set(PROMISED[name].split()) <= documented


def _keys(value):
    """All keys of nested dictionaries."""
    if isinstance(value, dict):
        return set(value) | set().union(*map(_keys, value.values()))
    return set().union(*map(_keys, value)) if isinstance(value, list) else set()


def _surface_lines(folder):
    """Command lines on a fringe picture, a profile and a map of the simulator."""
    from PIL import Image

    from lapwright.sim.fringe_images import Camera, fringe_picture, unit_coordinates

    u, v = unit_coordinates((200, 200))
    dome = -1e-6 * (u * u + v * v)
    made = fringe_picture(np.random.default_rng(1), dome, fringe_height=1e-6, fringes=16, camera=Camera(levels=256))
    Image.fromarray(made.image.astype(np.uint8)).save(folder / "f.png")
    x = np.arange(0.0, 6.0, 0.001)
    rows = "".join(f"{one},{100 * np.sin(2 * np.pi * one / 0.1)}\n" for one in x.tolist())
    (folder / "p.csv").write_text(f"x_mm,z_nm\n{rows}", encoding="utf-8")
    grid = "\n".join(",".join(str(-x * x - y * y) for x in range(-25, 26)) for y in range(-25, 26))
    notes = "# grid: thickness_nm\n# pixel_width_mm: 1\n# pixel_height_mm: 1\n# first_row: top\n"
    (folder / "m.csv").write_text(notes + grid, encoding="utf-8")
    return {
        "fringes": ["fringes", str(folder / "f.png"), "--fringe-um", "1", "--diameter-mm", "50"],
        "roughness": ["roughness", str(folder / "p.csv"), "--cutoff-mm", "0.8"],
        "areal": ["roughness", str(folder / "m.csv")],
        "shape": ["shape", str(folder / "m.csv"), "--site-mm", "10x10"],
    }


@pytest.fixture
def answers(tmp_path, capsys):
    """The result of each command on a small example."""
    import json

    order = re.search(
        r"```toml\n(.*?)```", (ROOT / "docs/reference/order-file.md").read_text(encoding="utf-8"), re.DOTALL
    )
    (tmp_path / "o.toml").write_text(order[1], encoding="utf-8")
    places = [(0, 0), (20, 0), (0, 20), (-20, 0), (0, -20), (14, 14), (-14, 14), (-14, -14), (14, -14)]
    for name, thickness in (("w", 500), ("c", 3000), ("s", 3506)):
        rows = "".join(f"{name},{n},{x},{y},{thickness + n % 3 / 9}\n" for n, (x, y) in enumerate(places))
        (tmp_path / f"{name}.csv").write_text(f"wafer,site,x_mm,y_mm,thickness_um\n{rows}", encoding="utf-8")
    files = {name: str(tmp_path / f"{name}.csv") for name in "wcs"}
    jig = "jig --wedge-um 6 --azimuth-deg 30 --wafer-diameter-mm 100 --adjuster-radius-mm 70 --um-per-division 2 --load-kg 1"
    lines = {
        "thickness": ["thickness", files["w"], "--diameter-mm", "50", "--gauge-limit-um", "1", "--sites"],
        "bond": ["bond", "--wafer", files["w"], "--carrier", files["c"], "--stack", files["s"], "--diameter-mm", "50", "--sites"],
        "jig": [*jig.split(), "--adjuster-azimuths-deg", "90,210,330"],
        "route": ["route", str(tmp_path / "o.toml"), "--draws", "100"],
        "capability": ["capability", "study", str(DATA / "grr_crossed_20x3x2.csv"), "--part", "part", "--operator", "operator", "--value", "y", "--tolerance-um", "4"],
        "nested": ["capability", "nested", str(DATA / "nist_furnace_oxide_thickness.csv"), "--levels", "run,zone", "--value", "thickness_A"],
        "process": ["capability", "process", files["w"], "--value", "thickness_um", "--upper", "502", "--gauge-deviation", "0.01"],
        "bias": ["capability", "bias", files["w"], "--value", "thickness_um", "--reference", "500"],
        "trend": ["capability", "trend", files["w"], "--value", "thickness_um", "--along", "x_mm"],
        "compare": ["capability", "compare", files["w"], "--first", "thickness_um", "--second", "x_mm"],
        "plan": ["capability", "plan", "--parts", "2", "--operators", "2"],
        "repeats": ["capability", "repeats", "--noise-um", "0.2", "--sites", "9", "--ttv-limit-um", "2"],
        "chart": ["chart", str(DATA / "nist_counts_chart.csv"), "--value", "defects", "--kind", "count"],
        "uncertainty": ["uncertainty", str(DATA / "jcgm100_h1.toml"), "--trials", "10000"],
        "kinematics": ["kinematics", "--plate-speed-rpm", "70", "--jig-speed-rpm", "60", "--offset-mm", "100", "--wafer-diameter-mm", "100"],
        "plate": ["plate", "infer", "--sagitta-um", "-1.1", "--diameter-mm", "100", "--plate-diameter-mm", "300"],
        "settings": ["settings"],
        **_surface_lines(tmp_path),
    }  # fmt: skip

    def answer(name):
        exit_status([*lines[name], "--json"])
        return json.loads(capsys.readouterr().out)["result"]

    return answer


@pytest.mark.parametrize(
    "name", ["thickness", "bond", "jig", "route", "settings", "fringes", "roughness", "areal", "shape"]
)
def test_each_field_of_a_result_is_documented(answers, name):
    """Nothing is answered that the reference does not explain; the order in a route is told on its own page."""
    result = answers(name)
    result.pop("order", None)
    documented = set(re.findall(r"`([a-z0-9_]+)`", SECTIONS["roughness" if name == "areal" else name]))
    assert _keys(result) - {"wafers"} <= documented | {"settings"}
    assert result


@pytest.mark.parametrize("name", ["nested", "process", "bias", "trend", "compare", "plan", "repeats"])
def test_each_field_of_a_capability_answer_is_documented(answers, name):
    """The subcommands answer nothing unexplained; levels are named by their columns."""
    documented = set(re.findall(r"`([a-z0-9_]+)`", SECTIONS["capability"]))
    assert _keys(answers(name)) - {"run", "zone"} <= documented


@pytest.mark.parametrize("name", PROMISED)
def test_each_promised_field_is_in_the_result(answers, name):
    """The interface holds."""
    named_by_the_user = {"residual"}  # a level of a nested study, in another answer of the same command
    assert set(PROMISED[name].split()) - named_by_the_user <= _keys(answers(name))


def test_each_code_of_a_faulty_file_is_documented():
    """Codes in the readers of files are explained on the pages of those files."""
    sources = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "src/lapwright/formats").glob("*.py"))
    codes = set(re.findall(r'"((?:header|cell|row|site|repeat|wafer|list|order)\.[a-z_]+)"', sources))
    pages = "".join(
        (ROOT / f"docs/reference/{name}.md").read_text(encoding="utf-8")
        for name in ("readings-file", "order-file", "surface-files")
    )
    assert codes
    assert sorted(code for code in codes if f"`{code}`" not in pages) == []


def test_the_example_of_a_readings_file_is_read():
    """Five sites, one of them not measured, one read twice."""
    from lapwright.formats.readings_csv import parse_readings

    page = (ROOT / "docs/reference/readings-file.md").read_text(encoding="utf-8")
    example = re.search(r"```text\n(.*?)```", page, re.DOTALL)[1]
    (read,) = parse_readings(example.splitlines(keepends=True), name="example")
    assert read.readings.labels == ("centre", "right", "top", "left", "bottom")
    assert read.repeats.tolist() == [1, 1, 1, 1, 1, 2]


def test_the_examples_of_surface_files_are_read():
    """A profile of four points with one gap, and one map in both of its forms."""
    from lapwright.formats.surfaces import surface_from_bytes

    page = (ROOT / "docs/reference/surface-files.md").read_text(encoding="utf-8")
    profile, listed, grid = (
        surface_from_bytes(example.encode(), name="example")
        for example in re.findall(r"```text\n(.*?)```", page, re.DOTALL)
    )
    assert np.isnan(profile.height).tolist() == [False, False, True, False]
    assert profile.spacing == pytest.approx(5e-7)
    assert np.array_equal(listed.height, grid.height, equal_nan=True)
    assert np.isnan(grid.height[0, 0])
