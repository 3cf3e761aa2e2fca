"""Scheduling: the rules of the shop, one at a time, on shops small enough to work out by hand."""

from dataclasses import replace

import numpy as np
import pytest

from lapwright.errors import BadInput, CannotAnswer
from lapwright.model.queue import Booking, Changeovers, Closure, Fix, Hold, Job, Kit, Place, Setting, Shift, Shop, Task
from lapwright.process import queue_solver
from lapwright.process.queue import keeps, schedule
from lapwright.process.queue_bounds import least_changeovers, least_lateness, least_makespan
from lapwright.process.queue_check import schedule_faults
from lapwright.process.queue_measures import Effort, completions, measures
from lapwright.process.queue_playing import played
from lapwright.process.queue_promise import promises, simulated_ends
from lapwright.process.queue_rules import Weighing, dispatch
from lapwright.process.queue_setup import changeover
from lapwright.process.queue_words import waits_of

MINUTE, HOUR = 60.0, 3600.0
LITTLE = Effort(work=2.0)
COARSE = Setting(plate="cast-iron", abrasive="al2o3-15", grain=15e-6, material="LiTaO3")
FINE = Setting(plate="cast-iron", abrasive="al2o3-5", grain=5e-6, material="LiTaO3")
TABLE = Changeovers(plate_change=20 * MINUTE, wash=10 * MINUTE, cleaning=30 * MINUTE, templates=5 * MINUTE)


def task(name, *, job="A", places=("L1",), minutes=60.0, **more):
    """A task of so many minutes."""
    return Task(task_id=name, job_id=job, name=name, places=places, duration=minutes * MINUTE, **more)


LAP = (Place(place_id="L1"),)


def shop(*tasks, places=LAP, due=None, **more):
    """A shop with the jobs that its tasks name."""
    names = dict.fromkeys(one.job_id for one in tasks)
    jobs = tuple(Job(job_id=name, due=(due or {}).get(name)) for name in names)
    return Shop(places=places, jobs=jobs, tasks=tasks, changeovers=TABLE, **more)


def solved(what, **more):
    """The schedule by task, in minutes: (place, begin, start, end)."""
    found = schedule(what, effort=LITTLE, **more)
    assert schedule_faults(what, found.bookings) == ()
    return found, {
        one.task_id: (one.place_id, one.begin / MINUTE, one.start / MINUTE, one.end / MINUTE) for one in found.bookings
    }


@pytest.mark.parametrize(
    ("before", "after", "minutes", "words"),
    [
        (COARSE, COARSE, 0.0, ""),
        (COARSE, FINE, 30.0, "thorough cleaning"),
        (FINE, COARSE, 10.0, "wash"),
        (COARSE, replace(COARSE, material="GaAs"), 30.0, "thorough cleaning"),
        (COARSE, replace(FINE, plate="glass", size=0.05), 50.0, "plate change, thorough cleaning"),
        (replace(FINE, size=0.05), replace(FINE, size=0.1), 5.0, "other templates"),
        (Setting(), FINE, 0.0, ""),
    ],
)
def test_what_is_done_between_two_loads(before, after, minutes, words):
    """A finer grain or another material asks for a thorough cleaning, a coarser one for a wash."""
    assert changeover(before, after, TABLE) == (minutes * MINUTE, words)


def test_nothing_finer_follows_uncleaned():
    """Two tasks on one place, coarse and fine: 60 + 30 min of cleaning + 60 one way, 60 + 10 + 60 the other."""
    what = shop(task("c", setting=COARSE), task("f", job="B", setting=FINE))
    found, times = solved(what, aims=("makespan",))
    assert times["c"] == ("L1", 60.0, 70.0, 130.0)
    assert found.value("makespan") == 130.0 * MINUTE
    dirty = [
        Booking(task_id="c", place_id="L1", begin=0.0, start=0.0, end=HOUR),
        Booking(task_id="f", place_id="L1", begin=HOUR, start=HOUR, end=2 * HOUR),
    ]
    assert any("not clean" in fault for fault in schedule_faults(what, dirty))


