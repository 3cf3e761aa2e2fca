"""All errors of Lapwright, on one page.

Three things are kept apart. A *wrong question* is the asker's mistake; *cannot answer* is a sound question without
enough to answer it; bad news about a part is neither, it is a `Verdict` value. ::

    LapwrightError
    ├── WrongQuestion                    exit status 2
    │   ├── BadInput                     input.faults            several faults of one input, all at once
    │   ├── UnitError                    unit.unknown
    │   ├── ShapeMismatch                array.shape_mismatch
    │   ├── OutOfValidRange              value.out_of_range
    │   ├── FileFormatError              file.format
    │   ├── CommandLineError             command.line
    │   ├── SettingError                 setting.unknown
    │   ├── NotFound                     record.not_found
    │   ├── Conflict                     record.conflict
    │   └── LibraryError                 library.faults
    └── CannotAnswer                     exit status 3
        ├── TooFewSites                  thickness.too_few_sites
        ├── SetVoid                      thickness.set_void
        ├── ImpossibleOrder              plan.impossible_order
        ├── DidNotConverge               numeric.did_not_converge
        ├── FringesRefused               fringes.not_trusted
        │   ├── NoSampleFound            fringes.no_sample
        │   ├── TooFewFringes            fringes.too_few_fringes
        │   ├── FringesUndersampled      fringes.undersampled
        │   ├── FringesTooWeak           fringes.low_contrast
        │   ├── FringesSaturated         fringes.saturated
        │   └── FringesClosed            fringes.closed
        ├── SurfaceRefused               surface.not_trusted
        │   ├── ProfileTooShort          surface.too_short
        │   ├── SamplingTooCoarse        surface.too_coarse
        │   ├── HeightsClipped           surface.clipped
        │   ├── TipTooLarge              surface.tip_too_large
        │   └── TooManyMissing           surface.too_many_missing
        ├── ShapeNotDetermined           surface.not_determined
        ├── MapsDoNotCombine             surface.maps_do_not_combine
        ├── NoDamageRatio                damage.no_ratio
        ├── NoViscosity                  bond.no_viscosity
        ├── VoidsUnclear                 bond.voids_unclear
        ├── GaugeError                   gauge.unavailable
        │   ├── NotConnected             gauge.not_connected
        │   ├── FrameError               gauge.frame
        │   └── Stale                    gauge.stale
        ├── WorkersLost                  work.workers_lost
        └── RecordError                  record.unavailable
            └── SchemaTooNew             record.schema_too_new

Each leaf has a stable `code`; `TABLE` maps it to an exit status and an HTTP status, and
`docs/reference/errors.md` has a heading for it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong with an input: the sentence, and where it stands."""

    sentence: str
    row: int | None = None
    field: str | None = None
    unit: str | None = None
    code: str | None = None


class LapwrightError(Exception):
    """Root of the tree: a sentence for the user, a stable code, and the faults behind it.

    The sentence says what was found, what was expected and what to do.
    """

    code: ClassVar[str] = "lapwright.error"

    def __init__(self, sentence: str, *, faults: Iterable[Fault] = (), **details: object) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.faults = tuple(faults)
        self.details = details

    def __str__(self) -> str:
        return self.sentence


class WrongQuestion(LapwrightError):
    """The asker's mistake: the question itself cannot be put like this."""

    code = "question.wrong"


class CannotAnswer(LapwrightError):
    """A sound question that the data at hand cannot answer."""

    code = "answer.impossible"


class BadInput(WrongQuestion):
    """An input with one or more faults, all of them listed; `total` counts those that a long list leaves out."""

    code = "input.faults"

    def __init__(self, faults: Iterable[Fault], *, subject: str = "The input", total: int | None = None) -> None:
        listed = tuple(faults)
        if len(listed) == 1:
            sentence = listed[0].sentence
        else:
            sentence = f"{subject} has {total or len(listed)} faults; the first: {listed[0].sentence}"
        super().__init__(sentence, faults=listed)


class UnitError(WrongQuestion):
    """A value without a unit, or with one that does not fit the quantity."""

    code = "unit.unknown"


