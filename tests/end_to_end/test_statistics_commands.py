"""`lapwright capability`, `chart` and `uncertainty` as a shell runs them: published numbers out of one line of JSON."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from lapwright.cli.main import exit_status
from lapwright.testing.tables import published_table

DATA = Path(__file__).parents[1] / "published" / "data"


@pytest.fixture
def ask(capsys):
    """The answer of a command line, with its exit status."""

    def asked(*arguments):
        status = exit_status([*map(str, arguments), "--json"])
        line = capsys.readouterr().out
        assert line.count("\n") == 1
        return status, json.loads(line)

    return asked


@pytest.fixture
def series(tmp_path):
    """A file of one series of the handbook."""

    def written(name):
        table = published_table(DATA / "nist_ewma_cusum_series.csv")
        rows = [x for x, of in zip(table["x"], table["series"], strict=True) if of.startswith(name)]
        (tmp_path / "s.csv").write_text("v\n" + "\n".join(rows) + "\n", encoding="utf-8")
        return tmp_path / "s.csv"

    return written


def test_the_study_with_a_variance_below_zero(ask):
    """Both models, the table with its total, standard notes."""
    _, answer = ask(
        "capability",
        "study",
        DATA / "grr_crossed_20x3x2.csv",
        "--part",
        "part",
        "--operator",
        "operator",
        "--value",
        "y",
    )
    result = answer["result"]
    assert pytest.approx([row["ss"] for row in result["anova"]], abs=5e-6) == [
        1185.425,
        2.61667,
        27.05,
        59.5,
        1274.59167,
    ]
    assert pytest.approx((result["full_components"]["part"], result["full_components"]["interaction"]), abs=1e-6) == (
        10.279825,
        -0.139912,
    )
    assert pytest.approx(tuple(result["components"].values()), abs=1e-5) == (10.25127, 0.010629, 0.0, 0.883163)
    assert "below zero" in " ".join(result["notes"])


def test_the_study_of_the_manual(ask):
    """27.86 % of total variation, four groups; the tolerance of a column without a unit is taken as µm and told."""
    line = (
        "capability",
        "study",
        DATA / "grr_crossed_10x3x3.csv",
        "--part",
        "part",
        "--operator",
        "operator",
        "--value",
        "y",
        "--tolerance-um",
        "4",
    )
    _, answer = ask(*line)
    assert (pytest.approx(answer["result"]["grr_percent_total_variation"], abs=5e-3), answer["result"]["ndc"]) == (
        27.86,
        4,
    )
    assert answer["warnings"][0]["code"] == "study.unit_assumed"
    _, ranges = ask(*line, "--method", "ranges")
    assert pytest.approx(ranges["result"]["grr_percent_total_variation"], abs=5e-3) == 26.68


def test_the_nested_study(ask):
    """312.557, 225.383, 120.893; 47.44, 34.21, 18.35 %."""
    _, answer = ask(
        "capability",
        "nested",
        DATA / "nist_furnace_oxide_thickness.csv",
        "--levels",
        "run,zone",
        "--value",
        "thickness_A",
    )
    assert pytest.approx(answer["result"]["components"], abs=5e-4) == {
        "run": 312.557,
        "zone": 225.383,
        "residual": 120.893,
    }
    assert pytest.approx(list(answer["result"]["percent_of_variance"].values()), abs=5e-3) == [47.44, 34.21, 18.35]


def test_the_ewma_of_the_handbook(ask, series):
    """Points, limits, no signal, and the run length of its settings."""
    _, answer = ask(
        "chart",
        series("nist_ewma"),
        "--value",
        "v",
        "--kind",
        "ewma",
        "--lambda",
        "0.3",
        "--target",
        "50",
        "--sigma",
        "2.0539",
    )
    result = answer["result"]
    assert pytest.approx((result["points"][0], result["points"][-1]), abs=5e-3) == (50.0, 51.99)
    assert pytest.approx((result["limits"]["lower"], result["limits"]["upper"]), abs=2e-4) == (47.4115, 52.5884)
    assert result["signals"] == []
    assert pytest.approx(result["arl_in_control"], abs=0.1) == 465.6


def test_the_cusum_of_the_handbook(ask, series):
    """Signals from reading 14 on, told in words; the lower sums stand beside."""
    _, answer = ask(
        "chart",
        series("nist_cusum"),
        "--value",
        "v",
        "--kind",
        "cusum",
        "--target",
        "325",
        "--sigma",
        "1",
        "--reference",
        "0.3175",
        "--decision",
        "4.1959",
        "--shift",
        "1",
    )
    result = answer["result"]
    assert tuple(result["signals"][0][key] for key in ("index", "row", "rule")) == (13, 15, "sum_above")
    assert pytest.approx(result["companion"]["points"][7], abs=8e-3) == 0.72
    assert result["arl_at_shift"] < result["arl_in_control"]


@pytest.mark.parametrize(
    ("arguments", "index"),
    [
        (("nist_counts_chart.csv", "--value", "defects", "--kind", "count"), [23]),
        (
            (
                "nist_proportions_chart.csv",
                "--value",
                "fraction",
                "--kind",
                "share",
                "--fractions",
                "--sample-size",
                "50",
            ),
            [14, 22],
        ),
        (
            (
                "ryan_t2_hotelling_subgroups.csv",
                "--value",
                "y1,y2",
                "--kind",
                "joint",
                "--subgroup",
                "subgroup",
                "--false-alarm",
                "0.0054",
            ),
            [9, 19],
        ),
        (("nist_silicon_thickness_xbar.csv", "--value", "thickness", "--kind", "mean", "--subgroup", "day"), [19]),
    ],
)
def test_other_charts(ask, arguments, index):
    """Points outside, each with its row and its meaning."""
    _, answer = ask("chart", DATA / arguments[0], *arguments[1:])
    assert index == [signal["index"] for signal in answer["result"]["signals"]]
    assert answer["result"]["arl_in_control"] > 100


def test_rules_and_autocorrelation_are_told(ask):
    """A beam that swings: a warning; all rules: no run length, and why."""
    _, answer = ask(
        "chart", DATA / "nist_lew_beam_deflection.csv", "--value", "deflection", "--rules", "all", "--setup", "robust"
    )
    assert answer["warnings"][0]["code"] == "chart.autocorrelated"
    assert answer["result"]["arl_in_control"] is None
    assert any("six_rising" in note for note in answer["result"]["notes"])
    assert answer["result"]["setup"]["handling"] == "robust"


def test_the_end_gauge_of_the_guide(ask, tmp_path):
    """31.664 nm, 16.75 degrees, 2.92, 92.48 nm; second order 33.8; draws of the same budget; a drawing."""
    _, answer = ask("uncertainty", DATA / "jcgm100_h1.toml", "--drawing", tmp_path / "h1.svg")
    result = answer["result"]
    assert pytest.approx(
        tuple(
            result[key] for key in ("standard_uncertainty", "effective_df", "coverage_factor", "expanded_uncertainty")
        ),
        abs=5e-3,
    ) == (31.664, 16.752, 2.921, 92.48)
    assert pytest.approx(result["second_order"]["standard_uncertainty"], abs=5e-3) == 33.806
    assert pytest.approx(sum(line["percent_of_variance"] for line in result["contributions"])) == 100.0
    assert result["monte_carlo"]["settled"]
    assert "<svg" in (tmp_path / "h1.svg").read_text(encoding="utf-8")


def test_the_gauge_block_by_draws(ask):
    """JCGM 101, 9.5: 36 nm, shortest 99 % interval 745 to 932 nm."""
    _, answer = ask("uncertainty", DATA / "jcgm101_9_5.toml", "--trials", "400000")
    drawn = answer["result"]["monte_carlo"]
    assert round(drawn["standard_uncertainty"]) == 36
    assert pytest.approx([end - 5e7 for end in drawn["shortest"]], abs=1.5) == [745, 932]
    assert drawn["settled"] is None


def test_correlated_readings(ask):
    """H.2: 127.732 ohm, u 0.071; no second order with correlation."""
    _, answer = ask("uncertainty", DATA / "jcgm100_h2.toml")
    assert pytest.approx((answer["result"]["value"], answer["result"]["standard_uncertainty"]), abs=5e-4) == (
        127.732,
        0.071,
    )
    assert answer["result"]["second_order"] is None
    assert pytest.approx(answer["result"]["correlation"][0][1], abs=5e-3) == -0.36


@pytest.mark.parametrize(
    ("arguments", "status", "code"),
    [
        (("capability", "study", "none.csv", "--part", "p", "--operator", "o", "--value", "v"), 2, "file.format"),
        (
            ("capability", "nested", DATA / "nist_counts_chart.csv", "--levels", "wafer,wafer", "--value", "defects"),
            2,
            "input.faults",
        ),
        (("capability", "process", DATA / "nist_counts_chart.csv", "--value", "defects"), 2, "value.out_of_range"),
        (("chart", DATA / "nist_counts_chart.csv", "--value", "defects", "--kind", "mean"), 2, "input.faults"),
        (("chart", DATA / "nist_counts_chart.csv", "--value", "defects", "--rules", "seven"), 2, "command.line"),
        (
            ("chart", DATA / "nist_counts_chart.csv", "--value", "defects", "--kind", "ewma", "--lambda", "2"),
            2,
            "value.out_of_range",
        ),
        (("uncertainty", "none.toml"), 2, "file.format"),
        (
            (
                "capability",
                "compare",
                DATA / "nist_counts_chart.csv",
                "--first",
                "wafer",
                "--second",
                "defects",
                "--first-uncertainty",
                "1",
            ),
            2,
            "command.line",
        ),
    ],
)
def test_wrong_questions(ask, arguments, status, code):
    """One shape for every refusal."""
    found, answer = ask(*arguments)
    assert (status, False, code) == (found, answer["ok"], answer["code"])


def test_every_answer_has_a_form_for_people(capsys):
    """Tables instead of JSON; infinite degrees of freedom are no trouble."""
    for line in (
        (
            "capability",
            "study",
            DATA / "grr_crossed_10x3x3.csv",
            "--part",
            "part",
            "--operator",
            "operator",
            "--value",
            "y",
        ),
        ("capability", "nested", DATA / "nist_strd_sirstv.csv", "--levels", "instrument", "--value", "resistance"),
        ("capability", "process", DATA / "nist_counts_chart.csv", "--value", "defects", "--upper", "30"),
        ("capability", "plan", "--parts", "2", "--operators", "a,b"),
        ("capability", "repeats", "--noise-um", "0.1", "--sites", "5", "--ttv-limit-um", "1"),
        ("chart", DATA / "nist_counts_chart.csv", "--value", "defects", "--kind", "count"),
        ("uncertainty", DATA / "jcgm101_9_3.toml"),
    ):
        assert exit_status([str(word) for word in line]) == 0
        assert capsys.readouterr().out.strip()


def test_uncertainty_loads_nothing_heavy():
    """No Django, no scipy."""
    code = f"import sys; from lapwright.cli.main import exit_status; exit_status(['uncertainty', {str(DATA / 'jcgm100_h1.toml')!r}, '--trials', '10000', '--json']); sys.exit(bool({{'django', 'scipy', 'typst', 'ortools'}} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, check=False).returncode == 0


def test_capability_of_six_wafers_says_how_little_that_is(ask, tmp_path):
    """Cpk 1.77 of six: 1.77 ± 1.96 √(1/(9·6) + 1.77²/(2·5)) is 0.6 to 2.9 (usual large-sample form, from memory)."""
    (tmp_path / "six.csv").write_text("t_um\n99.4\n100.3\n100.1\n100.2\n100.4\n100.2\n", encoding="utf-8")
    _, answer = ask("capability", "process", tmp_path / "six.csv", "--value", "t_um", "--lower", 98, "--upper", 102)
    result = answer["result"]
    assert result["cpk_interval"] == pytest.approx([0.641, 2.899], abs=0.06)
    assert result["sentence"].startswith("Cpk 1.8 (0.7 to 2.9, 95 %), 6 values. It may as well lie below 1")


def test_equal_values_give_no_limits_in_silence(ask, tmp_path):
    """A note beside the chart, a sentence that helps for the capability."""
    (tmp_path / "same.csv").write_text("t\n" + "1\n" * 6, encoding="utf-8")
    _, answer = ask("chart", tmp_path / "same.csv", "--value", "t")
    assert any("alike" in note for note in answer["result"]["notes"])
    status, answer = ask("capability", "process", tmp_path / "same.csv", "--value", "t", "--lower", 0, "--upper", 2)
    assert status == 2
    assert "too coarse a gauge" in answer["error"]
