"""The polish that was stopped too early or ran long enough, with numbers worked by hand.

The polish is the worked example of the ledger's own tests: 12 um of damage on LiTaO3 at 111 nm/min need 108 min, 5 um
after a fine lap 45 min, and 12 um on LiNbO3 at 300 nm/min 40 min.
"""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from lapwright.app.wafer_course import MeasuredCourse
from lapwright.app.wafer_damage import damage_view
from lapwright.model.job import RecordedRun, RecordedStage, RecordedWafer
from lapwright.model.plan import Stage
from lapwright.model.readings import Signature
from lapwright.model.story import WaferStory
from lapwright.model.wafer import Round, Wafer

NOW = datetime(2031, 3, 4, 8, tzinfo=UTC)
BY = Signature(by="A. Moss", at=NOW, reason="test")
NM_PER_MIN = 1e-9 / 60.0
NOT_READ = MeasuredCourse(incoming=None, after={})


def seen(told, course=NOT_READ, **options):
    """The view of a story that is in no database; nothing was measured after its runs unless it is given."""
    return damage_view(told, course=course, **options)


def stage(number, planned, state="done"):
    """A stage of the wafer, numbered from 1."""
    return RecordedStage(
        stage_id=number, wafer_id="W1", number=number, stage=planned, state=state, set_id=None, started=NOW, ended=NOW,
        version=1, signature=BY,
    )  # fmt: skip


def run(minutes, removed_um, stage_id=2):
    """A run of the polish between two presses; `removed_um` None where no gauge said."""
    return RecordedRun(
        run_id=1, stage_id=stage_id, wafer_id="W1", station_id="P1", plate=None, abrasive=None, jig_id=None,
        zero_id=None, load=None, pressure=None, plate_speed=None, preset=None, preset_datum=None, started=NOW,
        ended=NOW + timedelta(minutes=minutes), gauge_removal=None if removed_um is None else removed_um * 1e-6,
        gauge_removal_text=None, stop_reason="", started_by=BY, ended_by=BY, version=1,
    )  # fmt: skip


def story(*runs, damage_um, planned_nm_per_min, high_um=None, state="done"):
    """A lap that left damage, and a polish with these runs."""
    high = damage_um if high_um is None else high_um
    lap = Stage(kind="lap", name="lap", removal=100e-6, damage_left=damage_um * 1e-6, damage_left_high=high * 1e-6)
    polish = Stage(kind="polish", name="polish", removal=12e-6, rate=planned_nm_per_min * NM_PER_MIN)
    wafer = Wafer(wafer_id="W1", material="LiTaO3", outline=Round(diameter=0.1), nominal_thickness=5e-4)
    recorded = RecordedWafer(
        wafer=wafer, order_id="AP-1", lot_id="L", state="on_carrier", since=NOW, carrier_id=None, bond_id=None,
        version=1, signature=BY,
    )  # fmt: skip
    return WaferStory(
        wafer=recorded, events=(), sets=(), bonds=(), stages=(stage(1, lap), stage(2, polish, state)), zeros=(),
        runs=runs, findings=(), verdicts=(), notes=(), documents=(),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("damage", "rate", "needed", "ran", "early"),
    [(12, 111, 108, 96, 12), (5, 111, 45, 40, 5), (12, 300, 40, 41, 0)],
    ids=["LiTaO3", "fine lap", "LiNbO3"],
)
def test_the_rate_that_the_runs_showed_tells_how_early_it_stopped(damage, rate, needed, ran, early):
    """108 min needed, 96 run: 12 min early; 45 and 40: 5; 40 and 41: nothing more. The plan said twice the rate."""
    told = story(run(ran, ran * rate / 1000.0), damage_um=damage, planned_nm_per_min=2.0 * rate)
    view = seen(told, gauge_uncertainty=0.0)

    assert view.clear.time / 60.0 == pytest.approx(needed, rel=0.01)
    assert view.shortfall / 60.0 == pytest.approx(early, abs=0.2)
    assert view.chance_left == (1.0 if early else 0.0)
    assert view.polished == ("too_short" if early else "long_enough")


