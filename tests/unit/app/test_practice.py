"""Practice: a simulated run followed by the real code, scored, and kept apart from every record.

The scores are worked by hand from the true removal that the simulator keeps; the code under test never sees it before
the end. That over-removal cannot be undone and a second run costs its mounting again is common practice, no source.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from lapwright.app import practice
from lapwright.errors import BadInput, Conflict, NotFound, RecordError
from lapwright.model.practice import PracticeTask
from lapwright.sim.practice import PLANTED, practice_run

AT = datetime(2026, 11, 26, 9, 0, tzinfo=UTC)


class Ramp:
    """A run that removes 0.1 µm/s exactly and shows it five times a second."""

    time = np.arange(0.2, 600.0, 0.2)
    length = 1e-7 * time

    def removal_at(self, time):
        """True removal."""
        return 1e-7 * time


TASK = PracticeTask(target=30e-6, rate=1e-7, tolerance=2e-6, latency=1.0, fault="none", planted_at=None, duration=600.0)


@pytest.mark.parametrize(
    ("stopped", "over", "lost", "time"),
    [
        (299.0, 0.0, 0, 299.0),  # 30 µm at 300 s, one second of latency
        (310.0, 1.1e-6, 0, 310.0),
        (330.0, 3.1e-6, 1, 330.0),
        (289.0, -1.0e-6, 0, 289.0),
        (199.0, -10.0e-6, 0, 199.0 + 900.0 + 100.0),  # 10 µm more at 0.1 µm/s, and 15 minutes before it
    ],
)
def test_the_score_is_micrometres_minutes_and_wafers(stopped, over, lost, time):
    """Worked by hand on a run of 0.1 µm/s."""
    score = practice.scored(TASK, Ramp(), stopped, "none")
    assert (score.over, score.lost, score.time) == (pytest.approx(over, abs=1e-12), lost, pytest.approx(time))
    assert score.is_found


def test_a_fault_counts_as_found_when_it_had_begun_and_was_named():
    """Named before it began is wrong; nothing said before it began is right."""
    task = replace(TASK, fault="dry", planted_at=200.0)
    said = {
        (stopped, name): practice.scored(task, Ramp(), stopped, name).is_found
        for stopped in (150.0, 250.0)
        for name in ("none", "dry", "frozen")
    }
    assert [key for key, found in said.items() if found] == [(150.0, "none"), (250.0, "dry")]


def test_the_same_seed_gives_the_same_run_and_every_fourth_has_no_fault():
    """Rounds 1, 5 and 9 are alike; the others have one of the seven faults, between a third and three quarters."""
    task, run = practice_run(7, 2)
    practice_run.cache_clear()
    again, run_again = practice_run(7, 2)
    assert task == again
    assert np.array_equal(run.length, run_again.length)
    assert [practice_run(3, number)[0].fault for number in (1, 5, 9)] == ["none"] * 3
    faults = {practice_run(seed, 2)[0].fault for seed in range(40)}
    assert faults <= set(PLANTED)
    assert len(faults) > 3


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A data folder of its own, without any database of records."""
    monkeypatch.setattr(practice, "_folder", lambda: tmp_path)
    return tmp_path


