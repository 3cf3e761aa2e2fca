"""`lapwright campaign`: the same answer whatever the workers, and a bench's own figures that matter.

Fact of the trade: a mean of past readings lags behind a growing length, so a stop by it comes late (common practice,
no source; for a ramp by half the averaging time, 2.5 s here).
"""

import json
from dataclasses import replace

import pytest

from lapwright.cli.main import exit_status
from lapwright.formats.order_toml import order_text
from lapwright.model.order import Limit
from lapwright.testing.lot import ORDER


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


def test_an_order_is_worked_in_shops_and_the_seed_repeats_it(capsys, tmp_path):
    """Few jobs only: the sums fit, the same seed the same answer; what simulated jobs cannot judge is refused."""
    path = tmp_path / "order.toml"
    path.write_text(order_text(ORDER), encoding="utf-8")
    asked = ("route", str(path), "--shops", "2", "--jobs", "4", "--gauge-limit-um", "0.5", "--workers", "1")
    first = answer(capsys, *asked)
    assert (first["shops"], first["jobs"], len(first["by_shop"])) == (2, 8, 2)
    assert 100.0 * sum(row["kept"] for row in first["by_shop"]) / 8 == first["held_percent"]
    assert first["stated_percent"] > 50.0
    assert answer(capsys, *asked) == first
    flat = replace(ORDER, limits=(*ORDER.limits, Limit(quantity="flatness", upper=1e-6)))
    path.write_text(order_text(flat), encoding="utf-8")
    assert exit_status(["campaign", "route", str(path)]) == 2
    assert "asks for flatness" in capsys.readouterr().err
