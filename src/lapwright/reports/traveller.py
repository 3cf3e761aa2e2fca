"""The traveller on paper: where the wafer is, what happened, what is next, with the number to dial in.

One sheet that goes with the wafer: the stack drawn through the stages, the next step with preset, jig correction and
cautions, then the steps with what was planned and what was done, and room to write by hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from lapwright.errors import BadInput, Fault
from lapwright.model.plan import PresetDatum
from lapwright.reports.blocks import Block, Heading, Pairs, Paper, Pictures, Table, Text, paper_html
from lapwright.reports.certificate_page import drawing_letters
from lapwright.reports.drawing import (
    Lettering,
    StackStep,
    StackWords,
    WheelAdjuster,
    WheelWords,
    jig_wheel,
    stack_through_stages,
)
from lapwright.reports.drawing.bars import code_bars
from lapwright.reports.drawing.ink import SANS, figure
from lapwright.reports.drawing.stack import StepState
from lapwright.reports.drawing.wheel import View
from lapwright.reports.words import LANGUAGES, Language, Words


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetStep:
    """One line of the traveller: planned, done, by whom, when. The texts carry their own units.

    `when` is written by the clock it is given in.
    """

    label: str
    planned: str = ""
    done: str = ""
    who: str = ""
    when: datetime | None = None
    state: StepState = "planned"


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """What has to be done now. `preset` in m; `adjusters` empty = the jig stays as it is; cautions as they are read.

    `number` is what is dialled in where it is no preset: what it is and its text, such as a time.
    """

    label: str
    preset: float | None = None
    preset_datum: PresetDatum | None = None
    number: tuple[str, str] | None = None
    adjusters: tuple[WheelAdjuster, ...] = ()
    view: View = "operator"
    cautions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if (self.preset is None) != (self.preset_datum is None):
            sentence = "A preset counts from a named zero; give both preset and preset_datum, or neither."
            raise BadInput([Fault(sentence=sentence, field="preset_datum")])


@dataclass(frozen=True, slots=True, kw_only=True)
class TravellerData:
    """A whole job sheet for one wafer. Lengths in m; times with a time zone. `code` is drawn to be scanned."""

    order_id: str
    wafer_id: str
    laboratory: str
    customer: str
    material: str
    target_thickness: float
    stack: tuple[StackStep, ...]
    steps: tuple[SheetStep, ...]
    printed: datetime
    next: NextStep | None = None
    due: date | None = None
    notes: tuple[str, ...] = ()
    simulated: bool = False
    code: str | None = None


def traveller_html(data: TravellerData, language: Language = "en") -> str:
    """The job sheet as one self-contained HTML file that prints on A4."""
    words = LANGUAGES[language]
    letters = drawing_letters(words, SANS)
    blocks: list[Block] = [Heading(text=f"{words['sheet_title']} {data.wafer_id}", level=1)]
    if data.simulated:
        blocks.append(Text(text=words["sheet_simulated"], tone="notice"))
    if data.code is not None:
        blocks.append(Pictures(svgs=(code_bars(data.code, title=data.wafer_id),), alts=(data.code,)))
    blocks.append(Pairs(rows=_identification(data, words, letters)))
    blocks += [Heading(text=words["sheet_next"]), *_next(data.next, words, letters)]
    if data.stack:
        drawn = stack_through_stages(
            data.stack, target_thickness=data.target_thickness, words=_stack_words(words), lettering=letters
        )
        blocks += [Heading(text=words["sheet_stack"]), Pictures(svgs=(drawn,), alts=(words["sheet_stack"],))]
    blocks += [Heading(text=words["sheet_steps"])]
    blocks.append(_steps(data, words) if data.steps else Text(text=words["sheet_no_steps"]))
    if data.notes:
        blocks += [Heading(text=words["sheet_notes"]), *(Text(text=note) for note in data.notes)]
    printed = f"{words['sheet_printed']} {_moment(data.printed)} {data.printed.tzname()}"
    footer = f"{data.order_id} · {data.wafer_id} · {printed}"
    title = f"{words['sheet_title']} {data.wafer_id}"
    return paper_html(Paper(language=language, title=title, blocks=tuple(blocks), footer=footer))


# ----------------------------------------------------------------------------------------------------------------------


def _identification(data: TravellerData, words: Words, letters: Lettering) -> tuple[tuple[str, str], ...]:
    rows = [
        (words["order_id"], data.order_id),
        (words["laboratory"], data.laboratory),
        (words["customer"], data.customer),
        (words["material"], data.material),
        (words["target_thickness"], _um(data.target_thickness, letters)),
    ]
    if data.due is not None:
        rows.append((words["sheet_due"], data.due.isoformat()))
    return tuple(rows)


def _next(step: NextStep | None, words: Words, letters: Lettering) -> list[Block]:
    if step is None:
        return [Text(text=words["sheet_nothing_next"])]
    blocks: list[Block] = [Text(text=step.label, tone="notice")]
    if step.preset is not None:
        datum = words[f"datum_{step.preset_datum}"]
        preset = f"{_um(step.preset, letters)}, {words['sheet_datum']} {datum}"
        blocks.append(Text(text=f"{words['sheet_preset']}: {preset}", tone="large"))
    elif step.number is not None:
        blocks.append(Text(text=": ".join(step.number), tone="large"))
    blocks += [Text(text=caution, tone="caution") for caution in step.cautions]
    if step.adjusters:
        blocks.append(Heading(text=words["sheet_jig"], level=3))
        wheel = jig_wheel(step.adjusters, view=step.view, words=_wheel_words(words), lettering=letters)
        blocks.append(Pictures(svgs=(wheel,), alts=(words["sheet_jig"],)))
    return blocks


def _steps(data: TravellerData, words: Words) -> Table:
    head = ("", "sheet_step", "sheet_planned", "sheet_done", "sheet_who", "sheet_when", "sheet_state")
    rows = tuple(
        (
            str(number),
            step.label,
            step.planned,
            step.done,
            step.who,
            _moment(step.when) if step.when else "",
            words[f"state_{step.state}"],
        )
        for number, step in enumerate(data.steps, 1)
    )
    return Table(head=tuple(words[name] if name else "" for name in head), rows=rows, ruled=True)


def _stack_words(words: Words) -> StackWords:
    return StackWords(
        title=words["sheet_stack"],
        target=words["stack_target"],
        carrier=words["stack_carrier"],
        bond=words["stack_bond"],
        removed=words["stack_removed"],
        damage=words["stack_damage"],
        done=words["state_done"],
        next=words["state_next"],
        planned=words["state_planned"],
        not_to_scale=words["stack_not_to_scale"],
        enlarged=words["stack_enlarged"],
    )


def _wheel_words(words: Words) -> WheelWords:
    return WheelWords(
        title=words["sheet_jig"],
        operator=words["wheel_operator"],
        worked_face=words["worked_face"],
        division=words["wheel_division"],
        divisions=words["wheel_divisions"],
        stays=words["stays"],
        clockwise=words["clockwise"],
        counter_clockwise=words["counter_clockwise"],
        mark=words["mark"],
    )


def _um(length: float, letters: Lettering) -> str:
    return f"{figure(length * 1e6, 1, letters)}\u00a0µm"


def _moment(at: datetime) -> str:
    return at.strftime("%Y-%m-%d\u00a0%H:%M").replace("-", "\u2011")  # one word, so that it stays in its line