def test_pieces_of_one_setting_share_a_load():
    """Four tasks of one setting and one of another on two positions: 60 + 60, cleaned, 60."""
    tasks = [task(f"c{number}", job=f"J{number}", setting=COARSE) for number in range(4)]
    what = shop(*tasks, task("f", job="F", setting=FINE), places=(Place(place_id="L1", positions=2, setting=COARSE),))
    found, times = solved(what, aims=("makespan",))
    assert len({times[f"c{number}"][2] for number in range(4)}) == 2
    assert found.value("makespan") == 210.0 * MINUTE
    assert [one.gap for one in found.reached] == [0.0]


def test_a_load_lasts_as_long_as_its_longest_piece():
    """60 and 90 min in one load: both end after 90."""
    what = shop(task("a"), task("b", job="B", minutes=90.0), places=(Place(place_id="L1", positions=2),))
    _, times = solved(what)
    assert times["a"][2:] == times["b"][2:] == (0.0, 90.0)


def test_people_begin_and_stations_run_on():
    """Shifts of two hours: 10 min of hands for 3 h; the second begins the next morning, though the first runs on."""
    shifts = (Shift(start=0.0, end=2 * HOUR), Shift(start=24 * HOUR, end=26 * HOUR))
    what = shop(
        task("a", minutes=180.0, hands=10 * MINUTE), task("b", job="B", minutes=60.0, hands=10 * MINUTE), shifts=shifts
    )
    _, times = solved(what, aims=("makespan",))
    assert sorted((times["a"][2], times["b"][2])) == [0.0, 60.0]
    assert times["a"][2:] == (60.0, 240.0)


def test_one_person_loads_one_place_at_a_time():
    """Two places, one person, half an hour of hands each: the second starts half an hour later; with two, at once."""
    tasks = (task("a", hands=30 * MINUTE), task("b", job="B", places=("L2",), hands=30 * MINUTE))
    places = (Place(place_id="L1"), Place(place_id="L2"))
    for people, expected in ((1, [0.0, 30.0]), (2, [0.0, 0.0])):
        what = shop(*tasks, places=places, shifts=(Shift(start=0.0, end=8 * HOUR, people=people),))
        _, times = solved(what)
        assert sorted(one[2] for one in times.values()) == expected


def test_what_must_be_watched_ends_within_hours():
    """90 min that somebody must be near do not begin an hour before the end."""
    shifts = (Shift(start=0.0, end=2 * HOUR), Shift(start=24 * HOUR, end=30 * HOUR))
    what = shop(task("a", minutes=60.0), task("b", minutes=90.0, in_hours=True, after=("a",)), shifts=shifts)
    _, times = solved(what)
    assert times["b"][2:] == (24 * 60.0, 24 * 60.0 + 90.0)


def test_rest_passes_before_the_next_stage():
    """A bond cools for 45 min before it is lapped, and nothing is bound by it."""
    what = shop(
        task("bond", places=("B1",), minutes=30.0, rest=45 * MINUTE),
        task("lap", after=("bond",)),
        places=(Place(place_id="B1", kind="bond"), Place(place_id="L1")),
    )
    _, times = solved(what)
    assert times["lap"][2] == 75.0


def test_nothing_is_planned_into_a_breakdown():
    """A place closed from 30 to 90 min: an hour of work waits until it is open."""
    closed = (Closure(start=30 * MINUTE, end=90 * MINUTE, reason="belt"),)
    what = shop(task("a"), places=(Place(place_id="L1", closed=closed),))
    _, times = solved(what)
    assert times["a"][2] == 90.0


def test_lateness_comes_first_and_is_told_by_priority():
    """Two hours of work, both due after one: the job that weighs three times as much is on time."""
    what = shop(task("a"), task("b", job="B"), due={"A": HOUR, "B": HOUR})
    what = replace(what, jobs=(what.jobs[0], replace(what.jobs[1], priority=3)))
    found, times = solved(what)
    assert times["b"][2] == 0.0
    assert found.value("lateness") == HOUR
    assert all(one.gap == 0.0 for one in found.reached)


def test_changeovers_come_second():
    """c, f, c of three jobs without dates: both coarse ones together, one changeover."""
    what = shop(
        task("c1", setting=COARSE), task("f", job="B", setting=FINE), task("c2", job="C", setting=COARSE),
        places=(Place(place_id="L1", setting=FINE),),
    )  # fmt: skip
    found, times = solved(what)
    assert found.value("changeovers") == 1.0
    assert times["f"][2] == 0.0


