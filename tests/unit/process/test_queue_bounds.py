"""Bounds of the queue: never above an optimum that the solver proves without being told them; laws; worked by hand."""

from dataclasses import replace

import numpy as np
import pytest

from lapwright.model.queue import Changeovers, Closure, Hold, Job, Kit, Place, Setting, Shift, Shop, Task
from lapwright.process.queue_bounds import least_makespan
from lapwright.process.queue_loads import rounded_shop
from lapwright.process.queue_work import Workload, clusters
from lapwright.testing.small_shops import proved_end, small_shop

HOUR = 3600.0
COARSE = Setting(plate="cast-iron", abrasive="al2o3-15", grain=15e-6, material="Si")
MIDDLE = Setting(plate="cast-iron", abrasive="al2o3-9", grain=9e-6, material="Si")
FINE = Setting(plate="cast-iron", abrasive="al2o3-5", grain=5e-6, material="Si")
TABLE = Changeovers(plate_change=1200.0, wash=600.0, cleaning=1800.0, templates=300.0)


@pytest.mark.parametrize("seed", range(1, 9))
def test_no_bound_is_above_a_proved_optimum(seed):
    """Shops with shared loads, changeovers, shifts, closures and carriers; six hundred more in the campaign."""
    shop = rounded_shop(small_shop(seed), 300.0)
    assert least_makespan(shop) <= proved_end(shop) + 1e-3


@pytest.mark.parametrize("seed", [21, 22])
def test_bounds_keep_the_laws(seed):
    """Times doubled double it; one more job like another never lowers it, longer shifts never raise it; order is nothing.

    Hours are doubled too.
    """
    shop = small_shop(seed)
    bound = least_makespan(shop)
    assert least_makespan(scaled(shop, 2.0)) == pytest.approx(2.0 * bound, abs=0.01)
    assert least_makespan(replace(shop, tasks=shop.tasks[::-1])) == pytest.approx(bound, abs=0.01)
    more = tuple(
        replace(one, task_id=f"+{one.task_id}", job_id="+", after=tuple(f"+{name}" for name in one.after))
        for one in shop.tasks
        if one.job_id == "0"
    )
    fuller = replace(shop, tasks=shop.tasks + more, jobs=(*shop.jobs, Job(job_id="+")))
    assert least_makespan(fuller) >= bound - 0.01
    longer = replace(shop, shifts=tuple(replace(one, end=one.end + HOUR) for one in shop.shifts))
    assert least_makespan(longer) <= bound + 0.01


def scaled(shop, by):
    """All times of a shop longer by a factor."""

    def times(one, *names):
        return replace(one, **{name: getattr(one, name) * by for name in names})

    return replace(
        shop,
        tasks=tuple(times(one, "duration", "hands", "rest", "release") for one in shop.tasks),
        shifts=tuple(times(one, "start", "end") for one in shop.shifts),
        places=tuple(
            replace(one, closed=tuple(times(each, "start", "end") for each in one.closed)) for one in shop.places
        ),
        changeovers=times(shop.changeovers, "plate_change", "wash", "cleaning", "templates"),
    )


def test_changeovers_count_once_for_each_set_that_is_entered():
    """15, 9 and 5 µm of one material: the cheapest way is 5, 9, 15 with two washes of 600 s."""
    found = clusters([COARSE, MIDDLE, FINE], TABLE)
    tasks = [_task(name, setting) for name, setting in (("a", COARSE), ("b", MIDDLE), ("c", FINE))]
    assert Workload(tasks, {"L1": 1}, TABLE).least([1.0]) == 3 * HOUR + 2 * 600.0
    assert {setting for one in found for setting in one.settings} <= {COARSE, MIDDLE, FINE}


def test_loads_hold_the_longest_together():
    """Four pieces of 4, 3, 2 and 1 h on two positions: 4 + 2 h; weighed by halves beside a place of one position: 3 h."""
    tasks = [replace(_task(str(one), COARSE), duration=one * HOUR, places=("L1", "L2")) for one in (1, 2, 3, 4)]
    alone = [replace(one, places=("L1",)) for one in tasks]
    assert Workload(alone, {"L1": 2}, TABLE).least([1.0]) == 6 * HOUR
    assert Workload(tasks, {"L1": 2, "L2": 1}, TABLE).least([0.5, 0.5]) == 3 * HOUR


def test_nights_bound_the_end():
    """Three runs of 4 h on one place, each begun in 10 min by hand, in shifts of 5 h.

    The day and the night after it take at most 5 h and what one run has left, so 12 h less 5 h less 3 h 50 min stand
    over to the morning at 24 h. The optimum is 28 h.
    """
    shifts = tuple(Shift(start=day * 24 * HOUR, end=day * 24 * HOUR + 5 * HOUR) for day in range(5))
    tasks = tuple(replace(_task(str(one), COARSE), duration=4 * HOUR, hands=600.0) for one in range(3))
    shop = Shop(places=(Place(place_id="L1"),), jobs=_jobs(tasks), tasks=tasks, shifts=shifts)
    assert proved_end(shop) == 28 * HOUR
    assert least_makespan(shop) == pytest.approx(27 * HOUR + 600.0, abs=0.01)


def test_a_closure_bounds_the_end():
    """Two hours of work and an hour closed between: three hours."""
    tasks = (_task("a", COARSE), _task("b", COARSE))
    place = Place(place_id="L1", closed=(Closure(start=HOUR, end=2 * HOUR),))
    shop = Shop(places=(place,), jobs=_jobs(tasks), tasks=tasks)
    assert least_makespan(shop) == pytest.approx(3 * HOUR, abs=0.01)


def test_one_carrier_bounds_the_end():
    """Three wafers of 1 + 1 h on places enough, one carrier: six hours; with three carriers two."""
    tasks = tuple(
        replace(_task(f"{job}{step}", Setting()), job_id=job, places=tuple(f"{step}{one}" for one in range(3)),
                after=(f"{job}1",) if step == "2" else ())
        for job in "abc" for step in "12"
    )  # fmt: skip
    places = tuple(Place(place_id=f"{step}{one}") for step in "12" for one in range(3))
    shop = Shop(
        places=places, jobs=tuple(Job(job_id=one) for one in "abc"), tasks=tasks,
        kits=(Kit(kit_id="c", name="carrier of 50 mm"),),
        holds=tuple(Hold(kit_id="c", first=f"{job}1", last=f"{job}2") for job in "abc"),
    )  # fmt: skip
    for count, hours in ((1, 6.0), (3, 2.0)):
        what = replace(shop, kits=(replace(shop.kits[0], count=count),))
        assert least_makespan(what) == pytest.approx(hours * HOUR, abs=0.01)
        assert proved_end(what) == hours * HOUR


def test_many_places_are_taken_together():
    """Six places and six hours of work: an hour each."""
    names = tuple(f"L{one}" for one in range(6))
    tasks = tuple(replace(_task(str(one), COARSE), places=names) for one in range(12))
    shop = Shop(places=tuple(Place(place_id=one) for one in names), jobs=_jobs(tasks), tasks=tasks)
    assert least_makespan(shop) == pytest.approx(2 * HOUR, abs=0.01)
    assert np.isfinite(least_makespan(replace(shop, tasks=())))


def _task(name, setting):
    return Task(task_id=name, job_id=name, name="lap", places=("L1",), duration=HOUR, setting=setting)


def _jobs(tasks):
    return tuple(Job(job_id=one.job_id) for one in tasks)
