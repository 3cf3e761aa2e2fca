"""Drawings and lines of the pages Bond line, Tilt and Damage."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from django.utils.translation import gettext as _

from lapwright.app import readings
from lapwright.app.bench_advice import BondOutlook
from lapwright.app.runs import NextStage
from lapwright.app.wafer_damage import DamageView
from lapwright.model.job import RecordedBond
from lapwright.model.shelf import Jig
from lapwright.model.story import WaferStory
from lapwright.model.wafer import Outline, Wedge
from lapwright.process.bonding_trace import HeatTrace, TraceVerdict
from lapwright.reports.drawing.chart import Band, Level, Line
from lapwright.reports.drawing.damage_ruler import DamageColumn, DamageWords, damage_ruler
from lapwright.reports.drawing.wafer_map import map_scale
from lapwright.reports.drawing.wheel import Turn
from lapwright.web.figures import set_figures
from lapwright.web.lettering import lettering, line_chart, wafer_map
from lapwright.web.sentences import decimal, said
from lapwright.web.stages import moment_words, turn_of
from lapwright.web.words import MOMENTS, clock

_KELVIN = 273.15


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceView:
    """A heating trace with its drawing."""

    verdict: TraceVerdict
    drawing: str

    @property
    def offset_text(self) -> str:
        """Stack less setting, with a true minus; a dash where it cannot be told."""
        offset = self.verdict.offset
        return "–" if offset is None else decimal(f"{offset:+.1f}").replace("-", "\u2212") + "\u00a0K"

    @property
    def highest_c(self) -> float:
        """Highest temperature of the stack."""
        return self.verdict.highest - _KELVIN

    @property
    def fastest(self) -> tuple[float, float, float]:
        """Fastest heating, fastest cooling (as an amount) and the limit, K/min."""
        found = self.verdict
        return found.fastest_heating * 60.0, -found.fastest_cooling * 60.0, found.rate_limit * 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrewTurn:
    """What to do at one screw, in words: which, where, how many divisions, which way; `way` is empty when not known."""

    number: int
    clock: str
    divisions: float
    way: str
    effect: str

    @property
    def amount(self) -> float:
        """Divisions without a sign."""
        return abs(self.divisions)

    @property
    def stays(self) -> bool:
        """Whether it is not turned."""
        return math.isclose(self.divisions, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class WedgePoint:
    """The wafer's wedge in one set."""

    set_id: int
    when: str
    at: object
    wedge: Wedge
    clock: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WayLine:
    """One way to take the wafer off, its chances as text."""

    name: str
    chance: str
    low: str
    high: str
    time_low: float
    time_high: float
    needs_support: bool


def outlook_maps(outlook: BondOutlook, outline: Outline) -> list[str]:
    """The adhesive, and the wafer it would give; empty while the bond has not been judged."""
    result, numbers = outlook.result, outlook.bond.numbers
    if result is None or numbers is None:
        return []
    maps = [wafer_map(result.bond, outline, heading=_("Adhesive"), wedge=numbers.wedge)]
    if result.predicted is not None:
        heading = _("Wafer it would give")
        maps.append(wafer_map(result.predicted, outline, heading=heading, wedge=numbers.predicted_wedge))
    return maps


def source_maps(bond: RecordedBond, outline: Outline) -> list[str]:
    """The three maps a bond is computed from: wafer, carrier, stack, as deviations from their means on one scale."""
    ids = (bond.wafer_set_id, bond.carrier_set_id, bond.stack_set_id)
    found = []
    for set_id in ids:
        recorded = None if set_id is None else readings.show_set(set_id)
        result = None if recorded is None else set_figures(recorded, outline).result
        if recorded is None or result is None:
            return []
        deviation = replace(result.sites, thickness=np.array(result.sites.thickness) - result.mean)
        found.append((str(MOMENTS[recorded.moment]), result, deviation))
    scale = map_scale(*(deviation for _moment, _result, deviation in found))
    return [
        wafer_map(deviation, outline, heading=moment, scale=scale, wedge=result.wedge)
        for moment, result, deviation in found
    ]


