"""What happened to a wafer since somebody looked at it, so that nothing is done to one that is no longer as seen."""

from __future__ import annotations

import hashlib
from contextlib import AbstractContextManager
from dataclasses import dataclass

from lapwright.model.readings import Signature
from lapwright.model.story import WaferStory


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """One thing recorded of a wafer: what, in words, and who, when and why."""

    what: str
    signature: Signature


def last_write() -> int:
    """The number of the last transaction that wrote anything; it grows with every write of anybody."""
    from lapwright.records import kept

    return kept.last_write()


def one_look() -> AbstractContextManager[None]:
    """While a page is made, so that all of it is of one moment and the last write is looked up once."""
    from lapwright.records import looking

    return looking.one_look()


def marks() -> tuple[int, str]:
    """The number of the last write, and a text that changes as schedules are worked out."""
    from lapwright.records import board_drafts

    return last_write(), board_drafts.mark()


def story_mark(story: WaferStory) -> str:
    """A short text that changes with everything recorded of a wafer but its notes and photographs.

    It is shown with a page and given back with what is sent from it.
    """
    parts = [f"w{story.wafer.version}"]
    parts += [f"s{one.set_id}.{one.version}.{len(one.readings)}" for one in story.sets]
    parts += [f"b{one.bond_id}.{one.version}" for one in story.bonds]
    parts += [f"g{one.stage_id}.{one.version}" for one in story.stages]
    parts += [f"r{one.run_id}.{one.version}" for one in story.runs]
    parts += [f"z{one.zero_id}.{one.void}" for one in story.zeros]
    parts += [f"f{one.finding_id}" for one in story.findings]
    parts += [f"v{one.verdict_id}" for one in story.verdicts]
    return hashlib.sha256(" ".join(parts).encode()).hexdigest()[:16]


def latest_happening(story: WaferStory) -> Happening | None:
    """The last thing recorded of a wafer; None when nothing has happened to it yet."""
    found = [
        Happening(what=f"moved to “{one.after.replace('_', ' ')}”", signature=one.signature) for one in story.events
    ]
    for one in story.sets:
        found.append(Happening(what="a set of readings opened", signature=one.opened))
        if one.closed is not None:
            found.append(Happening(what="a set of readings closed", signature=one.closed))
        found += [
            Happening(what=f"reading {reading.reading.text} recorded", signature=reading.signature)
            for reading in one.readings[-1:]
        ]
    for bond in story.bonds:
        found.append(Happening(what=f"bonded to {bond.carrier_id}", signature=bond.made))
        if bond.decided is not None:
            found.append(Happening(what="the bond decided about", signature=bond.decided))
        if bond.undone is not None:
            found.append(Happening(what="taken off its carrier", signature=bond.undone))
    for run in story.runs:
        found.append(Happening(what=f"a run started on {run.station_id}", signature=run.started_by))
        if run.ended_by is not None:
            found.append(Happening(what=f"the run on {run.station_id} ended", signature=run.ended_by))
    found += [Happening(what="a zero taken", signature=one.signature) for one in story.zeros]
    found += [
        Happening(what=f"{one.quantity.replace('_', ' ')} measured", signature=one.signature) for one in story.findings
    ]
    found += [Happening(what="judged", signature=one.signature) for one in story.verdicts]
    return max(found, key=lambda one: one.signature.at, default=None)
