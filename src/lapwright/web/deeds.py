"""What a person can have done to a wafer as it stands.

A deed is offered by the state of the wafer; whether it may be done is decided by the use case, which refuses with a
sentence.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from lapwright.app import bonding, live, looks, orders, runs, verdicts
from lapwright.errors import Conflict
from lapwright.model.job import RecordedBond, RecordedRun, RecordedStage, RecordedZero
from lapwright.model.request import BondRequest, FindingRequest, RunRequest, ZeroRequest
from lapwright.model.story import WaferStory
from lapwright.web import deed_forms as shapes
from lapwright.web import deed_starts as starts
from lapwright.web.surroundings import Signed

Doing = Callable[[WaferStory, Any, Signed], object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """One thing that can be done: its title and button, its form, when it is offered, and what it does.

    One that is `aside` is never the next step of the job. `start` is what its form opens with.
    """

    title: str | Promise
    button: str | Promise
    form: type[forms.Form]
    offered: Callable[[WaferStory], bool]
    do: Doing
    reason: str = ""
    aside: bool = False
    start: Callable[[WaferStory], dict[str, Any]] = lambda _story: {}


@dataclass(frozen=True, slots=True, kw_only=True)
class OfferedDeed:
    """A deed on the page: its name in the address, and its form, filled when it was refused."""

    name: str
    deed: Deed
    form: forms.Form


def deed_forms(story: WaferStory, refused: dict[str, object], *, zero: RecordedZero | None = None) -> list[OfferedDeed]:
    """The deeds that fit a wafer as it stands; while a `zero` holds, the start comes before another zero."""
    offered = [
        OfferedDeed(name=name, deed=deed, form=_form(name, deed, refused, story, zero))
        for name, deed in DEEDS.items()
        if name in refused or deed.offered(story)
    ]
    return offered if zero is None else sorted(offered, key=lambda one: one.name != "start")


def standing_bond(story: WaferStory) -> RecordedBond | None:
    """The bond that holds now."""
    return next((one for one in reversed(story.bonds) if one.undone is None), None)


def open_run(story: WaferStory) -> RecordedRun | None:
    """The run that is going on."""
    return next((one for one in reversed(story.runs) if one.ended is None), None)


def followed_at(story: WaferStory) -> str | None:
    """The station at which the recorder follows a run of the wafer just now."""
    run = open_run(story)
    stream = None if run is None else live.stream_of_run(run.with_run or run.run_id)
    return run.station_id if run is not None and stream is not None and stream.ended is None else None


def waiting_stage(story: WaferStory) -> RecordedStage | None:
    """The first stage that is not done."""
    return next((one for one in story.stages if one.state in ("waiting", "running")), None)


# ----------------------------------------------------------------------------------------------------------------------


def _form(
    name: str, deed: Deed, refused: dict[str, object], story: WaferStory, zero: RecordedZero | None
) -> forms.Form:
    if isinstance(sent := refused.get(name), forms.Form):
        return sent
    at = {} if zero is None or name not in ("zero", "start") else {"station": zero.station_id, "jig": zero.jig_id}
    return deed.form(prefix=name, initial=deed.start(story) | at)


def _wafer_id(story: WaferStory) -> str:
    return story.wafer.wafer.wafer_id


def _bond(story: WaferStory, form: shapes.BondForm, why: Signed) -> object:
    wafer_frame, carrier_frame = form.frames()
    data = form.cleaned_data
    request = BondRequest(
        wafer_id=_wafer_id(story),
        carrier_id=data["carrier"],
        adhesive=data["adhesive"],
        adhesive_lot=data["adhesive_lot"] or data["adhesive_shelf"],
        wafer_frame=wafer_frame,
        carrier_frame=carrier_frame,
    )
    return bonding.record_bond(request, **why)


def _judge_bond(story: WaferStory, _form: forms.Form, why: Signed) -> object:
    return bonding.judge_bond(_needed_bond(story).bond_id, **why)


def _decide_bond(story: WaferStory, form: forms.Form, why: Signed) -> object:
    bond = _needed_bond(story)
    return bonding.decide_bond(bond.bond_id, form.cleaned_data["decision"], version=bond.version, **why)


def _debond(story: WaferStory, form: forms.Form, why: Signed) -> object:
    return bonding.record_debond(_needed_bond(story).bond_id, form.cleaned_data["method"], **why)


def _zero(story: WaferStory, form: forms.Form, why: Signed) -> object:
    data = form.cleaned_data
    request = ZeroRequest(
        wafer_id=_wafer_id(story),
        station_id=data["station"],
        jig_id=data["jig"],
        texts=tuple(data["texts"].replace(";", " ").split()),
    )
    return runs.take_zero(request, **why)


def _start(story: WaferStory, form: forms.Form, why: Signed) -> object:
    data = form.cleaned_data
    request = RunRequest(
        wafer_id=_wafer_id(story), station_id=data["station"], jig_id=data["jig"] or None, preset=data["preset"],
        step="first" if data["goes_on"] else "whole",
    )  # fmt: skip
    return runs.start_run(request, **why)


def _finish(story: WaferStory, form: forms.Form, why: Signed) -> object:
    run = open_run(story)
    if run is None:
        raise Conflict("No run of this wafer is going on. Reload the page and look where the wafer stands.")
    data = form.cleaned_data
    return runs.finish_run(
        run.run_id,
        gauge_removal=data["gauge_removal"] or None,
        stop_reason=data["stop_reason"],
        version=run.version,
        **why,
    )


def _complete(story: WaferStory, _form: forms.Form, why: Signed) -> object:
    return runs.complete_stage(_needed_stage(story).stage_id, **why)


def _skip(story: WaferStory, _form: forms.Form, why: Signed) -> object:
    return runs.skip_stage(_needed_stage(story).stage_id, **why)


def _find(story: WaferStory, form: forms.Form, why: Signed) -> object:
    data = form.cleaned_data
    request = FindingRequest(
        wafer_id=_wafer_id(story),
        quantity=data["quantity"],
        text=data["text"],
        method=data["method"],
        expanded_uncertainty=data["expanded_uncertainty"],
    )
    return verdicts.record_finding(request, **why)


def _judge(story: WaferStory, _form: forms.Form, why: Signed) -> object:
    return verdicts.judge_wafer(_wafer_id(story), **why)


def _set_aside(story: WaferStory, _form: forms.Form, why: Signed) -> object:
    return orders.set_aside(_wafer_id(story), version=story.wafer.version, **why)


def _take_up(story: WaferStory, _form: forms.Form, why: Signed) -> object:
    return orders.take_up(_wafer_id(story), version=story.wafer.version, **why)


def _reject(story: WaferStory, _form: forms.Form, why: Signed) -> object:
    return orders.reject_wafer(_wafer_id(story), version=story.wafer.version, **why)


def _needed_bond(story: WaferStory) -> RecordedBond:
    bond = standing_bond(story)
    if bond is None:
        raise Conflict("This wafer has no bond that holds. Reload the page and look where the wafer stands.")
    return bond


def _needed_stage(story: WaferStory) -> RecordedStage:
    stage = waiting_stage(story)
    if stage is None:
        raise Conflict("All stages of this wafer are done. Reload the page and look where the wafer stands.")
    return stage


def _state_is(*states: str) -> Callable[[WaferStory], bool]:
    return lambda story: story.wafer.state in states


def _ends_by_hand(story: WaferStory) -> bool:
    return open_run(story) is not None and followed_at(story) is None


def _stage_is(*kinds: str) -> Callable[[WaferStory], bool]:
    def offered(story: WaferStory) -> bool:
        stage = waiting_stage(story)
        return stage is not None and stage.stage.kind in kinds and open_run(story) is None and _on_carrier(story)

    return offered


def _plain_cleaning(story: WaferStory) -> bool:
    """A cleaning that ends without a look; a measuring stage is done by closing its set."""
    stage = waiting_stage(story)
    ends_with_look = stage is not None and looks.needs_look(stage, story.stages)
    return _stage_is("clean")(story) and not ends_with_look


def _on_carrier(story: WaferStory) -> bool:
    bond = standing_bond(story)
    return bond is not None and bond.decision == "keep"


def _not_judged(story: WaferStory) -> bool:
    """A stack that was read, of which the bond is not judged, or was judged by an earlier set."""
    bond = standing_bond(story)
    if story.wafer.state != "stack_read" or bond is None:
        return False
    stacks = [one.set_id for one in story.sets if one.moment == "stack" and one.state == "closed"]
    return bond.numbers is None or (bool(stacks) and bond.stack_set_id != stacks[-1])


def _undecided(story: WaferStory) -> bool:
    bond = standing_bond(story)
    return story.wafer.state in ("bonded", "stack_read", "rebond") and bond is not None and bond.numbers is not None


def _all_measured(story: WaferStory) -> bool:
    """Read free, and nothing that is limited is still to be measured."""
    return story.wafer.state in ("read_free", "judged") and not starts.not_measured(story)


def _comes_off(story: WaferStory) -> bool:
    """A wafer that is through or to be bonded again, or one that is given up, so that its carrier is free again."""
    states = ("rebond", "read_on_carrier", "set_aside", "rejected")
    return story.wafer.state in states and standing_bond(story) is not None


_OVER = ("certified", "rejected")
DEEDS: dict[str, Deed] = {
    "bond": Deed(
        title=_("Bond it to a carrier"), button=_("Record the bond"), form=shapes.BondForm,
        offered=_state_is("measured_in"), do=_bond, reason="bonded",
        start=starts.bond_start,
    ),
    "judge-bond": Deed(
        title=_("Judge the bond"), button=_("Judge by the readings"), form=shapes.NothingForm,
        offered=_not_judged, do=_judge_bond, reason="stack was read",
    ),
    "debond": Deed(
        title=_("Take it off the carrier"), button=_("Record that it is off"), form=shapes.DebondForm,
        offered=_comes_off, do=_debond, reason="taken off", start=starts.debond_start,
    ),
    "decide-bond": Deed(
        title=_("Decide about the bond"), button=_("Record the decision"), form=shapes.DecideForm,
        offered=_undecided, do=_decide_bond, start=starts.decide_start,
    ),
    "zero": Deed(
        title=_("Zero the jig's gauge"), button=_("Record the zero"), form=shapes.ZeroForm,
        offered=_stage_is("lap"), do=_zero, reason="zero before the run",
        start=starts.station_start,
    ),
    "start": Deed(
        title=_("Start the run"), button=_("Record the start"), form=shapes.StartForm,
        offered=_stage_is("lap", "polish"), do=_start, reason="started at the station",
        start=starts.station_start,
    ),
    "finish": Deed(
        title=_("The run has stopped"), button=_("Record the end"), form=shapes.FinishForm,
        offered=_ends_by_hand, do=_finish, reason="stopped at the station",
    ),
    "complete": Deed(
        title=_("The step is done"), button=_("Record it as done"), form=shapes.NothingForm,
        offered=_plain_cleaning, do=_complete, reason="done",
    ),
    "judge": Deed(
        title=_("Judge the wafer"), button=_("Judge every limit"), form=shapes.NothingForm,
        offered=_all_measured, do=_judge, reason="final readings are in",
    ),
    "finding": Deed(
        title=_("Another measurement"), button=_("Record the value"), form=shapes.FindingForm,
        offered=_state_is("debonded", "read_free", "judged", "read_on_carrier"), do=_find, reason="measured",
        aside=True, start=starts.finding_start,
    ),
    "skip": Deed(
        title=_("Leave the next step out"), button=_("Leave it out"), form=shapes.ReasonForm,
        offered=_stage_is("clean", "measure", "polish", "lap"), do=_skip, aside=True,
    ),
    "set-aside": Deed(
        title=_("Set the wafer aside"), button=_("Set aside"), form=shapes.ReasonForm,
        offered=lambda story: story.wafer.state not in (*_OVER, "set_aside"), do=_set_aside, aside=True,
    ),
    "take-up": Deed(
        title=_("Take the wafer up again"), button=_("Take up"), form=shapes.ReasonForm,
        offered=_state_is("set_aside"), do=_take_up, aside=True,
    ),
    "reject": Deed(
        title=_("It broke, or its work ends here"), button=_("It will not be delivered"), form=shapes.ReasonForm,
        offered=lambda story: story.wafer.state not in _OVER, do=_reject, aside=True,
    ),
}  # fmt: skip