def way_lines(outlook: BondOutlook | None) -> list[WayLine]:
    """The ways off, the smallest chance of breakage first."""
    names = {
        "slide_hot": _("slide off on a hot plate"),
        "solvent_edge": _("solvent from the edge"),
        "solvent_holes": _("solvent through a perforated carrier"),
        "release_heat": _("heat to the release temperature"),
    }
    return [
        WayLine(
            name=names[one.way],
            chance=_percent(one.chance.expected),
            low=_percent(one.chance.low),
            high=_percent(one.chance.high),
            time_low=one.time_low,
            time_high=one.time_high,
            needs_support=one.needs_support,
        )
        for one in (outlook.ways if outlook is not None else ())
    ]


def loss_text(outlook: BondOutlook | None) -> str:
    """What going on costs on average, as text; empty where it cannot be told."""
    if outlook is None or outlook.expected_loss is None:
        return ""
    return _("less than 1") if outlook.expected_loss < 1.0 else f"{outlook.expected_loss:.0f}"


def trace_view(trace: HeatTrace, verdict: TraceVerdict) -> TraceView:
    """The trace with the setting beside it and the stretches that were too fast."""
    minutes = np.asarray(trace.times) / 60.0
    stack = np.asarray(trace.temperatures) - _KELVIN
    keep = np.unique(np.linspace(0, len(minutes) - 1, min(len(minutes), 400)).astype(int))
    lines = [Line(x=minutes[keep], y=stack[keep], name=_("stack"))]
    if trace.settings is not None:
        lines.append(Line(x=minutes[keep], y=np.asarray(trace.settings)[keep] - _KELVIN, name=_("set")))
    low, high = float(stack.min()), float(stack.max())
    bands = [
        Band(
            x=np.array([one.start, max(one.end, one.start + 6.0)]) / 60.0,
            low=np.array([low, low]),
            high=np.array([high, high]),
            name=_("too fast") if number == 0 else "",
        )
        for number, one in enumerate(verdict.too_fast)
    ]
    drawing = line_chart(
        lines,
        x_label=_("time, min"),
        y_label=_("temperature, °C"),
        title=_("Heating and cooling"),
        bands=bands,
        levels=[] if verdict.melts is None else [Level(y=verdict.melts - _KELVIN, name=_("flows"))],
    )
    return TraceView(verdict=verdict, drawing=drawing)


def screw_turns(stage: NextStage | None, jig: Jig | None) -> list[ScrewTurn]:
    """What to do at each screw as the operator sees the jig; empty while there is no correction."""
    if stage is None or stage.correction is None:
        return []
    return [
        ScrewTurn(
            number=number,
            clock=clock(math.pi - one.azimuth),
            divisions=one.divisions_to_set,
            way=_way_words(turn_of(one.divisions_to_set, jig)),
            effect=_("wafer nearer the plate") if one.divisions_to_set > 0.0 else _("wafer away from the plate"),
        )
        for number, one in enumerate(stage.correction.moves, 1)
    ]


def wedge_course(story: WaferStory, outline: Outline) -> list[WedgePoint]:
    """The wedge of the wafer from closed set to closed set, oldest first."""
    course = []
    for one in story.sets:
        if one.state != "closed" or one.subject == "carrier":
            continue
        result = set_figures(one, outline).result
        if result is not None and result.wedge is not None:
            course.append(
                WedgePoint(
                    set_id=one.set_id,
                    when=moment_words(one, story),
                    at=one.opened.at,
                    wedge=result.wedge,
                    clock=clock(result.wedge.azimuth),
                )
            )
    return course


def damage_drawing(view: DamageView) -> str | None:
    """The damaged layer through the stages; None while there are none."""
    if not view.steps:
        return None
    columns = [
        DamageColumn(
            label=said(step.stage.stage.name), median=step.line.median, high=step.line.high, is_done=step.is_done
        )
        for step in view.steps
    ]
    words = DamageWords(
        title=_("Damage left after each stage"),
        face=_("worked face"),
        depth=_("depth, µm"),
        none=_("none"),
        at_most=_("at most"),
        to_come=_("to come"),
    )
    return damage_ruler(columns, words=words, lettering=lettering())


# ----------------------------------------------------------------------------------------------------------------------


def _percent(chance: float) -> str:
    """To two digits; orders of magnitude bear no more."""
    return decimal("< 0.01\u00a0%" if chance < 1e-4 else f"{float(f'{100.0 * chance:.2g}'):g}\u00a0%")


def _way_words(turn: Turn | None) -> str:
    if turn is None:
        return ""
    return _("clockwise") if turn == "clockwise" else _("counter-clockwise")