class ShapeMismatch(WrongQuestion):
    """Two arrays that belong together differ in shape."""

    code = "array.shape_mismatch"

    def __init__(self, **shapes: tuple[int, ...]) -> None:
        listed = ", ".join(f"{name} {shape}" for name, shape in shapes.items())
        sentence = f"Arrays that must have one shape differ: {listed}. Give one value per site in each."
        super().__init__(sentence, faults=(), **shapes)


class OutOfValidRange(WrongQuestion):
    """A value outside the range in which the formula or the rule holds."""

    code = "value.out_of_range"

    def __init__(self, name: str, value: float, expected: str, advice: str = "") -> None:
        tail = f" {advice}" if advice else ""
        super().__init__(f"{name} is {value:g}; expected {expected}.{tail}", name=name, value=value, expected=expected)


class FileFormatError(WrongQuestion):
    """A file whose form cannot be read at all."""

    code = "file.format"


class CommandLineError(WrongQuestion):
    """A command line with an option that is unknown, missing, or has a value that does not fit."""

    code = "command.line"


class SettingError(WrongQuestion):
    """An unknown setting, or a value it does not take."""

    code = "setting.unknown"


class NotFound(WrongQuestion):
    """A record asked for that does not exist."""

    code = "record.not_found"


class Conflict(WrongQuestion):
    """A write that would contradict what is already recorded."""

    code = "record.conflict"


class LibraryError(WrongQuestion):
    """Rows of the process library that do not hold together, all of them listed."""

    code = "library.faults"


class TooFewSites(CannotAnswer):
    """Fewer measured sites than the question needs."""

    code = "thickness.too_few_sites"

    def __init__(self, question: str, *, measured: int, needed: int) -> None:
        sentence = (
            f"{question} needs at least {needed} measured sites; {measured} found. "
            "Read the missing sites, or ask for less."
        )
        super().__init__(sentence, measured=measured, needed=needed)


class VoidsUnclear(CannotAnswer):
    """A photograph of a bond in which film and voids, or wafer and ground, cannot be told apart."""

    code = "bond.voids_unclear"


class SetVoid(CannotAnswer):
    """A readings set that must not be used, with the reason."""

    code = "thickness.set_void"


class ImpossibleOrder(CannotAnswer):
    """An order that no route can meet, with the reason and the nearest that one could."""

    code = "plan.impossible_order"


class DidNotConverge(CannotAnswer):
    """A numerical search that ended without an answer."""

    code = "numeric.did_not_converge"

    def __init__(self, search: str, *, steps: int, last: float = math.nan) -> None:
        super().__init__(
            f"{search} did not settle within {steps} steps (last change {last:g}).", steps=steps, last=last
        )


class FringesRefused(CannotAnswer):
    """Fringe pictures that must not become a height map, with what is wrong and what to change."""

    code = "fringes.not_trusted"


class NoSampleFound(FringesRefused):
    """A picture, or a mask, without a sample to measure."""

    code = "fringes.no_sample"


class TooFewFringes(FringesRefused):
    """Fewer fringes across the sample than the method needs."""

    code = "fringes.too_few_fringes"


class FringesUndersampled(FringesRefused):
    """Fringes too narrow for the pixels of the picture."""

    code = "fringes.undersampled"


class FringesTooWeak(FringesRefused):
    """Fringes that do not stand out of the noise."""

    code = "fringes.low_contrast"


class FringesSaturated(FringesRefused):
    """Too much of the sample burnt out."""

    code = "fringes.saturated"


class FringesClosed(FringesRefused):
    """Fringes that turn back on themselves, where one picture with tilt cannot be followed."""

    code = "fringes.closed"


class SurfaceRefused(CannotAnswer):
    """A profile or map that cannot answer for its roughness, with what it would take."""

    code = "surface.not_trusted"


class ProfileTooShort(SurfaceRefused):
    """Less length than the filter and its sections need."""

    code = "surface.too_short"


class SamplingTooCoarse(SurfaceRefused):
    """Points further apart than the cutoff allows."""

    code = "surface.too_coarse"


