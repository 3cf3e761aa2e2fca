"""Numbers and marks in templates: SI in, text with its unit out."""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache

from django import template
from django.template.loader import render_to_string
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from lapwright.app.clock_runs import ClockAdvice
from lapwright.model.job import RecordedFinding, WaferState
from lapwright.model.odd_ones import OddChoice
from lapwright.model.order import Quantity
from lapwright.model.plan import Stage
from lapwright.model.practice import PracticeTask
from lapwright.model.readings import Moment
from lapwright.model.surface_record import RecordedSurface
from lapwright.model.verdict import Verdict
from lapwright.model.wafer import Outline, Rectangle, Round
from lapwright.model.wafer_names import named_together
from lapwright.web.limits import bare_text, length_text, limit_text
from lapwright.web.odd_views import done_word
from lapwright.web.sentences import decimal, printed
from lapwright.web.words import (
    MARK_WORDS,
    MEANINGS,
    MOMENTS,
    QUANTITIES,
    RIGHTS_WORDS,
    STATES,
    clock,
    material_name,
    tool_name,
)

register = template.Library()

MOST_MARKS = 2000  # of which is kept how they are drawn


@register.filter
def right_word(name: str) -> str:
    """A role, or what a token may do, in words."""
    return str(RIGHTS_WORDS[name])


@register.filter
def meaning_word(meaning: str) -> str:
    """What a signature means, in words."""
    return str(MEANINGS[meaning])


@register.filter
def um(value: float | str | None, digits: int = 1) -> str:
    """A length in µm with its unit; a value that is not there (None, or what templates make of it) is a dash."""
    return "–" if value is None or isinstance(value, str) else printed(value, "µm", "length", digits=int(digits))


@register.filter
def um_bare(value: float | str | None, digits: int = 1) -> str:
    """A length in µm without its unit, for a column whose head carries it."""
    return um(value, digits).replace("\u00a0µm", "")


@register.filter
def number_unit(text: str) -> SafeString:
    """A printed number with its unit in a span of its own, so that the digits alone can be read across the room."""
    number, gap, unit = text.rpartition("\u00a0")
    return format_html('{}<span class="of">{}{}</span>', number, gap, unit) if gap else format_html("{}", text)


@register.filter
def size(value: float) -> float:
    """A value without its sign, where a word says it."""
    return abs(value)


@register.filter
def mm(value: float | None, digits: int = 1) -> str:
    """A length in mm with its unit, without noughts at the end."""
    if value is None:
        return "–"
    number, space, unit = printed(value, "mm", "length", digits=int(digits)).partition("\u00a0")
    return _without_noughts(number) + space + unit


@register.filter
def minutes(value: float | None) -> str:
    """A time in whole minutes, from an hour on as hours and minutes."""
    if value is None:
        return "–"
    whole = round(value / 60.0)
    if whole < 60:
        return f"{whole}\u00a0min"
    return f"{whole // 60}\u00a0h\u00a0{whole % 60:02d}\u00a0min"


@register.filter
def minutes_long(value: float | None) -> str:
    """A time in minutes and seconds, as a clock by the plate shows it."""
    if value is None:
        return "–"
    whole = round(value)
    return f"{whole // 60}:{whole % 60:02d}\u00a0min"


@register.filter
def twice(value: float) -> float:
    """The expanded uncertainty (k = 2) of a standard one."""
    return 2.0 * value


@register.filter
def check_word(name: str) -> str:
    """What was looked at before a run."""
    words = {
        "station": _("Station"),
        "removal": _("Removal"),
        "recorder": _("Recorder"),
        "zero": _("Zero"),
        "calibration": _("Calibration"),
        "gauge": _("Gauge"),
        "clock": _("Rate"),
        "bias": _("Gauge in process"),
        "stop": _("Stop"),
        "settings": _("Settings"),
    }
    return words.get(name, name)


@register.filter
def share(value: float | None) -> str:
    """A share of one as per cent; never 0 % or 100 % for what is merely close."""
    if value is None or not math.isfinite(value):
        return "–"
    if 0.0 < value < 0.01:
        return "<\u00a01\u00a0%"
    if 0.99 < value < 1.0:
        return ">\u00a099\u00a0%"
    return f"{100.0 * value:.0f}\u00a0%"


@register.filter
def chance(value: float | None) -> str:
    """A chance as per cent: however many imagined jobs ended well, the next one may not."""
    return share(value if value is None else min(max(value, 1e-9), 1.0 - 1e-9))


register.filter("clock", clock)


@register.filter
def wafer_names(names: Iterable[str]) -> str:
    """Wafer names in short, their common stem once."""
    return named_together(names)


@register.filter
def tail(name: str) -> str:
    """The last part of a wafer's name."""
    return name.rpartition("-")[2]


@register.filter
def outline_text(outline: Outline) -> str:
    """An outline in words: "⌀ 50.8 mm, flat"."""
    if isinstance(outline, Round):
        marks = {"flat": _("flat"), "notch": _("notch")}
        return ", ".join(filter(None, (f"⌀\u00a0{mm(outline.diameter, 3)}", marks.get(outline.mark))))
    if isinstance(outline, Rectangle):
        return f"{mm(outline.width, 2)} × {mm(outline.height, 2)}"
    return _("odd outline, %(n)d corners") % {"n": len(outline.corners)}