def test_two_runs_count_together_and_the_doubt_of_the_gauge_with_them():
    """60 and 36 min took 6.66 and 3.996 um, each to 1 um: 10.656 um, s_r = sqrt(2)/10.656 = 0.13271.

    12 um, at most 18 (97.5 %): s_d = ln(1.5)/1.95996 = 0.20687; s = 0.24578. Chance left: the normal distribution at
    ln(12/10.656)/s = 0.11878/0.24578 = 0.4833, from the table 0.6856. Needed: 108.11 min exp(2.32635 s) = 191.5 min;
    90 % between 108.11 exp(-+1.64485 s) = 72.2 and 162.0 min.
    """
    view = seen(story(run(60, 6.66), run(36, 3.996), damage_um=12, high_um=18, planned_nm_per_min=111))

    assert view.ran / 60.0 == 96.0
    assert view.rate.by_runs
    assert view.chance_left == pytest.approx(0.6856, abs=5e-4)
    assert view.clear.time / 60.0 == pytest.approx(191.5, rel=1e-3)
    assert (view.clear.low / 60.0, view.clear.high / 60.0) == pytest.approx((72.2, 162.0), rel=1e-3)
    assert view.shortfall / 60.0 == pytest.approx(95.5, abs=0.2)


@pytest.mark.parametrize("removed", [None, 1.9], ids=["no gauge", "no more than its doubt"])
def test_without_a_gauge_the_plan_tells(removed):
    """By the planned 111 nm/min: 108 min less 96."""
    view = seen(story(run(96, removed), damage_um=12, planned_nm_per_min=111))

    assert not view.rate.by_runs
    assert view.shortfall / 60.0 == pytest.approx(12.1, abs=0.1)


def test_nothing_is_claimed_of_a_polish_that_goes_on_or_left_no_run():
    """Neither early nor long enough; done without a run it says so."""
    going = seen(story(run(50, 5.55), damage_um=12, planned_nm_per_min=111, state="running"))
    silent = seen(story(damage_um=12, planned_nm_per_min=111))

    assert going.polished is None
    assert silent.polished is None
    assert "none of its runs is recorded" in silent.missing[0]
    assert math.isclose(silent.clear.time / 60.0, 108.1, rel_tol=1e-3)


def test_damage_that_is_gone_asks_for_no_more_time_however_uneven_the_rest_may_run():
    """5 um of damage and 6.66 um taken off to 0.4 um: ln(5/6.66)/0.06 = -4.8, less than 1e-5 remains.

    The plan knows its rate to a factor of three; over the whole polish that would still ask for hours.
    """
    told = story(run(60, 6.66), damage_um=5, planned_nm_per_min=111, state="running")
    uneven = replace(told.stages[1].stage, rate_low=37 * NM_PER_MIN, rate_high=333 * NM_PER_MIN)
    view = seen(replace(told, stages=(told.stages[0], replace(told.stages[1], stage=uneven))), gauge_uncertainty=4e-7)

    assert view.clear.time > 120 * 60.0
    assert view.chance_left < 1e-5
    assert view.shortfall == 0.0


def test_a_thickness_read_after_a_polish_by_the_clock_counts_before_its_gauge():
    """No gauge looks through a pad: from 112.656 to 102 um in 96 min, each difference to 0.4 um; a gauge said 3 um.

    s_r = 0.4/10.656 = 0.037538; needed 108.11 min exp(2.32635 s_r) = 117.97 min, 21.97 early; the ledger keeps
    12 - 10.656 = 1.344 um.
    """
    course = MeasuredCourse(incoming=212e-6, after={1: 112.656e-6, 2: 102e-6})
    view = seen(story(run(96, 3.0), damage_um=12, planned_nm_per_min=222), course=course)

    assert view.rate.by_runs
    assert view.clear.time / 60.0 == pytest.approx(117.97, abs=0.05)
    assert view.shortfall / 60.0 == pytest.approx(21.97, abs=0.05)
    assert view.steps[-1].line.median * 1e6 == pytest.approx(1.344, abs=1e-3)