def test_the_countdown_of_a_good_run_falls_and_advises_the_stop_before_the_target(folder):  # noqa: ARG001
    """Followed as a page would, every 10 s of the run: left falls, and the stop is advised at most 2 µm early."""
    task, run = practice_run(11, 1)
    held = practice.begin_round("ada", "countdown", seed=11, at=AT)
    left, advised = [], None
    for tenth in range(1, int(task.duration / 10.0)):
        batch = practice.live_batch(held, task, run, at=AT + timedelta(seconds=tenth))
        left.append(batch.target - batch.removed)
        if batch.advice == "stop_now":
            advised = run.removal_at(batch.elapsed + task.latency)
            break
    assert left[0] > left[len(left) // 2] > left[-1]
    assert advised is not None
    assert task.target - 2e-6 < advised < task.target + 2e-6


def test_a_gauge_that_falls_silent_is_named_by_the_real_code_and_stays_named(folder):  # noqa: ARG001
    """Five seconds of the run after the last reading the code is gauge.stale; the estimate does not withdraw it."""
    seed = next(seed for seed in range(200) if practice_run(seed, 2)[0].fault == "silent")
    task, run = practice_run(seed, 2)
    practice.begin_round("ada", "countdown", seed=seed, at=AT)
    held = practice.begin_round("ada", "countdown", seed=seed, at=AT)
    after = AT + timedelta(seconds=(task.planted_at + 8.0) / practice.SPEED)
    for at in (after, after + timedelta(seconds=1.0)):
        batch = practice.live_batch(held, task, run, at=at)
        assert (batch.advice, batch.faults[0].code) == ("stop_fault", "gauge.stale")


def test_with_the_gauge_alone_nothing_is_told_but_its_readings(folder):  # noqa: ARG001
    """No estimate, no advice; the points are those after the last one asked for."""
    task, run = practice_run(5, 1)
    held = practice.begin_round("ada", "gauge", seed=5, at=AT)
    batch = practice.live_batch(held, task, run, at=AT + timedelta(seconds=3.0), since=20.0)
    assert (batch.removed, batch.rate, batch.advice, batch.faults) == (None, None, "", ())
    assert 20.0 < batch.points[0][0] < batch.points[-1][0] <= 30.0


def test_a_round_is_kept_once_in_a_file_of_its_own(folder):
    """The first stop and the first answer count; numbers go by person and view; the list is the latest first."""
    first = practice.begin_round("ada", "countdown", seed=1, at=AT)
    task, run = practice_run(1, 1)
    with pytest.raises(Conflict, match="still runs"):
        practice.answer_round(first, task, run, "none", person="ada")
    stopped = practice.stop_round(first, task, person="ada", at=AT + timedelta(seconds=10.0))
    later = practice.stop_round(first, task, person="ada", at=AT + timedelta(seconds=12.0))
    assert stopped.stopped_after == later.stopped_after == pytest.approx(100.0)
    with pytest.raises(BadInput, match="expected one of"):
        practice.answer_round(stopped, task, run, "bored", person="ada")
    scored = practice.answer_round(stopped, task, run, "none", person="ada")
    assert practice.answer_round(stopped, task, run, "dry", person="ada") == scored
    practice.begin_round("ada", "gauge", seed=2, at=AT)
    practice.begin_round("ada", "countdown", seed=3, at=AT)
    practice.begin_round("ben", "countdown", seed=4, at=AT)
    assert [(one.view, one.number) for one in practice.rounds_of("ada")] == [
        ("countdown", 2), ("gauge", 1), ("countdown", 1),
    ]  # fmt: skip
    assert [path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()] == [
        "practice/practice.sqlite3"
    ]


def test_what_is_no_round_is_refused(folder):
    """An unknown view, round and person; a clock set back; a file that is no database."""
    with pytest.raises(BadInput, match="countdown or gauge"):
        practice.begin_round("ada", "radio", seed=1, at=AT)
    with pytest.raises(NotFound):
        practice.show_round(99)
    held = practice.begin_round("ada", "countdown", seed=1, at=AT)
    task, run = practice_run(1, 1)
    assert practice.live_batch(held, task, run, at=AT - timedelta(hours=1)).elapsed == 0.0
    with pytest.raises(Conflict, match="one of ada"):
        practice.stop_round(held, task, person="ben", at=AT)
    (folder / "practice" / "practice.sqlite3").write_bytes(b"no database at all" * 100)
    with pytest.raises(RecordError, match="no record is in it"):
        practice.show_round(1)


def test_the_first_and_the_fifth_are_held_against_each_other(folder):  # noqa: ARG001
    """Five rounds, scored as they were stopped."""
    for number in range(1, 6):
        held = practice.begin_round("ada", "countdown", seed=number, at=AT)
        task, run = practice_run(number, number)
        stopped = practice.stop_round(held, task, person="ada", at=AT + timedelta(seconds=20.0))
        practice.answer_round(stopped, task, run, "none", person="ada")
        first, fifth = practice.compared(practice.rounds_of("ada"), "countdown")
        assert (first is not None, fifth is not None) == (True, number == 5)
    assert (first.number, fifth.number) == (1, 5)
