"""Use case: what can hurt in each step of a job, and what its waste consists of, from the records and the library."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.app import cautions, orders
from lapwright.app.wiring import current_settings
from lapwright.errors import NotFound
from lapwright.model.plan import Stage
from lapwright.model.story import OrderStanding

#: Orders that the page offers; an older one is reached from its own page.
MOST_OFFERED = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class StepHazards:
    """One kind of step of a job, with what it is done with, and its cautions."""

    step: str
    tool: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobWaste:
    """The steps of an order with their cautions, and what may be in its waste."""

    order_id: str
    site_caution: str
    steps: tuple[StepHazards, ...]
    constituents: tuple[str, ...]
    hazards: tuple[str, ...]


def orders_to_choose() -> tuple[str, ...]:
    """Orders that go on, the earliest due first."""
    return tuple(line.order_id for line in orders.list_orders("going", count=MOST_OFFERED))


def waste_of(order_id: str) -> JobWaste:
    """Hazards and waste of an order: of its material, the stages of its wafers, and how they are bonded.

    Raises `NotFound`. What the library does not know is named as such, never left out.
    """
    story = orders.order_standing(order_id)
    order = story.order.order
    steps = tuple(
        StepHazards(
            step=step,
            tool=tool,
            cautions=cautions.cautions_for(order.material, step=step, adhesive=adhesive, slurries=slurries)[1:],
        )
        for step, tool, adhesive, slurries in _steps(story)
    )
    hazards = tuple(dict.fromkeys(caution for one in steps for caution in one.cautions))
    return JobWaste(
        order_id=order_id,
        site_caution=current_settings().site_caution,
        steps=steps,
        constituents=tuple(_constituents(story)),
        hazards=hazards,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _steps(story: OrderStanding) -> list[tuple[str, str, str, tuple[str, ...]]]:
    """Step, tool, adhesive and slurries of each kind of step, in the order of the job; each once."""
    adhesives = list(dict.fromkeys(bond.adhesive for wafer in story.wafers for bond in wafer.bonds))
    stages = _stages(story)
    worked = tuple(dict.fromkeys(stage.abrasive for stage in stages if stage.abrasive))
    found: list[tuple[str, str, str, tuple[str, ...]]] = [("measure", "", "", ())]
    found += [("bond", _adhesive(one), one, ()) for one in adhesives] or [("bond", "", "", ())]
    found += [
        (stage.kind, _abrasive(stage.abrasive or ""), "", (stage.abrasive,) if stage.abrasive else ())
        for stage in stages
        if stage.kind in ("lap", "polish", "etch")
    ]
    found += [("clean", "", adhesives[0] if len(adhesives) == 1 else "", worked)]
    found += [("debond", _adhesive(one), one, ()) for one in adhesives] or [("debond", "", "", ())]
    return list(dict.fromkeys(found))


def _stages(story: OrderStanding) -> list[Stage]:
    """The stages of the wafers; of those that have none yet, what the chosen route has in store for them."""
    stages = [one.stage for wafer in story.wafers for one in wafer.stages]
    chosen = next((route.plan for route in reversed(story.routes) if route.chosen), None)
    if chosen is not None and not all(wafer.stages for wafer in story.wafers):
        stages += chosen.stages
    return stages


def _constituents(story: OrderStanding) -> list[str]:
    from lapwright.library import load

    library, material = load(), story.order.order.material
    try:
        name = library.material(material).name
    except NotFound:
        name = f"{material} (unknown to the library: see its safety data sheet)"
    parts = [f"{name}, as fine grains and splinters"]
    for step, tool, _adhesive_id, _slurries in _steps(story):
        if step in ("lap", "polish") and tool:
            parts.append(f"{tool}, as slurry with its liquid")
        elif step == "etch":
            parts.append("etchant, spent")
        elif step == "bond" and tool:
            parts.append(tool)
    parts.append("solvent or bath of the debonding, if one was used: write its name here")
    return list(dict.fromkeys(parts))


def _abrasive(abrasive_id: str) -> str:
    from lapwright.library import load

    return next((one.name for one in load().abrasives if one.abrasive_id == abrasive_id), abrasive_id)


def _adhesive(adhesive_id: str) -> str:
    from lapwright.library import load

    return next((one.name for one in load().adhesives if one.adhesive_id == adhesive_id), adhesive_id)