def test_what_runs_stays_where_it_is_and_what_is_fixed_too():
    """A running task ends when it ends; a fixed one starts no earlier than it was set to."""
    what = shop(
        task("r", minutes=20.0, running=True), task("a", job="B", minutes=30.0), task("b", job="C", minutes=30.0),
        fixes=(Fix(task_id="a", place_id="L1", start=60 * MINUTE),),
    )  # fmt: skip
    _, times = solved(what)
    assert times == {"r": ("L1", 0.0, 0.0, 20.0), "b": ("L1", 20.0, 20.0, 50.0), "a": ("L1", 60.0, 60.0, 90.0)}


def test_a_new_schedule_moves_as_little_as_it_can():
    """An order in force is kept where nothing is late, though the other way round is as good."""
    what = shop(task("a"), task("b", job="B"), task("c", job="C"), due={"A": 9 * HOUR, "B": 9 * HOUR, "C": 9 * HOUR})
    for order in (("c", "b", "a"), ("b", "a", "c")):
        previous = [
            Booking(task_id=name, place_id="L1", begin=at * HOUR, start=at * HOUR, end=(at + 1) * HOUR)
            for at, name in enumerate(order)
        ]
        found, times = solved(what, previous=previous)
        assert sorted(times, key=lambda name: times[name][2]) == list(order)
        assert found.value("moves") == 0.0


def test_the_schedule_in_force_is_moved_along():
    """Its order stays when a run takes longer and a new job comes: the new one is put behind."""
    previous = [
        Booking(task_id=name, place_id="L1", begin=at * HOUR, start=at * HOUR, end=(at + 1) * HOUR)
        for at, name in enumerate(("a", "b"))
    ]
    now = shop(task("a", minutes=90.0, running=True), task("b", job="B"), task("new", job="N", minutes=10.0))
    kept = keeps(now, previous)
    assert [(one.task_id, one.start / MINUTE) for one in kept] == [("a", 0.0), ("b", 90.0), ("new", 150.0)]
    assert schedule_faults(now, kept) == ()


def test_the_same_question_has_the_same_answer():
    """Twice the same shop: the same schedule to the second, whatever was asked between."""
    rng = np.random.default_rng(7)
    tasks = [
        task(f"{job}{step}", job=job, places=(("L1", "L2"), ("P1",))[step], minutes=float(rng.integers(20, 90)),
             setting=(COARSE, FINE)[int(rng.integers(2))], after=(f"{job}0",) if step else ())
        for job in "ABCDEF" for step in range(2)
    ]  # fmt: skip
    what = shop(*tasks, places=tuple(Place(place_id=name) for name in ("L1", "L2", "P1")), due={"A": HOUR, "B": HOUR})
    first = schedule(what, effort=Effort(work=0.3))
    assert schedule(what, effort=Effort(work=0.3)) == first


def test_the_bounds_hold_by_hand():
    """Three hours of work on two places, the shortest way before and after; a job that is late even alone."""
    what = shop(
        *(task(f"t{number}", job=f"J{number}", places=("L1", "L2")) for number in range(3)),
        places=(Place(place_id="L1"), Place(place_id="L2")), due={"J0": 30 * MINUTE},
    )  # fmt: skip
    assert least_makespan(what) == pytest.approx(90 * MINUTE, abs=0.01)
    assert least_lateness(what) == 30 * MINUTE
    two = shop(task("c", setting=COARSE), task("f", setting=FINE), places=(Place(place_id="L1", setting=COARSE),))
    assert least_changeovers(two) == 1


def test_every_fault_of_a_shop_is_told_at_once():
    """An unknown place, an unknown task before, an unknown job, a load too large."""
    what = Shop(
        places=(Place(place_id="L1"),), jobs=(), tasks=(task("a", places=("L9",), after=("b",), pieces=("1", "2")),)
    )
    with pytest.raises(BadInput) as told:
        schedule(what)
    assert len(told.value.faults) == 3


def test_a_ring_of_tasks_and_hours_too_short_are_told():
    """Neither can be scheduled; the sentence says why."""
    with pytest.raises(BadInput, match="in a ring"):
        schedule(shop(task("a", after=("b",)), task("b", after=("a",))))
    with pytest.raises(CannotAnswer, match="No shift is long enough"):
        schedule(shop(task("a", hands=HOUR), shifts=(Shift(start=0.0, end=1800.0),)))


