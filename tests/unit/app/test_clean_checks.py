"""A look before another abrasive and before release: nothing goes on without it, and an overrule stays in the record.

That a grain carried on scratches is common practice, no source.
"""

from itertools import pairwise

import pytest

from lapwright.app import clean_checks, looks, orders, runs
from lapwright.errors import BadInput, Conflict
from lapwright.model.clean_check import CLEAN_ITEMS
from lapwright.testing.faces import fringe_file
from lapwright.testing.lot import CARRIER_THICKNESS, flat

WAFER = "AP-1-01"


@pytest.fixture
def dirty(lot):
    """A wafer that comes from its first abrasive and waits for the look before the next; the lot it is of."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6), repeats=1)
    lot.route()
    lot.bond(WAFER, flat(500e-6))
    lot.work(WAFER, until_look=True)
    return lot


def stage_now():
    """The waiting stage."""
    return runs.waiting_stage(WAFER)


def test_between_two_abrasives_the_step_cannot_be_recorded_as_done(dirty):
    """The look names both; what is not looked at is named; afterwards the next stage waits."""
    due = clean_checks.look_due(WAFER)
    assert due.before
    assert due.before != due.after
    with pytest.raises(Conflict, match="ends with a look"):
        runs.complete_stage(due.stage.stage_id, **dirty.why())
    with pytest.raises(BadInput) as refused:
        clean_checks.record_look(due.stage.stage_id, "clean", checked=CLEAN_ITEMS[:-2], **dirty.why())
    assert [fault.field for fault in refused.value.faults] == ["checked", "checked"]
    assert stage_now().stage_id == due.stage.stage_id
    look = clean_checks.record_look(due.stage.stage_id, "clean", checked=CLEAN_ITEMS, **dirty.why())
    assert look.checked == CLEAN_ITEMS
    assert stage_now().number == due.stage.number + 1
    assert clean_checks.look_due(WAFER) is None


def test_not_clean_leaves_it_waiting_with_the_photograph(dirty):
    """What was found must be said, and stays with the wafer."""
    stage = stage_now()
    with pytest.raises(BadInput, match="what was found"):
        clean_checks.record_look(stage.stage_id, "not_clean", **dirty.why(""))
    found = ("rinse.png", fringe_file())
    look = clean_checks.record_look(stage.stage_id, "not_clean", photograph=found, **dirty.why("grey rinse water"))
    assert stage_now() == stage
    assert look.signature.reason == "grey rinse water"
    assert look.document_id in {one.document_id for one in orders.show_wafer(WAFER).documents}


def test_an_overrule_needs_a_reason_and_stays_in_the_record(dirty):
    """It goes on, and everybody can read why."""
    stage = stage_now()
    with pytest.raises(BadInput, match="why it goes on"):
        clean_checks.record_look(stage.stage_id, "overruled", **dirty.why("  "))
    clean_checks.record_look(stage.stage_id, "overruled", **dirty.why("the lamp is broken, customer waits"))
    assert stage_now().number == stage.number + 1
    (look,) = clean_checks.looks_of(WAFER)
    assert (look.outcome, look.signature.by) == ("overruled", "local")


def test_a_look_out_of_turn_or_at_nothing_is_refused(dirty):
    """Unknown items too, all at once."""
    stages = orders.show_wafer(WAFER).stages
    with pytest.raises(Conflict, match="not the turn"):
        clean_checks.record_look(stages[-1].stage_id, "clean", checked=CLEAN_ITEMS, **dirty.why())
    with pytest.raises(BadInput, match="Nothing called"):
        clean_checks.record_look(stage_now().stage_id, "clean", checked=("shiny", *CLEAN_ITEMS), **dirty.why())


def test_only_another_abrasive_or_release_asks_for_a_look(dirty):
    """Rinsing before reading on with the same abrasive asks for none; the last cleaning does."""
    del dirty
    stages = orders.show_wafer(WAFER).stages
    asked = [one.number for one in stages if looks.needs_look(one, stages)]
    cleanings = [one.number for one in stages if one.stage.kind == "clean"]
    assert set(asked) < set(cleanings)
    assert max(asked) == max(cleanings)
    used = [one.stage.abrasive for one in stages if one.stage.abrasive]
    changes = sum(before != after for before, after in pairwise(used))
    assert len(asked) == changes + 1
