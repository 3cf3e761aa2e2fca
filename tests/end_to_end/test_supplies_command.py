"""`lapwright supplies`: a lot recorded, taken of, counted; what cannot be is refused in a sentence."""

import json

import pytest

from lapwright.cli.main import exit_status


@pytest.fixture
def told(records, capsys):
    """The JSON that a command gives on the records of the tests."""

    def ask(*words, status=0):
        found = exit_status(["supplies", *words, "--data", str(records.data), "--json"])
        answer = json.loads(capsys.readouterr().out)
        assert found == status, answer
        return answer["result"] if status == 0 else answer

    return ask


def test_a_lot_is_recorded_taken_of_and_counted(told):
    """5 l less 250 ml by hand, then 3 l by count."""
    made = told("lot", "S-9", "slurry", "al2o3-15", "5", "--feed-ml-per-min", "3", "--lead-days", "10")
    assert (made["amount"], made["unit"], made["may_be_used"]) == (5.0, "l", "yes")
    assert made["feed_ml_per_min"] == pytest.approx(3.0)
    assert told("take", "S-9", "used", "250", "--unit", "ml")["left"] == pytest.approx(4.75)
    assert told("take", "S-9", "counted", "3")["left"] == pytest.approx(3.0)
    listed = told("list")
    assert [one["lot"] for one in listed["lots"]] == ["S-9"]
    assert listed["items"][0]["left"] == pytest.approx(3.0)


def test_what_cannot_be_is_refused(told):
    """Another measure, an unknown lot, good until before it came."""
    told("lot", "W-9", "adhesive", "mounting-wax", "500", "--unit", "g")
    assert "measured by mass" in told("take", "W-9", "used", "1", status=2)["error"]
    assert told("show", "nothing", status=2)["code"] == "record.not_found"
    early = ("--received", "2026-05-01", "--expires", "2026-04-01")
    assert "before it came" in told("lot", "W-8", "adhesive", "mounting-wax", "1", *early, status=2)["error"]
