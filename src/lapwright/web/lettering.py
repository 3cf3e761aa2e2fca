"""Drawings with the words and the decimal mark of the page's language."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from django.utils.formats import get_format
from django.utils.translation import get_language, pgettext
from django.utils.translation import gettext as _

from lapwright.model.plan import Plan, Stage
from lapwright.reports import drawing
from lapwright.reports.drawing import ENGLISH, BudgetWords, Lettering, RulerWords, StackWords, WheelWords
from lapwright.reports.drawing.signal_chart import SignalWords
from lapwright.reports.drawing.signal_chart import signal_chart as plain_signal_chart
from lapwright.reports.drawing.study_chart import StudyWords
from lapwright.reports.drawing.study_chart import study_chart as plain_study_chart
from lapwright.web.sentences import said


def lettering() -> Lettering:
    """What drawings of thickness maps and charts say."""
    if (get_language() or "en").startswith("en"):
        return ENGLISH
    return Lettering(
        decimal=str(get_format("DECIMAL_SEPARATOR")),
        not_measured=_("not measured"),
        thickest=_("thickest edge"),
        wedge=_("wedge"),
        o_clock=_("o'clock"),
        no_direction=_("direction cannot be told"),
        values_shown=_("{shown} of {all} values written; the rest stand in the table"),
        only_between=_("coloured between the sites only"),
        edge_exclusion=_("edge exclusion"),
        worked_face=_("seen on the worked face"),
        wafer_map=_("Thickness map"),
        site=_("site"),
    )


def wafer_map(*what: Any, **how: Any) -> str:
    """SVG of a thickness map in the language of the page."""
    return drawing.wafer_map(*what, **{"lettering": lettering()} | how)


def line_chart(*what: Any, **how: Any) -> str:
    """SVG of lines over an axis in the language of the page."""
    return drawing.line_chart(*what, **{"lettering": lettering()} | how)


def stack_through_stages(steps: Sequence[drawing.StackStep], **how: Any) -> str:
    """SVG of the stack through the stages in the language of the page, stages by the names it has for them."""
    named = [replace(one, label=said(one.label)) for one in steps]
    words = StackWords(
        title=_("The stack through the stages"),
        target=_("target"),
        carrier=_("carrier"),
        bond=_("bond"),
        removed=_("removed"),
        damage=_("damage left"),
        done=_("done"),
        next=pgettext("step", "next"),
        planned=_("planned"),
        not_to_scale=_("carrier cut short, all else to scale"),
        enlarged=_("the last of it, enlarged {times} times"),
    )
    return drawing.stack_through_stages(named, words=words, lettering=lettering(), **how)


def jig_wheel(adjusters: Sequence[drawing.WheelAdjuster], **how: Any) -> str:
    """SVG of a jig with its adjusters in the language of the page."""
    words = WheelWords(
        title=_("How to turn the adjusters"),
        operator=_("seen from the operator's side (mirrored against the wafer's face)"),
        worked_face=_("seen on the worked face"),
        division=_("division"),
        divisions=_("divisions"),
        stays=_("stays"),
        clockwise=_("clockwise"),
        counter_clockwise=_("counter-clockwise"),
        mark=_("orientation mark"),
    )
    return drawing.jig_wheel(adjusters, words=words, lettering=lettering(), **how)


def budget_bars(bars: Sequence[drawing.BudgetBar], **how: Any) -> str:
    """SVG of contributions to an uncertainty in the language of the page."""
    words = BudgetWords(combined=_("combined standard uncertainty"), share=_("of the variance"))
    named = [replace(one, name=said(one.name)) for one in bars]
    how.setdefault("words", words)
    return drawing.budget_bars(named, lettering=lettering(), **how)


def route_rulers(plans: Sequence[Plan]) -> str:
    """SVG of routes side by side in the language of the page; routes, stages and tools by the names it has for them."""
    words = RulerWords(
        title=_("Routes side by side"),
        remains=_("remains"),
        hours=_("h"),
        minutes=_("min"),
        chance=_("inside every limit"),
        thickness=_("thickness, µm"),
        enlarged=_("the last of it enlarged, µm"),
        damage=_("red: damage under the new face, pale as deep as it may be"),
    )
    named = [replace(one, name=said(one.name), stages=tuple(map(_named, one.stages))) for one in plans]
    return drawing.route_rulers(named, words=words, lettering=lettering())


def signal_chart(*what: Any, **how: Any) -> str:
    """SVG of one signal in the language of the page."""
    words = SignalWords(
        points=_("{count} points from {first} to {last}"),
        centre=_("centre"),
        lower=_("lower limit"),
        upper=_("upper limit"),
        signalled=_("signalled"),
        before=_("{letter} before point {number}"),
        order=_("points in the order taken"),
    )
    return plain_signal_chart(*what, words=words, lettering=lettering(), **how)


def study_chart(*what: Any, **how: Any) -> str:
    """SVG of the readings of a study in the language of the page."""
    words = StudyWords(
        axis=_("{unit} from the mean of its part"),
        told=_("{readings} readings of {parts} parts by {operators}, {unit} from each part's mean."),
    )
    return plain_study_chart(*what, words=words, lettering=lettering(), **how)


# ----------------------------------------------------------------------------------------------------------------------


def _named(stage: Stage) -> Stage:
    tools = said(stage.abrasive_name), said(stage.plate_name)
    return replace(stage, name=said(stage.name), abrasive_name=tools[0], plate_name=tools[1])
