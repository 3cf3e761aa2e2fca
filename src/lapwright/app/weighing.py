"""Use cases: masses of pieces before and after a run, and the removal that they tell."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

from lapwright.errors import BadInput, Fault, LapwrightError, UnitError
from lapwright.model.job import RecordedRun, RecordedWeighing
from lapwright.model.readings import Signature
from lapwright.model.request import WeighingRequest
from lapwright.units import parse


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What two weighings say of a run: removal of the wafer and its standard uncertainty, mean over all pieces [m]."""

    removal: float
    uncertainty: float
    mean: float
    mass_lost: float
    before: RecordedWeighing
    after: RecordedWeighing


def record_weighing(request: WeighingRequest, *, by: str, reason: str, at: datetime) -> RecordedWeighing:
    """Record a mass as read, dry and clean, of one piece with its carrier or of all that run together.

    Raises `BadInput` for text that is no mass, `NotFound` for an unknown wafer.
    """
    from lapwright.records import queries, writer
    from lapwright.records.writer.weighings import NewWeighing

    faults: list[Fault] = []
    mass = _mass(request.text, "mass", faults)
    uncertainty = _mass(request.uncertainty, "uncertainty", faults)
    if not request.pieces:
        faults.append(Fault(sentence="The weighing names no piece. Say what lay on the balance.", field="pieces"))
    if faults:
        raise BadInput(faults, subject="The weighing")
    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        for piece in request.pieces:
            queries.wafer(piece)
        new = NewWeighing(
            pieces=tuple(sorted(request.pieces)), text=f"{request.text.strip()} ± {request.uncertainty.strip()}",
            mass=mass, uncertainty=uncertainty, balance=request.balance.strip(),
        )  # fmt: skip
        return writer.add_weighing(new, signature)


def void_weighing(weighing_id: int, *, by: str, reason: str, at: datetime) -> RecordedWeighing:
    """Record that a mass does not count: wet, with slurry on it, or mistyped. The reason says which."""
    from lapwright.records import writer

    if not reason.strip():
        sentence = "Say why the weighing does not count; the reason stays with it."
        raise BadInput([Fault(sentence=sentence, field="reason")])
    return writer.void_weighing(weighing_id, reason, Signature(by=by, at=at, reason=reason))


def list_weighings(wafer_id: str) -> tuple[RecordedWeighing, ...]:
    """The masses of a wafer that count, oldest first."""
    from lapwright.records import run_queries

    return run_queries.weighings(wafer_id)


def weighed_removal(run: RecordedRun) -> Weighed | None:
    """The removal of a run by weighing; None without a mass before and after it of the same pieces in the same bond.

    Of pieces weighed together only the mean is known; each gets the share that its height lets expect.
    """
    from lapwright.library import load
    from lapwright.process.timed_stop import removal_by_weighing
    from lapwright.records import queries, run_queries

    if run.ended is None:
        return None
    found = _around(run, run_queries.weighings(run.wafer_id))
    if found is None:
        return None
    before, after = found
    try:
        density = load().material(queries.wafer(run.wafer_id).wafer.material).properties["density"].value
    except (LapwrightError, KeyError):
        return None
    area = math.fsum(_area(piece) for piece in before.pieces)
    doubt = math.sqrt(0.5 * (before.uncertainty**2 + after.uncertainty**2))
    mean, uncertainty = removal_by_weighing(before.mass - after.mass, doubt, density=density, area=area)
    share = share_of(run) if len(before.pieces) > 1 else 1.0
    return Weighed(
        removal=mean * share,
        uncertainty=uncertainty * share,
        mean=mean,
        mass_lost=before.mass - after.mass,
        before=before,
        after=after,
    )


def share_of(run: RecordedRun) -> float:
    """What a wafer was expected to lose in a run, over the mean that all pieces of the run were expected to lose."""
    from lapwright.app.clock_curves import removal_expected
    from lapwright.records import queries, run_queries

    first = run if run.with_run is None else queries.run(run.with_run)
    every = (first, *run_queries.companions(first.run_id))
    if len(every) == 1:
        return 1.0
    areas = [_area(one.wafer_id) for one in every]
    expected = [removal_expected(one) or 0.0 for one in every]
    mean = math.fsum(map(float.__mul__, areas, expected)) / math.fsum(areas)
    own = next(removal for one, removal in zip(every, expected, strict=True) if one.run_id == run.run_id)
    return own / mean if own > 0.0 and mean > 0.0 else 1.0


# ----------------------------------------------------------------------------------------------------------------------


def _mass(text: str, field: str, faults: list[Fault]) -> float:
    try:
        value = parse(text.strip(), "mass")
    except UnitError as error:
        faults.append(Fault(sentence=error.sentence, field=field))
        return 0.0
    if not value > 0.0:
        faults.append(
            Fault(sentence=f"{text!r} is not above zero. Give the mass as the balance shows it.", field=field)
        )
    return value


def _area(wafer_id: str) -> float:
    from lapwright.process.loads import outline_area
    from lapwright.records import queries

    return outline_area(queries.wafer(wafer_id).wafer.outline)


def _around(
    run: RecordedRun, weighings: tuple[RecordedWeighing, ...]
) -> tuple[RecordedWeighing, RecordedWeighing] | None:
    """The last mass before and the first after a run, no other run and no other bond between them."""
    from lapwright.records import queries, run_queries

    assert run.ended is not None
    before = [one for one in weighings if one.signature.at <= run.started]
    after = [one for one in weighings if one.signature.at >= run.ended]
    if not before or not after or before[-1].pieces != after[0].pieces:
        return None
    begun, over = before[-1].signature.at, after[0].signature.at
    runs = run_queries.runs_of_wafer(run.wafer_id)
    between = [one for one in runs if one.ended is not None and one.ended > begun and one.started < over]
    bond_id = queries.wafer(run.wafer_id).bond_id
    if len(between) != 1 or bond_id is None or queries.bond(bond_id).made.at > begun:
        return None
    return before[-1], after[0]
