"""What a plate's recorded lines say: readings parsed, the shape of each check, and the course between checks."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from lapwright.app.kept_results import Itself
from lapwright.app.set_values import length_of
from lapwright.errors import BadInput, Fault, UnitError
from lapwright.model.plates import EntryHead, Plate, PlateEntry, PlateReading, RecordedEntry
from lapwright.process.plate import PlateShape, bridge_shape, map_shape, shape_from_lapped, straightedge_shape
from lapwright.process.plate_course import DomeAt, Leg
from lapwright.process.plate_wear import Footprint, Land
from lapwright.process.wear_learning import RingSetup

#: No dial on a plate says more [m]; what does was typed in another unit.
MOST_READING = 0.01
MOST_KEPT = 300  # plates of which what follows from their history is kept
MOST_SHAPES = 20_000  # checks whose shape is kept


def readings_of(
    rows: Sequence[tuple[float, int, str]], unit: str, across: Sequence[float] = ()
) -> tuple[PlateReading, ...]:
    """Readings as typed: (place in mm, laying, text), and of a map the other place in mm. Raises `BadInput`."""
    read, faults = [], []
    for number, (place, laying, text) in enumerate(rows, start=1):
        try:
            value, found = length_of(text, unit)
        except UnitError as error:
            faults.append(Fault(sentence=f"Reading {number}: {error.sentence}", field="readings", row=number))
            continue
        if math.isnan(value):
            faults.append(
                Fault(sentence=f"Reading {number}: a dash; leave the line out instead.", field="readings", row=number)
            )
            continue
        if abs(value) > MOST_READING:
            sentence = (
                f"Reading {number}: {text.strip()!r} is more than 10 mm; a dial does not reach so far. Read again."
            )
            faults.append(Fault(sentence=sentence, field="readings", row=number))
            continue
        aside = across[number - 1] / 1e3 if across else 0.0
        read.append(
            PlateReading(place=place / 1e3, laying=laying, text=text.strip(), unit=found, value=value, across=aside)
        )
    if not rows:
        faults.append(Fault(sentence="There is no reading; type at least three along the bar.", field="readings"))
    if faults:
        raise BadInput(faults, subject="The check")
    return tuple(read)


def shape_of(plate: Plate, entry: PlateEntry) -> PlateShape:
    """The shape that a check tells.

    Raises `BadInput` without the size that its method needs, and what the formulas raise for too few readings.
    """
    doubt = plate.reading_uncertainty
    if entry.method == "straightedge":
        return straightedge_shape(
            [one.place for one in entry.readings],
            [one.value for one in entry.readings],
            [one.laying for one in entry.readings],
            plate_radius=plate.outer_radius,
            reading_uncertainty=doubt,
        )
    if entry.method == "map":
        return _mapped(plate, entry)
    if entry.size is None:
        raise BadInput([Fault(sentence="Say how long the bridge is, or how wide block or wafer.", field="size")])
    if len(entry.readings) != 1:
        sentence = f"{len(entry.readings)} readings were given; expected one: the sagitta."
        raise BadInput([Fault(sentence=sentence, field="readings")])
    value = entry.readings[0].value
    if entry.method == "bridge":
        return bridge_shape(value, entry.size, plate_radius=plate.outer_radius, reading_uncertainty=doubt)
    return shape_from_lapped(value, entry.size, plate_radius=plate.outer_radius, sagitta_uncertainty=doubt)


def _mapped(plate: Plate, entry: PlateEntry) -> PlateShape:
    """The shape of heights anywhere on the plate; one that lies beside it is refused."""
    beside = [
        number
        for number, one in enumerate(entry.readings, start=1)
        if math.hypot(one.place, one.across) > plate.outer_radius
    ]
    if beside:
        listed = ", ".join(map(str, beside[:8]))
        sentence = (
            f"Readings {listed} lie beside the plate, whose land ends at {plate.outer_radius * 1e3:g} mm. Look at the"
            " places and their unit, which is mm from the plate's axis."
        )
        raise BadInput([Fault(sentence=sentence, field="readings")])
    return map_shape(
        [one.place for one in entry.readings],
        [one.across for one in entry.readings],
        [one.value for one in entry.readings],
        plate_radius=plate.outer_radius,
        reading_uncertainty=plate.reading_uncertainty,
    )


def standing_checks(plate: Plate, history: tuple[RecordedEntry, ...]) -> Mapping[int, PlateShape]:
    """The shape of every check that has not been corrected, by its number; kept while the history is the same."""
    return _standing_checks(plate, Itself(history))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """How a plate ran up to a check since the one before: the check's number, the legs, whether it was dressed."""

    entry_id: int
    legs: tuple[Leg, ...]
    dressed: bool


def head_of(line: RecordedEntry) -> EntryHead:
    """A line without its readings."""
    entry = line.entry
    return EntryHead(
        entry_id=line.entry_id, kind=entry.kind, ran=entry.ran, offset=entry.offset, speed_ratio=entry.speed_ratio,
        replaced_by=line.replaced_by, at=line.signature.at,
    )  # fmt: skip


def stretches_of(plate: Plate, history: Iterable[EntryHead]) -> list[Stretch]:
    """The checks that stand, each with the legs the plate ran since the one before."""
    offset, ratio = plate.offset, plate.speed_ratio
    found: list[Stretch] = []
    legs: list[Leg] = []
    dressed = False
    for one in history:
        if one.replaced_by is not None:
            continue
        if one.ran > 0.0:
            legs.append(Leg(offset=offset, duration=one.ran, speed_ratio=ratio))
        if one.kind == "ring":
            offset, ratio = one.offset or offset, one.speed_ratio or ratio
        elif one.kind == "dressed":
            dressed = True
        else:
            found.append(Stretch(entry_id=one.entry_id, legs=tuple(legs), dressed=dressed))
            legs, dressed = [], False
    return found


def dome_at(stretch: Stretch, shape: PlateShape) -> DomeAt:
    """A check with what it found."""
    return DomeAt(dome=shape.dome, dome_uncertainty=shape.dome_uncertainty, legs=stretch.legs, dressed=stretch.dressed)


def course_of(plate: Plate, history: tuple[RecordedEntry, ...]) -> list[DomeAt]:
    """The checks that stand, each with its dome and the legs the plate ran since the one before."""
    shapes = standing_checks(plate, history)
    return [dome_at(one, shapes[one.entry_id]) for one in stretches_of(plate, map(head_of, history))]


def setup_of(plate: Plate, offset: float, speed_ratio: float) -> RingSetup:
    """Land and ring of a plate for the formulas."""
    return RingSetup(
        land=Land(inner_radius=plate.inner_radius, outer_radius=plate.outer_radius),
        footprints=(Footprint(outer_radius=plate.ring_outer_radius, inner_radius=plate.ring_inner_radius),),
        least_offset=plate.least_offset,
        most_offset=plate.most_offset,
        offset=offset,
        speed_ratio=speed_ratio,
    )


@lru_cache(maxsize=MOST_KEPT)
def _standing_checks(plate: Plate, history: Itself) -> Mapping[int, PlateShape]:
    return {
        one.entry_id: _shape_kept(plate, Itself(one.entry))
        for one in history.held
        if one.entry.kind == "check" and one.replaced_by is None
    }


@lru_cache(maxsize=MOST_SHAPES)
def _shape_kept(plate: Plate, entry: Itself) -> PlateShape:
    """The shape of a recorded check, which stays the same object when lines are added after it."""
    return shape_of(plate, entry.held)