def test_without_the_solver_the_sentence_says_what_to_install(monkeypatch):
    """The library is an extra."""
    monkeypatch.setitem(__import__("sys").modules, "ortools.sat.python", None)
    with pytest.raises(CannotAnswer, match=r"lapwright\[plan\]"):
        queue_solver.solver_library()


def test_lateness_is_explained_by_what_it_waits_for():
    """B waits an hour for a, then half an hour of cleaning."""
    what = shop(task("a", setting=COARSE), task("b", job="B", setting=FINE), due={"B": HOUR})
    bookings = [
        Booking(task_id="a", place_id="L1", begin=0.0, start=0.0, end=HOUR),
        Booking(task_id="b", place_id="L1", begin=HOUR, start=1.5 * HOUR, end=2.5 * HOUR, why="thorough cleaning"),
    ]
    waits = waits_of(what, bookings, "B")
    assert [(one.cause, one.length / MINUTE, one.other, one.why) for one in waits] == [
        ("busy", 60.0, "a", ""), ("changeover", 30.0, "", "thorough cleaning"),
    ]  # fmt: skip


def test_nights_are_told_as_hours():
    """What comes too late for a shift waits for the next one."""
    shifts = (Shift(start=0.0, end=HOUR), Shift(start=10 * HOUR, end=12 * HOUR))
    what = shop(task("a", minutes=50.0, hands=50 * MINUTE), task("b", hands=HOUR, after=("a",)), shifts=shifts)
    waits = waits_of(what, schedule(what, effort=LITTLE).bookings, "A")
    assert [(one.cause, one.length / MINUTE) for one in waits] == [("hours", 550.0)]


def test_played_without_spread_the_schedule_comes_out_as_planned():
    """Every end of the played schedule is that of the plan."""
    shifts = (Shift(start=0.0, end=3 * HOUR), Shift(start=24 * HOUR, end=30 * HOUR))
    what = shop(
        task("a", setting=COARSE, hands=600.0), task("b", job="B", setting=FINE, hands=600.0),
        task("c", job="C", setting=COARSE, hands=600.0, minutes=200.0), shifts=shifts,
    )  # fmt: skip
    bookings = dispatch(what, "due")
    ends = simulated_ends(what, bookings, draws=3, generator=np.random.default_rng(1))
    assert {one.task_id: one.end for one in bookings} == {name: end[0] for name, end in ends.items()}


def test_promises_come_from_the_spread():
    """One task of an hour, log deviation 0.2: median 60 min, 90 % at 60 exp(0.2 · 1.2816) = 77.5 min."""
    what = shop(task("a", spread=0.2), due={"A": HOUR})
    (one,) = promises(what, dispatch(what, "due"), draws=40_000, generator=np.random.default_rng(3))
    assert one.even / MINUTE == pytest.approx(60.0, rel=0.01)
    assert one.sure_90 / MINUTE == pytest.approx(77.53, rel=0.01)
    assert one.chance == pytest.approx(0.5, abs=0.0125)


def test_rules_differ_in_what_they_put_first():
    """First come, earliest due, no changeover."""
    what = shop(
        task("c1", setting=COARSE), task("f", job="B", setting=FINE), task("c2", job="C", setting=COARSE),
        places=(Place(place_id="L1", setting=COARSE),), due={"A": 9 * HOUR, "B": HOUR, "C": 8 * HOUR},
    )  # fmt: skip
    orders = {rule: [one.task_id for one in dispatch(what, rule)] for rule in ("first_come", "due", "family")}
    assert orders == {"first_come": ["c1", "f", "c2"], "due": ["f", "c2", "c1"], "family": ["c2", "c1", "f"]}
    thrifty = dispatch(what, Weighing(100.0, 0.1))
    assert measures(what, thrifty)["changeovers"] == 1.0
    assert completions(what, thrifty)["B"] == max(one.end for one in thrifty)