@register.filter
def datum_word(datum: str | None) -> str:
    """From which zero a preset counts."""
    words = {
        "first_touch": _("from first touch"),
        "conforming": _("on a conforming face"),
        "reference_block": _("from the reference block"),
    }
    return words.get(datum or "", "")


@register.filter
def state_word_of(state: WaferState) -> str:
    """The state of a wafer in words."""
    return str(STATES[state])


@register.filter
def rate_range(stage: Stage) -> str:
    """The rate of a stage with the interval it may lie in, in µm/min."""
    if stage.rate is None:
        return "–"
    return _rates(stage.rate, stage.rate_low, stage.rate_high)


@register.filter
def clock_rate(advice: ClockAdvice) -> str:
    """The rate that a run by the clock rests on, with its interval, in µm/min."""
    low, middle, high = advice.rates
    return _rates(middle, low, high)


@register.filter
def load_steps(advice: ClockAdvice) -> list[dict[str, object]]:
    """Which pieces carry the load from when on, for how long, and what they lose."""
    begins, told = 0.0, []
    for step in advice.steps:
        names = [advice.pieces[piece].wafer_id for piece in step.pieces]
        told.append({"begins": begins, "time": step.time, "removal": step.removal, "names": names})
        begins += step.time
    return told


@register.filter
def tool(stage: Stage) -> str:
    """What a stage works with: abrasive and plate, or slurry and pad."""
    return tool_name(stage.abrasive, stage.plate)


@register.filter
def material(material_id: str) -> str:
    """A material by its name."""
    return material_name(material_id)


@register.filter
def quantity_word(verdict: Verdict) -> str:
    """The quantity that was judged."""
    return str(QUANTITIES[verdict.limit.quantity])


@register.filter
def quantity_name(quantity: Quantity) -> str:
    """A quantity in words."""
    return str(QUANTITIES[quantity])


@register.filter
def practice_rate(task: PracticeTask) -> str:
    """The rate that a practice run is said to have, in µm/min."""
    return decimal(f"{task.rate * 60e6:.1f}")


@register.filter
def decision_word(choice: OddChoice) -> str:
    """What was decided about an odd wafer."""
    return done_word(choice)


@register.filter
def finding_text(found: RecordedFinding) -> str:
    """The value of a finding with its unit and, where it is known, its expanded uncertainty."""
    digits = 2 if found.unit == "nm" else 3
    value = printed(found.value, found.unit, "length", digits=digits)
    if found.expanded_uncertainty is None:
        return value
    return f"{value} ± {printed(found.expanded_uncertainty, found.unit, 'length', digits=digits)} (95 %)"


@register.filter
def face_words(face: RecordedSurface) -> str:
    """The one or two numbers of a measured face."""
    from lapwright.web.surface_views import short_numbers

    return short_numbers(face)


@register.filter
def moment_word(moment: Moment) -> str:
    """A moment of the job in words."""
    return str(MOMENTS[moment])


@register.filter
def limit_word(verdict: Verdict) -> str:
    """The limit it was judged by."""
    return limit_text(verdict.limit)


@register.filter
def value_word(verdict: Verdict) -> str:
    """The value judged, with its expanded uncertainty."""
    if verdict.expanded_uncertainty is None:
        return length_text(verdict.value, verdict.limit, digits=2)
    value = bare_text(verdict.value, verdict.limit, digits=2)
    return f"{value} ± {length_text(verdict.expanded_uncertainty, verdict.limit, digits=2)}"


@register.filter
def verdict_word(verdict: Verdict) -> str:
    """Quantity and outcome: "TTV conforms"."""
    return f"{quantity_word(verdict)} {state_word(verdict.outcome)}"


@register.inclusion_tag("lapwright/parts/wedge_arrow.html")
def wedge_arrow(azimuth: float | None) -> dict[str, object]:
    """A small arrow to the thickest edge, as the wafer lies: mark at the bottom."""
    turn = None if azimuth is None else f"{-math.degrees(azimuth):.0f}"
    return {"turn": turn}


@register.filter
def as_drawing(svg: str) -> SafeString:
    """A drawing of our own as it is; drawings escape every text they carry when they are made."""
    return mark_safe(svg)  # noqa: S308  # only reports.drawing makes these


@register.simple_tag
def mark(state: str, word: str = "") -> SafeString:
    """The drawn mark of a state with its word beside it."""
    return _mark(state, conditional_escape(word or state_word(state)))


@lru_cache(maxsize=MOST_MARKS)
def _mark(state: str, word: SafeString) -> SafeString:
    """The same, drawn once: a long table holds hundreds that are alike."""
    return render_to_string("lapwright/parts/mark.html", {"state": state, "word": word})


def state_word(state: str) -> str:
    """The word that stands beside the drawn mark of a state."""
    return str(MARK_WORDS.get(state, state))


# ----------------------------------------------------------------------------------------------------------------------


def _without_noughts(number: str) -> str:
    return number.rstrip("0").rstrip(".,") if "." in number or "," in number else number


def _rates(middle: float, low: float | None, high: float | None) -> str:
    per_minute = [None if rate is None else rate * 60e6 for rate in (middle, low, high)]
    digits = 3 if (per_minute[0] or 0.0) < 0.1 else 2
    shown = [decimal(f"{rate:.{digits}f}") for rate in per_minute if rate is not None]
    return shown[0] if len(shown) < 3 else f"{shown[0]} ({shown[1]}…{shown[2]})"
