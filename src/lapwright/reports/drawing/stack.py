"""The stack through the stages: what is left of the wafer, on what it sits, and what has been taken away.

One column a step, all in one thickness scale, worked face up. Removed material stays visible as a dashed ghost, the
damage left under the worked face is a hatched band, the target is a line across. The carrier is many times thicker
than the wafer: it is cut by a break line and its thickness is written.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from lapwright.errors import OutOfValidRange, TooFewSites
from lapwright.reports.drawing.ink import (
    ENGLISH,
    INK,
    PAPER,
    Lettering,
    clean,
    drawing,
    element,
    figure,
    hatch,
    own_id,
    table,
    wrapped,
    written,
)
from lapwright.reports.drawing.scale import Scale, even_scale

StepState = Literal["done", "next", "planned"]

_TALL = 220.0
_LEFT, _TOP, _RIGHT = 62.0, 44.0, 92.0
_COLUMN, _BLOCK = 96.0, 76.0
_CARRIER, _OVERHANG = 34.0, 6.0
_LETTERS = 12  # a line of text under a column
_SIZE, _SMALL = 14.0, 13.0  # letters that are still read on a sheet of paper, where the drawing shrinks
_LEAST_BOND = 2.0  # a bond of a few µm stays visible as a line; its number is written


@dataclass(frozen=True, slots=True, kw_only=True)
class StackStep:
    """The stack after one step. Lengths in m; `carrier` None = not bonded, `damage` is the depth below the face."""

    label: str
    wafer: float
    carrier: float | None = None
    bond: float | None = None
    damage: float = 0.0
    state: StepState = "planned"
    note: str = ""

    def __post_init__(self) -> None:
        for name in ("wafer", "carrier", "bond", "damage"):
            value = getattr(self, name)
            if value is not None and not value >= 0.0:
                raise OutOfValidRange(f"{name} of step {self.label!r}", value, "zero or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class StackWords:
    """The words of this drawing."""

    title: str = "The stack through the stages"
    target: str = "target"
    carrier: str = "carrier"
    bond: str = "bond"
    removed: str = "removed"
    damage: str = "damage left"
    done: str = "done"
    next: str = "next"
    planned: str = "planned"
    not_to_scale: str = "carrier cut short, all else to scale"


WORDS = StackWords()


def stack_through_stages(
    steps: Sequence[StackStep],
    *,
    target_thickness: float | None = None,
    words: StackWords = WORDS,
    lettering: Lettering = ENGLISH,
) -> str:
    """SVG of the stack through its steps, in the order they happen."""
    if not steps:
        raise TooFewSites("A drawing of the stack", measured=0, needed=1)
    thickest = max(target_thickness or 0.0, *(step.wafer for step in steps)) * 1e6
    scale = even_scale(0.0, thickest, marks=6)
    name = own_id("damage", *steps)
    width = _LEFT + _COLUMN * len(steps) + _RIGHT
    columns = [
        _column(i, step, steps[i - 1] if i else None, scale, name, words, lettering) for i, step in enumerate(steps)
    ]
    text_y = _text_top(steps)
    columns += [_words_below(i, step, text_y, words) for i, step in enumerate(steps)]
    legend_y = text_y + 40.0 + max(_text_height(step) for step in steps)
    return drawing(
        element("defs", hatch(name, colour="#a8321a", gap=5.0)),
        _ruler(scale, lettering),
        *columns,
        _target(target_thickness, scale, width, words, lettering),
        _legend(legend_y, name, steps, words),
        title=words.title,
        desc=_description(steps, words, lettering),
        width=max(width, 470.0),
        height=legend_y + 16.0,
        lettering=lettering,
        data=table(
            ("stage", "state", "wafer_um", "bond_um", "carrier_um", "damage_um"),
            (
                (
                    step.label,
                    step.state,
                    *(_in_um(value) for value in (step.wafer, step.bond, step.carrier, step.damage)),
                )
                for step in steps
            ),
        ),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _in_um(value: float | None) -> float | None:
    return None if value is None else value * 1e6


def _height(thickness: float, scale: Scale) -> float:
    return _TALL * thickness * 1e6 / scale.high


def _ruler(scale: Scale, lettering: Lettering) -> str:
    """Thickness of the wafer from its bonded face up; the zero is the top of the bond."""
    parts = [written(_LEFT - 12.0, _TOP - 14.0, "µm", size=_SMALL, anchor="end")]
    for tick in scale.ticks:
        y = _TOP + _TALL * (1.0 - scale.share(tick))
        parts.append(element("path", d=f"M{_LEFT - 8:.1f} {y:.1f}h5", stroke="currentColor", stroke_width=0.8))
        parts.append(written(_LEFT - 12.0, y + 4.0, figure(tick, scale.decimals, lettering), size=_SMALL, anchor="end"))
    return "".join(parts)


def _column(
    place: int,
    step: StackStep,
    before: StackStep | None,
    scale: Scale,
    pattern: str,
    words: StackWords,
    lettering: Lettering,
) -> str:
    x, base = _LEFT + _COLUMN * place + (_COLUMN - _BLOCK) / 2.0, _TOP + _TALL
    tall = _height(step.wafer, scale)
    parts = [_removed(x, base - tall, step, before, scale, lettering), _wafer(x, base, tall, step, scale, pattern)]
    parts.append(_thickness(x, base - tall, tall, step, lettering))
    if step.carrier is not None:
        is_new = before is None or (before.carrier, before.bond) != (step.carrier, step.bond)
        parts.append(_carrier(x, base, step, scale, f"{words.bond} " if is_new else None, lettering))
    return element("g", *parts, class_=f"step {step.state}")


def _words_below(place: int, step: StackStep, y: float, words: StackWords) -> str:
    """State, name and note of a step under its column."""
    x = _LEFT + _COLUMN * place + (_COLUMN - _BLOCK) / 2.0
    parts = [
        _state_mark(x - 1.0, y - 4.5, step.state),
        written(x + 9.0, y, getattr(words, step.state), size=_SMALL),
        wrapped(x - 6.0, y + 19.0, step.label, columns=_LETTERS, size=_SIZE),
    ]
    if step.note:
        note_y = y + 19.0 + 1.25 * _SIZE * _lines(step.label)
        parts.append(wrapped(x - 6.0, note_y, step.note, columns=_LETTERS, size=_SMALL))
    return element("g", *parts, class_="step-words")


def _text_top(steps: Sequence[StackStep]) -> float:
    """Where the words begin: below the carriers, or at once below the wafers where none is bonded."""
    is_bonded = any(step.carrier is not None for step in steps)
    return _TOP + _TALL + (_CARRIER + 46.0 if is_bonded else 26.0)


def _lines(text: str) -> int:
    return len(textwrap.wrap(text, _LETTERS)) or 1


def _text_height(step: StackStep) -> float:
    return 1.25 * (_SIZE * _lines(step.label) + (_SMALL * _lines(step.note) if step.note else 0.0))


def _thickness(x: float, face: float, tall: float, step: StackStep, lettering: Lettering) -> str:
    """The number in the middle of the wafer when it fits, else above it on a light rim."""
    middle, text = x + _BLOCK / 2.0, clean(_um(step.wafer, lettering))
    look = {"font_size": _SIZE, "text_anchor": "middle", "fill": INK, "stroke": PAPER, "stroke_width": 2.4}
    y = face + tall / 2.0 + 5.0 if tall > 26.0 else face - 5.0
    return element("text", text, x=middle, y=y, paint_order="stroke", **look)


def _removed(
    x: float, face: float, step: StackStep, before: StackStep | None, scale: Scale, lettering: Lettering
) -> str:
    """What this step took, as a dashed ghost above the face that is left."""
    if before is None or before.wafer <= step.wafer:
        return ""
    tall = _height(before.wafer - step.wafer, scale)
    ghost = element(
        "rect", x=x, y=face - tall, width=_BLOCK, height=tall, fill="none", stroke="#7b8794", stroke_width=1.0,
        stroke_dasharray="4 3", class_="faint-line",
    )  # fmt: skip
    text = "\u2212" + _um(before.wafer - step.wafer, lettering)
    y = face - tall / 2.0 + 4.0 if tall > 44.0 else face - tall - 6.0
    return ghost + written(x + _BLOCK / 2.0, y, text, size=12.5, anchor="middle")


def _wafer(x: float, base: float, tall: float, step: StackStep, scale: Scale, pattern: str) -> str:
    face = base - tall
    fill = {"done": "#8fc1b5", "next": "#d8e6c0", "planned": "#e4e9ec"}[step.state]
    parts = [element("rect", x=x, y=face, width=_BLOCK, height=tall, fill=fill, stroke="#18222c", stroke_width=1.0)]
    if step.damage > 0.0:
        deep = min(_height(step.damage, scale), tall)
        parts.append(element("rect", x=x, y=face, width=_BLOCK, height=deep, fill=f"url(#{pattern})", class_="damage"))
    return "".join(parts)


def _carrier(x: float, base: float, step: StackStep, scale: Scale, word: str | None, lettering: Lettering) -> str:
    """The bond and the carrier cut short; with a `word` the bond is written below, once for what stays the same."""
    bond = max(_height(step.bond or 0.0, scale), _LEAST_BOND)
    top, left, right = base + bond, x - _OVERHANG, x + _BLOCK + _OVERHANG
    low = top + _CARRIER - 8.0
    wave = f"M{left:.1f} {top:.1f}H{right:.1f}V{low:.1f}l-22 -5l-22 10l-22 -10L{left:.1f} {low:.1f}Z"
    text = f"{word}{_um(step.bond, lettering)}" if step.bond is not None and word is not None else ""
    return "".join([
        element("rect", x=x, y=base, width=_BLOCK, height=bond, fill="#c98a1b", class_="bond"),
        element("path", d=wave, fill="#c7d0d8", stroke="#18222c", stroke_width=0.8, class_="carrier"),
        element("text", f"{figure((step.carrier or 0.0) * 1e3, 2, lettering)} mm", x=x + _BLOCK / 2.0, y=top + 16.0,
                font_size=_SMALL, text_anchor="middle", fill="#18222c"),
        written(left, low + 20.0, text, size=_SMALL) if text else "",
    ])  # fmt: skip


def _state_mark(x: float, y: float, state: StepState) -> str:
    """Done: full disc. Next: triangle. Planned: ring. Told by shape, the word stands beside it."""
    if state == "next":
        return element("path", d=f"M{x - 4:.1f} {y - 5:.1f}l9 5l-9 5Z", fill="#a8321a", class_="accent")
    fill = "currentColor" if state == "done" else "none"
    return element("circle", cx=x, cy=y, r=4.0, fill=fill, stroke="currentColor", stroke_width=1.2)


def _target(target: float | None, scale: Scale, width: float, words: StackWords, lettering: Lettering) -> str:
    if target is None:
        return ""
    y = _TOP + _TALL - _height(target, scale)
    line = element(
        "path", d=f"M{_LEFT:.1f} {y:.1f}H{width - _RIGHT:.1f}", stroke="#a8321a", stroke_width=1.2,
        stroke_dasharray="8 3 2 3", class_="accent-line", fill="none",
    )  # fmt: skip
    x = width - _RIGHT + 6.0
    return "".join(
        [
            line,
            written(x, y - 2.0, words.target, size=_SIZE, fill="#a8321a", class_="accent"),
            written(x, y + 15.0, _um(target, lettering), size=_SIZE, fill="#a8321a", class_="accent"),
        ]
    )


def _legend(y: float, pattern: str, steps: Sequence[StackStep], words: StackWords) -> str:
    """What the drawing shows, and nothing that it does not."""
    parts, x = [], _LEFT - 8.0
    is_bonded = any(step.carrier is not None for step in steps)
    swatches: tuple[tuple[str, dict[str, str] | None, bool], ...] = (
        (words.removed, {"fill": "none", "stroke": "#7b8794", "stroke_dasharray": "4 3"}, len(steps) > 1),
        (words.damage, {"fill": f"url(#{pattern})", "stroke": "#a8321a"}, any(step.damage > 0.0 for step in steps)),
        (words.bond, {"fill": "#c98a1b"}, is_bonded),
        (words.not_to_scale, None, is_bonded),
    )
    for text, look in ((text, look) for text, look, is_shown in swatches if is_shown):
        if look is not None:
            parts.append(element("rect", x=x, y=y - 9.0, width=16.0, height=10.0, **look))
            x += 20.0
        parts.append(written(x, y, text, size=_SMALL))
        x += 8.2 * len(text) + 16.0
    return "".join(parts)


def _um(thickness: float, lettering: Lettering) -> str:
    return f"{figure(thickness * 1e6, 1, lettering)} µm"


def _description(steps: Sequence[StackStep], words: StackWords, lettering: Lettering) -> str:
    parts = []
    for step in steps:
        damage = f", {words.damage} {_um(step.damage, lettering)}" if step.damage > 0.0 else ""
        parts.append(f"{step.label} ({getattr(words, step.state)}): {_um(step.wafer, lettering)}{damage}")
    return "; ".join(parts) + "."