def mounted(count):
    """Three jobs, bonded in half an hour and lapped in one, places enough; so many carriers of one size."""
    tasks = [
        one
        for job in "ABC"
        for one in (
            task(f"{job}1", job=job, places=("B1",), minutes=30.0),
            task(f"{job}2", job=job, places=(f"L{job}",), after=(f"{job}1",)),
        )
    ]
    places = (Place(place_id="B1", positions=3), *(Place(place_id=f"L{job}") for job in "ABC"))
    return shop(
        *tasks, places=places, kits=(Kit(kit_id="c100", name="carrier of 100 mm", count=count),),
        holds=tuple(Hold(kit_id="c100", first=f"{job}1", last=f"{job}2") for job in "ABC"),
    )  # fmt: skip


@pytest.mark.parametrize(("count", "end"), [(1, 270.0), (2, 180.0), (3, 90.0)])
def test_no_more_is_mounted_than_there_are_carriers(count, end):
    """An hour and a half on a carrier each, three wafers: one after the other, two and one, or all at once."""
    what = mounted(count)
    found, _ = solved(what, aims=("makespan",))
    assert found.value("makespan") == end * MINUTE
    for rule in ("first_come", "due", Weighing(1.0, 0.3, 0.5, 1.0)):
        bookings = dispatch(what, rule)
        assert schedule_faults(what, bookings) == ()
        assert keeps(what, bookings) == bookings
        ends = simulated_ends(what, bookings, draws=2, generator=np.random.default_rng(1))
        assert {one.task_id: one.end for one in bookings} == {name: one[0] for name, one in ends.items()}
    assert schedule_faults(mounted(1), dispatch(mounted(3), "due")) != ()


def test_waiting_for_a_carrier_is_told():
    """The second wafer waits an hour and a half for the one carrier, the third as long again."""
    what = mounted(1)
    bookings = dispatch(what, "first_come")
    waits = [one for job in "ABC" for one in waits_of(what, bookings, job)]
    assert [(one.cause, one.length / MINUTE, one.why) for one in waits] == [
        ("kit", 90.0, "carrier of 100 mm"), ("kit", 180.0, "carrier of 100 mm"),
    ]  # fmt: skip


def test_carriers_in_use_now_come_back_first():
    """One of two is on a wafer that is lapped for another hour; kept in order, a taker waits for what gives it back."""
    what = mounted(1)
    what = replace(
        what,
        tasks=(replace(what.tasks[1], running=True, after=()), *what.tasks[2:]),
        holds=(replace(what.holds[0], first=""), *what.holds[1:]),
    )
    _, times = solved(what, aims=("makespan",))
    assert min(times["B1"][2], times["C1"][2]) == 60.0
    previous = [
        Booking(task_id=name, place_id="B1", begin=0.0, start=at, end=at + 1.0) for at, name in enumerate(("B1", "C1"))
    ]
    assert schedule_faults(what, keeps(what, previous)) == ()


def test_kits_that_are_not_there_or_too_few_are_told():
    """An unknown kit, more wanted than there are, more in use than there are."""
    what = mounted(1)
    holds = (
        Hold(kit_id="jig", first="A1", last="A2"), Hold(kit_id="c100", first="A1", last="A2", count=2),
        Hold(kit_id="c100", first="", last="B2", count=2),
    )  # fmt: skip
    with pytest.raises(BadInput) as told:
        schedule(replace(what, holds=holds))
    assert len(told.value.faults) == 4


@pytest.mark.parametrize(
    ("changed", "fault"),
    [
        ({"place_id": "L2"}, "cannot be done"),
        ({"end": 50 * MINUTE}, "lasts"),
        ({"begin": 10 * MINUTE, "start": 0.0}, "begins after its start"),
    ],
)
def test_the_check_finds_what_is_wrong_with_a_booking(changed, fault):
    """Each rule broken on purpose."""
    what = shop(task("a"), places=(Place(place_id="L1"), Place(place_id="L2")))
    sound = Booking(task_id="a", place_id="L1", begin=0.0, start=0.0, end=HOUR)
    assert schedule_faults(what, [sound]) == ()
    assert any(fault in one for one in schedule_faults(what, [replace(sound, **changed)]))


