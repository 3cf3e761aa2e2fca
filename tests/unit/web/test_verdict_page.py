"""Verdict: may it go? Never yes while an interval crosses a limit, and what would make sure is computed.

The rules are those of JCGM 106:2012, 8.2 and 8.3; that more repeats bring down scatter alone is JCGM 100:2008, 4.2.3.
"""

import html
import re
from dataclasses import replace

import pytest

from lapwright.app import gauges, standing, verdicts
from lapwright.model.order import DecisionRule, Limit
from lapwright.model.readings import Calibration, Gauge, Signature
from lapwright.model.request import FindingRequest
from lapwright.process.decisions import judge
from lapwright.testing.lot import ORDER, flat

ROUGHNESS = FindingRequest(
    wafer_id="AP-1-01", quantity="roughness_ra", text="0.6 nm", method="profiler", expanded_uncertainty=1e-10
)


def on_record(lot, values, *, rule=ORDER.rule, uncertainties=(0.2e-6, 0.1e-6, 0.05e-9), outcome_of=judge):
    """Verdicts on the lot's wafer as they would be recorded, without the sets behind them."""
    from lapwright.records import writer

    found = [
        (outcome_of(limit, value, uncertainty, rule=rule), None, None)
        for limit, value, uncertainty in zip(ORDER.limits, values, uncertainties, strict=True)
    ]
    writer.add_verdicts("AP-1-01", found, Signature(**lot.why()))
    writer.move_wafer("AP-1-01", "judged", Signature(**lot.why()))


def page_of(client, address="/orders/AP-1/verdict"):
    """The page as text."""
    answer = client.get(address)
    assert answer.status_code == 200
    return html.unescape(re.sub(r"\s+", " ", answer.content.decode()))


def test_a_wafer_inside_all_limits_with_all_its_intervals_may_go(client, lot):
    """100.0 ± 0.4 within 98 to 102 µm, 1.2 ± 0.2 below 2 µm, 0.5 ± 0.1 below 1 nm."""
    on_record(lot, (100e-6, 1.2e-6, 0.5e-9))
    said = page_of(client)
    assert "may go" in said
    assert "How to be sure" not in said


@pytest.mark.parametrize("rule", [DecisionRule(kind="simple"), DecisionRule(false_accept=0.3)])
def test_what_only_the_rule_accepts_is_never_called_good(client, lot, rule):
    """TTV 1.9 ± 0.2 below 2: the value alone, or a chance of 30 %, accepts it, and the interval crosses."""
    on_record(lot, (100e-6, 1.9e-6, 0.5e-9), rule=rule)
    said = page_of(client)
    assert "accepted by the rule, not proved" in said
    assert "may go<" not in said
    assert "reaches beyond the limit" in said


def test_a_wafer_outside_may_not_go_whatever_its_other_limits(client, lot):
    """TTV 3 ± 0.2 above 2."""
    on_record(lot, (100e-6, 3e-6, 0.5e-9))
    assert "may not go" in page_of(client)


def test_a_finding_near_its_limit_is_told_how_sure_it_must_be(client, lot):
    """Ra 0.9 nm with u = 0.06 nm: decided once u is below (1 - 0.9)/2.0537 nm, U = 1.96 u = 0.095 nm."""
    on_record(lot, (100e-6, 1.2e-6, 0.9e-9), uncertainties=(0.2e-6, 0.1e-6, 0.06e-9))
    said = page_of(client)
    assert "cannot be told yet" in said
    assert "± 0.10 nm; it has ± 0.12 nm" in said.replace("\u00a0", " ")


def off_its_carrier(lot):
    """The wafer where its final readings are due, without the job before them."""
    from lapwright.records import writer

    writer.move_wafer("AP-1-01", "debonded", Signature(**lot.why()))


@pytest.fixture
def doubtful(lot):
    """The wafer judged, 0.25 µm inside the upper limit of thickness; a second, finer gauge stands on the shelf."""
    fine = Gauge(gauge_id="G2", name="fine", limit=0.05e-6, resolution=1e-9, local=1e-8, repeatability=5e-8)
    gauges.register_gauge(fine, **lot.why())
    day = lot.now.date()
    gauges.record_calibration(
        Calibration(
            gauge_id="G2", certificate="K-2", done=day, due=day.replace(year=2099), deviation=0.0,
            expanded_uncertainty=1e-8,
        ),
        **lot.why(),
    )  # fmt: skip
    off_its_carrier(lot)
    lot.read("AP-1-01", "wafer", "final", flat(101.75e-6))
    verdicts.record_finding(ROUGHNESS, **lot.why())
    verdicts.judge_wafer("AP-1-01", **lot.why())
    return lot


def test_the_way_to_be_sure_is_computed_and_does_decide(client, doubtful):
    """± 0.5 µm of the gauge never decides 0.25 µm; the fine one does, and judging by its uncertainty says the same."""
    found = standing.order_standing("AP-1", ORDER, on=doubtful.now.date())[0]
    thickness = next(one for one in found.limits if one.limit.quantity == "thickness")
    assert thickness.standing == "doubtful"
    assert thickness.stays == "accuracy limit of the gauge"
    assert [way.gauge_id for way in thickness.ways] == ["G2"]
    way = thickness.ways[0]
    value = thickness.recorded.verdict.value
    assert judge(thickness.limit, value, way.expanded_uncertainty / 1.96, rule=ORDER.rule).outcome == "conforms"
    assert way.readings == 9 * way.repeats
    assert way.time == pytest.approx(60.0 * way.readings)  # the lot writes a reading a minute
    said = page_of(client)
    assert "Read it anew on G2 with 1 reading a site (9 readings, about 9 min)" in said


def test_a_wafer_read_again_since_is_to_be_judged_anew(client, doubtful):
    """A new final set after the verdict: the old verdict is not the answer any more."""
    doubtful.read("AP-1-01", "wafer", "final", flat(101.0e-6))
    said = page_of(client)
    assert "read again since: judge it anew" in said
    assert "/wafers/AP-1-01/do/judge" in said


def test_before_anything_is_read_free_the_page_says_so(client, lot):  # noqa: ARG001
    """No wafer, no verdict; a wafer of another order is not found."""
    assert "No wafer is read free yet" in page_of(client)
    assert client.get("/orders/AP-1/verdict?wafer=nobody").status_code == 404


def test_crossing_is_of_either_side():
    """An interval that reaches either limit crosses it; one that touches neither does not."""
    limit = Limit(quantity="thickness", lower=98e-6, upper=102e-6)
    assert not standing.is_crossed(limit, 100e-6, 1.9e-6)
    assert standing.is_crossed(limit, 99e-6, 1.1e-6)
    assert standing.is_crossed(limit, 101e-6, 1.1e-6)
    assert standing.is_crossed(replace(limit, lower=None), 103e-6, 0.1e-6)
