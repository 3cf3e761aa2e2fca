"""Use cases that need no records: what a readings file says, and what a bond will leave.

Nothing here loads the database.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from lapwright.errors import BadInput, CannotAnswer, Fault, NotFound, SetVoid, WrongQuestion
from lapwright.formats.faults import FaultList
from lapwright.formats.readings_csv import ReadingsFile, ReadSet, read_readings
from lapwright.metrology.bond_line import BondResult, BondUncertainties, bond_line, map_uncertainty
from lapwright.metrology.bond_verdict import bond_verdict
from lapwright.metrology.outlines import furthest_reach
from lapwright.metrology.thickness import ThicknessResult, thickness_statistics
from lapwright.model.readings import UNKNOWN_CONDITIONS, Conditions, Gauge, ThicknessSet
from lapwright.model.verdict import BondVerdict
from lapwright.model.wafer import WORKED_FRAME, Frame, Outline, Round

if TYPE_CHECKING:
    from lapwright.process.feasibility import Feasibility
    from lapwright.process.release_checks import ReleaseAssumptions


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """What a readings file does not say: outline, edge exclusion [m], gauge, conditions, allowed drift [m]."""

    outline: Outline
    edge_exclusion: float = 0.0
    gauge: Gauge | None = None
    conditions: Conditions = UNKNOWN_CONDITIONS
    allowed_drift: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class VoidSet:
    """A piece that has no result, and why."""

    piece: str
    error: CannotAnswer


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredFile:
    """What a readings file says: results of the good sets in file order, and the void ones with their reasons."""

    name: str
    n_rows: int
    results: tuple[ThicknessResult, ...]
    void: tuple[VoidSet, ...]


def thickness_of_file(path: Path, circumstances: Circumstances, *, wafer: str | None = None) -> MeasuredFile:
    """Thickness, TTV, wedge and dome of every wafer in a readings file, or of one.

    Raises `FileFormatError` and `BadInput` (all faults at once) for a bad file, `NotFound` for a wafer that is not in
    it. When no set is good, the error of the first void one is raised.
    """
    file = read_readings(path)
    chosen = [read for read in file if wafer in (None, read.readings.piece)]
    if not chosen:
        raise NotFound(_not_in_file(wafer, file))
    results: list[ThicknessResult] = []
    void: list[VoidSet] = []
    faults = FaultList(file.name)
    for read in chosen:
        try:
            results.append(thickness_of_set(read.readings, circumstances))
        except BadInput as error:
            for fault in _faults_in_rows(read, error):
                faults.take(fault)
        except CannotAnswer as error:
            void.append(VoidSet(piece=read.readings.piece, error=error))
    faults.settle()
    if not results:
        raise _nothing_good(void)
    return MeasuredFile(name=file.name, n_rows=file.n_rows, results=tuple(results), void=tuple(void))


def thickness_of_set(
    readings: ThicknessSet, circumstances: Circumstances, *, frame: Frame = WORKED_FRAME
) -> ThicknessResult:
    """Thickness, TTV, wedge and dome of one set; what the set itself does not say is taken from `circumstances`.

    Raises `BadInput` when the two contradict each other, and as `thickness_statistics` does.
    """
    completed = replace(readings, conditions=_completed(readings, circumstances.conditions))
    return thickness_statistics(
        completed,
        outline=circumstances.outline,
        edge_exclusion=circumstances.edge_exclusion,
        gauge=circumstances.gauge,
        allowed_drift=circumstances.allowed_drift,
        frame=frame,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BondFiles:
    """Three readings files of one stack, and which piece to take where a file holds several. Frames as bonded."""

    wafer: Path
    carrier: Path
    stack: Path
    wafer_id: str | None = None
    carrier_id: str | None = None
    stack_id: str | None = None
    wafer_frame: Frame = WORKED_FRAME
    carrier_frame: Frame = WORKED_FRAME


@dataclass(frozen=True, slots=True, kw_only=True)
class BondQuestion:
    """What the bond must serve: target thickness and limit of TTV [m], and what a re-bond and a wafer cost."""

    ttv_limit: float
    target_thickness: float | None = None
    carrier_diameter: float | None = None
    rebond_cost: float | None = None
    wafer_value: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredBond:
    """A bond line with the verdict on it and the three sets behind it."""

    result: BondResult
    verdict: BondVerdict
    wafer: ThicknessResult
    carrier: ThicknessResult
    stack: ThicknessResult


def bond_of_files(files: BondFiles, circumstances: Circumstances, question: BondQuestion) -> MeasuredBond:
    """The bond line from readings of wafer, carrier and stack, the wafer it will give, and whether to keep it.

    Raises as `thickness_of_file` and `bond_line` do, `SetVoid` or `TooFewSites` for any of the three sets.
    """
    on_carrier = circumstances
    if question.carrier_diameter is not None:
        on_carrier = replace(circumstances, outline=Round(diameter=question.carrier_diameter))
    wafer = _only_set(files.wafer, files.wafer_id, "--wafer-id")
    carrier = _only_set(files.carrier, files.carrier_id, "--carrier-id")
    stack = _only_set(files.stack, files.stack_id, "--stack-id")
    results = (
        thickness_of_set(wafer, circumstances, frame=files.wafer_frame),
        thickness_of_set(carrier, on_carrier, frame=files.carrier_frame),
        thickness_of_set(stack, circumstances),
    )
    result = bond_line(
        *(one.sites for one in results),
        diameter=furthest_reach(circumstances.outline) * 2.0,
        uncertainties=_bond_uncertainties(results, circumstances.gauge),
        target_thickness=question.target_thickness,
    )
    verdict = bond_verdict(
        result,
        ttv_limit=question.ttv_limit,
        rebond_cost=question.rebond_cost,
        wafer_value=question.wafer_value,
    )
    return MeasuredBond(result=result, verdict=verdict, wafer=results[0], carrier=results[1], stack=results[2])


def feasibility_of_file(path: Path, *, gauge: Gauge | None = None, release: ReleaseAssumptions) -> Feasibility:
    """Whether the order in an order file can be met, and by which limit it stands or falls."""
    from lapwright.formats.order_toml import read_order
    from lapwright.library import load
    from lapwright.process.feasibility import feasibility
    from lapwright.process.workplaces import ASSUMED_GAUGE

    return feasibility(read_order(path), load(), gauge=gauge or ASSUMED_GAUGE, release=release)


# ----------------------------------------------------------------------------------------------------------------------


def _only_set(path: Path, piece: str | None, option: str) -> ThicknessSet:
    """The one set of a file, or the one of a piece."""
    file = read_readings(path)
    if piece is None and len(file) > 1:
        listed = ", ".join(file.wafers[:10])
        raise WrongQuestion(f"{file.name} holds {len(file)} pieces ({listed}); say which with {option}.")
    chosen = [one for one in file.sets() if piece in (None, one.piece)]
    if not chosen:
        raise NotFound(_not_in_file(piece, file))
    return chosen[0]


def _bond_uncertainties(
    results: tuple[ThicknessResult, ThicknessResult, ThicknessResult], gauge: Gauge | None
) -> BondUncertainties | None:
    """How well the three maps are known, None when it is not known for one of them."""
    wafer, carrier, stack = (map_uncertainty(one, gauge=gauge) for one in results)
    if wafer is None or carrier is None or stack is None:
        return None
    return BondUncertainties(wafer=wafer, carrier=carrier, stack=stack)


def _completed(readings: ThicknessSet, given: Conditions) -> Conditions:
    own = readings.conditions
    filled: dict[str, object] = {}
    faults: list[Fault] = []
    for name in Conditions.__slots__:
        said, told = getattr(own, name), getattr(given, name)
        filled[name] = told if said is None else said
        if said is not None and told is not None and said != told:
            sentence = (
                f"{name.replace('_', ' ')} of {readings.piece!r} is {said} in the file and {told} as given; "
                "leave one of them out."
            )
            faults.append(Fault(sentence=sentence, field=name, code="wafer.contradiction"))
    if faults:
        raise BadInput(faults)
    return Conditions(**filled)  # type: ignore[arg-type]  # names and kinds are those of the class itself


def _faults_in_rows(read: ReadSet, error: BadInput) -> list[Fault]:
    """The faults of one wafer with the row of the file in which each site first stands."""
    labels = read.readings.labels
    first = {labels[site]: int(row) for site, row in zip(read.readings.site[::-1], read.rows[::-1], strict=True)}
    return [
        replace(
            fault,
            row=first.get(fault.field or "", fault.row),
            sentence=f"Wafer {read.readings.piece!r}: {fault.sentence}",
        )
        for fault in error.faults
    ]


def _not_in_file(wafer: str | None, file: ReadingsFile) -> str:
    import difflib

    near = difflib.get_close_matches(wafer or "", file.wafers, 1)
    hint = f"Did you mean {near[0]!r}?" if near else f"It holds {', '.join(file.wafers[:10])}."
    return f"{file.name} holds no wafer {wafer!r}. {hint}"


def _nothing_good(void: list[VoidSet]) -> CannotAnswer:
    if len(void) == 1:
        return void[0].error
    faults = [
        Fault(sentence=f"{one.piece}: {one.error.sentence}", field=one.piece, code=one.error.code) for one in void
    ]
    return SetVoid(f"None of the {len(void)} sets can be used; the first: {faults[0].sentence}", faults=faults)