def test_the_check_finds_what_is_wrong_between_bookings():
    """Missing, twice, overlapping, mixed in a load, too many, too early, hands short, hours broken, moved."""
    places = (Place(place_id="L1", positions=2),)
    what = shop(
        task("a", setting=COARSE, hands=HOUR), task("b", job="B", setting=FINE, after=("a",), in_hours=True),
        places=places, shifts=(Shift(start=30 * MINUTE, end=80 * MINUTE),),
    )  # fmt: skip
    one = Booking(task_id="a", place_id="L1", begin=0.0, start=0.0, end=HOUR)
    other = replace(one, task_id="b", leads=False)
    told = " ".join(schedule_faults(what, [one, other]))
    for words in ("different abrasives", "before a and its rest", "more hands", "beyond the hours"):
        assert words in told
    assert "is missing" in schedule_faults(what, [one])[0]
    assert "is there twice" in schedule_faults(what, [one, one, other])[0]
    moved = shop(task("a", running=True), places=places)
    assert "was moved" in schedule_faults(moved, [replace(one, begin=HOUR, start=HOUR, end=2 * HOUR)])[0]


def test_odd_durations_are_placed_and_played_too():
    """Times that no tick divides, people and closures: sums that miss each other by rounding do not go round forever."""
    rng = np.random.default_rng(5)
    tasks = [
        task(f"{job}{step}", job=str(job), places=(("L1", "L2"), ("P1",))[step], minutes=float(rng.uniform(7.1, 61.3)),
             setting=(COARSE, FINE)[int(rng.integers(2))], hands=float(rng.uniform(100.0, 400.0)),
             after=(f"{job}0",) if step else (), spread=0.2)
        for job in range(30) for step in range(2)
    ]  # fmt: skip
    closed = (Closure(start=1000.0 / 3.0, end=20000.0 / 3.0), Closure(start=33333.3, end=33444.4))
    shifts = tuple(
        Shift(start=day * 24 * HOUR + 0.1, end=day * 24 * HOUR + 7 * HOUR + 0.7, people=1) for day in range(30)
    )
    places = tuple(Place(place_id=name, closed=closed) for name in ("L1", "L2", "P1"))
    what = shop(*tasks, places=places, shifts=shifts)
    for rule in ("first_come", "due", "family", Weighing(1.0, 0.3)):
        bookings = dispatch(what, rule)
        assert schedule_faults(what, bookings) == ()
    assert len(promises(what, bookings, draws=50, generator=np.random.default_rng(1))) == 30


def test_a_late_piece_keeps_nobody_from_what_is_there():
    """One person: the first of the schedule comes ten minutes late, so he begins what is there meanwhile."""
    what = shop(
        task("a", places=("L1",), minutes=60.0), task("b", places=("L2",), minutes=30.0, hands=30 * MINUTE, after=("a",)),
        task("c", job="C", places=("L3",), minutes=30.0, hands=30 * MINUTE, release=HOUR),
        places=tuple(Place(place_id=name) for name in ("L1", "L2", "L3")), shifts=(Shift(start=0.0, end=9 * HOUR),),
    )  # fmt: skip
    bookings = [
        Booking(task_id=name, place_id=place, begin=start * MINUTE, start=start * MINUTE, end=end * MINUTE)
        for name, place, start, end in (("a", "L1", 0, 60), ("b", "L2", 60, 90), ("c", "L3", 90, 120))
    ]
    lengths = {"a": [60.0, 70.0], "b": [30.0, 30.0], "c": [30.0, 30.0]}
    ends = played(what, bookings, {name: np.array(each) * MINUTE for name, each in lengths.items()})
    assert [ends[name].tolist() for name in "abc"] == [
        [60 * MINUTE, 70 * MINUTE], [90 * MINUTE, 120 * MINUTE], [120 * MINUTE, 90 * MINUTE],
    ]  # fmt: skip


def test_a_place_is_changed_over_once_the_pieces_are_off_the_one_before():
    """Planned ahead it would begin at 60 min; played, the cleaning of half an hour begins when the read ends at 60."""
    what = shop(
        task("read", places=("G1",)), task("lap", setting=FINE, after=("read",)),
        places=(Place(place_id="G1"), Place(place_id="L1", setting=COARSE)),
    )  # fmt: skip
    bookings = dispatch(what, "due")
    assert [one.start / MINUTE for one in bookings] == [0.0, 60.0]
    ends = played(what, bookings, {"read": np.array([HOUR]), "lap": np.array([HOUR])})
    assert ends["lap"][0] == 150 * MINUTE
