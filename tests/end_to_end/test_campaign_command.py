"""`lapwright campaign`: the same answer whatever the workers, and a bench's own figures that matter.

Fact of the trade: a mean of past readings lags behind a growing length, so a stop by it comes late (common practice,
no source; for a ramp by half the averaging time, 2.5 s here).
"""

import json

import pytest

from lapwright.cli.main import exit_status


def answer(capsys, *arguments):
    """The JSON a command gives."""
    assert exit_status(["campaign", *arguments, "--json"]) == 0
    return json.loads(capsys.readouterr().out)["result"]


def test_runs_give_the_same_answer_whatever_the_workers_and_go_on_where_they_stopped(capsys, tmp_path):
    """One process, two, and one that finds everything finished."""
    short = ("stop", "--runs", "60", "--rate-low-um-per-min", "8", "--target-um", "20")
    kept = str(tmp_path / "finished")
    first = answer(capsys, *short, "--workers", "1", "--resume", kept)
    assert answer(capsys, *short, "--workers", "2") == first
    assert answer(capsys, *short, "--workers", "1", "--resume", kept) == first
    assert first["fault_free"]["runs"] == 60
    assert sum(row["runs"] for row in first["faults"]) == 60
    assert len(first["faults"]) == 8
    rule, raw, mean = first["fault_free"]["rules"]
    assert [one["rule"] for one in (rule, raw, mean)] == ["rule", "raw_reading", "mean_of_5_s"]
    assert rule["over_0_5_um"] == 0
    assert mean["largest_over_um"] > rule["largest_over_um"]


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (("--noise-um", "0"), "noise is 0"),
        (("--rate-low-um-per-min", "20"), "no more than rate_high"),
        (("--foot-wear-percent", "100"), "wear is 1"),
    ],
)
def test_a_bench_that_cannot_be_is_refused(capsys, options, sentence):
    """Before anything is played."""
    assert exit_status(["campaign", "stop", *options]) == 2
    assert sentence in capsys.readouterr().err
