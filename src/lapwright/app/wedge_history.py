"""Wedges that bonds predicted against those found after the first cut, jig by jig."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from lapwright.app import wafer_maps
from lapwright.errors import LapwrightError

if TYPE_CHECKING:
    from lapwright.model.wafer import Wedge
    from lapwright.process.wedge_transfer import WedgeTransfer


@dataclass(frozen=True, slots=True, kw_only=True)
class JigWedges:
    """What the wafers of one jig say of wedges; `transfer` is None while they are too few, and `why` says it."""

    jig_id: str
    wafers: tuple[str, ...]
    transfer: WedgeTransfer | None
    why: str


def jig_wedges() -> tuple[JigWedges, ...]:
    """Every jig that has cut a wafer whose bond was judged and which was read after its first cut."""
    from lapwright.process.wedge_transfer import wedge_transfer
    from lapwright.records import drift_queries

    pairs: dict[str, list[tuple[str, Wedge, Wedge]]] = defaultdict(list)
    for wafer_id in dict.fromkeys(bond.wafer_id for bond in drift_queries.judged_bonds()):
        found = _of_wafer(wafer_id)
        if found is not None:
            pairs[found[0]].append((wafer_id, *found[1:]))
    answers = []
    for jig_id, mine in sorted(pairs.items()):
        transfer, why = None, ""
        try:
            transfer = wedge_transfer([one[1] for one in mine], [one[2] for one in mine])
        except LapwrightError as error:
            why = str(error)
        answers.append(JigWedges(jig_id=jig_id, wafers=tuple(one[0] for one in mine), transfer=transfer, why=why))
    return tuple(answers)


# ----------------------------------------------------------------------------------------------------------------------


def _of_wafer(wafer_id: str) -> tuple[str, Wedge, Wedge] | None:
    """Jig, predicted wedge, and the wedge read after the first cut in the bond; None where one is missing."""
    from lapwright.records import story_queries

    story = story_queries.wafer_story(wafer_id)
    for bond in story.bonds:
        if bond.numbers is None or bond.numbers.predicted_wedge is None:
            continue
        wafer = story_queries.wafer_at_work(wafer_id)
        cuts = [run for run in wafer.runs if run.ended is not None and run.jig_id and run.started >= bond.made.at]
        undone = None if bond.undone is None else bond.undone.at
        cuts = [run for run in cuts if undone is None or run.started <= undone]
        if not cuts:
            continue
        first, second = cuts[0], (cuts[1] if len(cuts) > 1 else None)
        for taken in story.sets:
            ended = first.ended
            if taken.state != "closed" or taken.subject != "stack" or ended is None or taken.opened.at < ended:
                continue
            if second is not None and taken.opened.at > second.started:
                break
            judged_by = tuple(one for one in story.sets if one.set_id in (bond.wafer_set_id, bond.stack_set_id))
            now = wafer_maps.wafer_now(replace(wafer, bond=bond, bond_sets=judged_by, latest=taken))
            if now.wedge is not None and first.jig_id is not None:
                return first.jig_id, bond.numbers.predicted_wedge, now.wedge
    return None
