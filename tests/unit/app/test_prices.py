"""The price list: versions, what each changed, and the prices that routes are reckoned with."""

import json
from dataclasses import replace

import pytest

from lapwright.app import prices, route_questions
from lapwright.app.wiring import current_settings
from lapwright.cli.main import exit_status
from lapwright.errors import BadInput, Conflict
from lapwright.model.prices import PriceList

OWN = PriceList(
    currency="EUR", labour=90.0, station_hour=30.0, station_hours=(("L2", 45.0),), slurry_hours=(("alumina", 2.0),), pad=80.0,
    pad_life=72000.0, piece_price=7.5, scrap=640.0, measuring_time=900.0, cleaning_time=300.0,
)  # fmt: skip


@pytest.mark.usefixtures("lot")
def test_the_usual_prices_hold_until_others_are_recorded():
    """They are said to be usual, and a lost wafer costs what its order says."""
    assert prices.recorded_prices() is None
    held = prices.planning_prices(500.0)
    assert (held.are_own, held.wafer, held.person) == (False, 500.0, prices.price_list().labour)


def test_a_list_is_kept_in_versions_that_say_what_they_changed(lot):
    """Every field comes back as it went in; the same list again makes no version."""
    first = prices.record_prices(OWN, after=0, **lot.why("prices of 2026"))
    dearer = replace(OWN, labour=95.0, station_hours=(("L2", 50.0),), scrap=None)
    second = prices.record_prices(dearer, after=1, **lot.why("wages"))
    again = prices.record_prices(dearer, **lot.why())
    assert (first.number, second.number, again.number) == (1, 2, 2)
    assert [one.prices for one in prices.price_versions()] == [OWN, dearer]
    assert prices.price_versions()[1].signature.reason == "wages"
    assert prices.differences(OWN, dearer) == (
        "an hour of a person 90 → 95", "a lost wafer 640 → none", "station L2 45 → 50",
    )  # fmt: skip


def test_two_who_change_it_at_once_are_told(lot):
    """The second saw an older version: nothing is overwritten."""
    prices.record_prices(OWN, after=0, **lot.why())
    with pytest.raises(Conflict, match="you saw version 0, it is now 1"):
        prices.record_prices(replace(OWN, labour=1.0), after=0, **lot.why())
    assert prices.price_list().labour == 90.0


def test_all_faults_are_told_at_once(lot):
    """A price below zero, a pad that lasts no time, a station priced twice; then names that nobody knows."""
    with pytest.raises(BadInput) as refused:
        replace(OWN, labour=-1.0, pad_life=0.0, station_hours=(("L2", 1.0), ("L2", 2.0)))
    assert [fault.field for fault in refused.value.faults] == ["labour", "pad_life", "station_hours"]
    with pytest.raises(BadInput) as refused:
        prices.record_prices(replace(OWN, station_hours=(("X9", 1.0),), slurry_hours=(("sand", 1.0),)), **lot.why())
    assert [fault.field for fault in refused.value.faults] == ["station_hours", "slurry_hours"]


def test_prices_reach_the_routes(lot):
    """A route costs its hours at the prices of its stations, its minutes of a person, and what each wafer uses up."""
    before = route_questions.ask("AP-1").question
    prices.record_prices(OWN, **lot.why())
    question = route_questions.ask("AP-1").question
    assert (before.prices.are_own, question.prices.are_own) == (False, True)
    assert (question.assumptions.measuring_time, question.assumptions.cleaning_time) == (900.0, 300.0)
    assert question.prices.plates == {"cast-iron": 30.0, "glass": 45.0, "pad-polyurethane": 30.0}
    assert (question.prices.piece_price, question.prices.wafer) == (7.5, 640.0)


@pytest.mark.usefixtures("lot")
def test_the_command_changes_what_it_is_told_and_nothing_else(capsys):
    """A price by name, another taken back, the rest as it was; what cannot be read is told with its option."""

    def ask(*told):
        status = exit_status(["prices", *told, "--data", str(current_settings().data), "--json"])
        return status, json.loads(capsys.readouterr().out)

    _, before = ask("show")
    assert (before["result"]["version"], before["result"]["currency"]) == (0, None)
    _, first = ask("set", "--currency", "EUR", "--station", "L2=45", "--pad-life-h", "20", "--scrap-price", "640")
    changed = {**before["result"], "version": 1, "currency": "EUR", "pad_life_h": 20.0, "scrap_price": 640.0,
               "stations": [{"station": "L2", "per_hour": 45.0}]}  # fmt: skip
    signed = {name: first["result"][name] for name in ("by", "at", "reason")}
    assert first["result"] == changed | signed
    _, second = ask("set", "--station", "L2=", "--measuring-min", "15")
    assert (second["result"]["stations"], second["result"]["measuring_min"]) == ([], 15.0)
    _, listed = ask("versions")
    assert listed["result"]["versions"][1]["changed"] == ["a measurement 10 min → 15 min", "station L2 45 → none"]
    for wrong in (
        ["--station", "L2"],
        ["--slurry", "alumina=much"],
        ["--station", "X9=3"],
        ["--labour-per-hour", "-1"],
    ):
        status, answer = ask("set", *wrong)
        assert (status, answer["ok"]) == (2, False)
    assert len(prices.price_versions()) == 2