class HeightsClipped(SurfaceRefused):
    """Heights cut off at an end of the instrument's range."""

    code = "surface.clipped"


class TipTooLarge(SurfaceRefused):
    """A stylus tip that cannot reach into the valleys that matter."""

    code = "surface.tip_too_large"


class TooManyMissing(SurfaceRefused):
    """More points without a height than may be bridged."""

    code = "surface.too_many_missing"


class ShapeNotDetermined(CannotAnswer):
    """Measured places that cannot carry the terms or the reference asked for."""

    code = "surface.not_determined"


class MapsDoNotCombine(CannotAnswer):
    """Two maps that must not be added or subtracted: other frame, other sites, other way of holding, or no sign."""

    code = "surface.maps_do_not_combine"


class NoDamageRatio(CannotAnswer):
    """A depth of damage asked of a roughness that says nothing about it."""

    code = "damage.no_ratio"


class NoViscosity(CannotAnswer):
    """A film asked of an adhesive without a viscosity table."""

    code = "bond.no_viscosity"

    def __init__(self, adhesive: str, rows: int) -> None:
        super().__init__(
            f"The library holds {rows} viscosities of {adhesive}; a film needs at least 2, at two temperatures. "
            "Add rows of your own to the table adhesive_viscosities.",
            adhesive=adhesive,
            rows=rows,
        )


class GaugeError(CannotAnswer):
    """A live source or stop output that cannot be used at all: a part of the program or of the device is missing."""

    code = "gauge.unavailable"


class NotConnected(GaugeError):
    """A device that does not answer, or is gone; it is tried again."""

    code = "gauge.not_connected"


class FrameError(GaugeError):
    """A gauge that sends, but nothing that could be read as a length."""

    code = "gauge.frame"


class Stale(GaugeError):
    """A gauge that is connected and silent."""

    code = "gauge.stale"


class WorkersLost(CannotAnswer):
    """Work given to several processes or hosts that cannot be had, or that died over it again and again."""

    code = "work.workers_lost"


class RecordError(CannotAnswer):
    """The database cannot be used just now."""

    code = "record.unavailable"


class SchemaTooNew(RecordError):
    """A database written by a newer version of the program."""

    code = "record.schema_too_new"


#: code -> (exit status of a command, HTTP status of an answer)
TABLE: dict[str, tuple[int, int]] = {
    "lapwright.error": (3, 500),
    "question.wrong": (2, 400),
    "answer.impossible": (3, 422),
    "input.faults": (2, 422),
    "unit.unknown": (2, 422),
    "array.shape_mismatch": (2, 422),
    "value.out_of_range": (2, 422),
    "file.format": (2, 422),
    "command.line": (2, 400),
    "setting.unknown": (2, 400),
    "record.not_found": (2, 404),
    "record.conflict": (2, 409),
    "library.faults": (2, 422),
    "thickness.too_few_sites": (3, 422),
    "thickness.set_void": (3, 422),
    "bond.voids_unclear": (3, 422),
    "plan.impossible_order": (3, 422),
    "numeric.did_not_converge": (3, 422),
    "fringes.not_trusted": (3, 422),
    "fringes.no_sample": (3, 422),
    "fringes.too_few_fringes": (3, 422),
    "fringes.undersampled": (3, 422),
    "fringes.low_contrast": (3, 422),
    "fringes.saturated": (3, 422),
    "fringes.closed": (3, 422),
    "surface.not_trusted": (3, 422),
    "surface.too_short": (3, 422),
    "surface.too_coarse": (3, 422),
    "surface.clipped": (3, 422),
    "surface.tip_too_large": (3, 422),
    "surface.too_many_missing": (3, 422),
    "surface.not_determined": (3, 422),
    "surface.maps_do_not_combine": (3, 422),
    "damage.no_ratio": (3, 422),
    "bond.no_viscosity": (3, 422),
    "gauge.unavailable": (3, 503),
    "gauge.not_connected": (3, 503),
    "gauge.frame": (3, 502),
    "gauge.stale": (3, 504),
    "work.workers_lost": (3, 503),
    "record.unavailable": (3, 503),
    "record.schema_too_new": (3, 503),
}
