"""The stack through the stages: what is left of the wafer, on what it sits, and what has been taken away.

One column a step, all in one thickness scale, worked face up. Removed material stays visible as a dashed ghost, the
damage left under the worked face is a hatched band, the target is a line across. The carrier is many times thicker
than the wafer: it is cut by a break line and its thickness is written. The steps that decide take a few per cent of
the thickness each; so their faces stand below once more, enlarged, with what each step took.
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

_TALL, _TALL_WITH_END = 220.0, 180.0
_END, _ABOVE_END = 130.0, 44.0  # height of the enlarged end, and what stands above it
_END_SHARE = 0.3  # of the thickest wafer: steps whose faces lie within it above the thinnest are enlarged
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
    enlarged: str = "the last of it, enlarged {times} times"


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
    first = _first_enlarged(steps, target_thickness, thickest * 1e-6)
    frame = _Frame(
        scale=even_scale(0.0, thickest, marks=6 if first is None else 5),
        tall=_TALL if first is None else _TALL_WITH_END,
        target=target_thickness,
        pattern=own_id("damage", *steps),
        words=words,
        lettering=lettering,
    )
    width = _LEFT + _COLUMN * len(steps) + _RIGHT
    columns = [
        _column(i, step, steps[i - 1] if i else None, frame, is_told_below=first is not None and i > first)
        for i, step in enumerate(steps)
    ]
    text_y = _text_top(steps, frame)
    if first is not None:
        columns.append(_enlarged(text_y, steps, first, frame, width))
        text_y += _ABOVE_END + _END + 28.0
    columns += [_words_below(i, step, text_y, words) for i, step in enumerate(steps)]
    legend_y = text_y + 40.0 + max(_text_height(step) for step in steps)
    return drawing(
        element("defs", hatch(frame.pattern, colour="#a8321a", gap=5.0)),
        _ruler(frame),
        *columns,
        _target(frame, width),
        _legend(legend_y, frame.pattern, steps, words),
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """What all parts of one drawing share: the scale of thickness and how tall it stands, the target, the words."""

    scale: Scale
    tall: float
    target: float | None
    pattern: str
    words: StackWords
    lettering: Lettering

    @property
    def base(self) -> float:
        return _TOP + self.tall

    def height(self, thickness: float) -> float:
        return self.tall * thickness * 1e6 / self.scale.high


def _left_of(place: int) -> float:
    return _LEFT + _COLUMN * place + (_COLUMN - _BLOCK) / 2.0


def _first_enlarged(steps: Sequence[StackStep], target: float | None, thickest: float) -> int | None:
    """The first step whose face, like all after it, lies so low that its column alone tells little; None for none."""
    faces = [step.wafer for step in steps]
    lowest = min(faces if target is None else [*faces, target])
    near = [face - lowest <= _END_SHARE * thickest for face in faces]
    first = next((i for i in range(len(steps)) if all(near[i:])), len(steps))
    return first if 0 < first <= len(steps) - 2 and max(faces[first:]) > lowest else None


def _ruler(frame: _Frame) -> str:
    """Thickness of the wafer from its bonded face up; the zero is the top of the bond."""
    parts = [written(_LEFT - 12.0, _TOP - 14.0, "µm", size=_SMALL, anchor="end")]
    scale = frame.scale
    parts += [_mark(frame.base - frame.tall * scale.share(tick), tick, scale, frame.lettering) for tick in scale.ticks]
    return "".join(parts)


def _mark(y: float, tick: float, scale: Scale, lettering: Lettering) -> str:
    line = element("path", d=f"M{_LEFT - 8:.1f} {y:.1f}h5", stroke="currentColor", stroke_width=0.8)
    return line + written(_LEFT - 12.0, y + 4.0, figure(tick, scale.decimals, lettering), size=_SMALL, anchor="end")


def _column(place: int, step: StackStep, before: StackStep | None, frame: _Frame, *, is_told_below: bool) -> str:
    """One step; what it took is written here unless the enlarged end below says it."""
    x, base = _left_of(place), frame.base
    tall = frame.height(step.wafer)
    parts = [
        _removed(x, base - tall, step, before, frame, is_told=not is_told_below),
        _wafer(x, base, tall, step, frame),
    ]
    parts.append(_thickness(x, base - tall, tall, step, frame))
    if step.carrier is not None:
        is_new = before is None or (before.carrier, before.bond) != (step.carrier, step.bond)
        parts.append(_carrier(x, base, step, frame, f"{frame.words.bond} " if is_new else None))
    return element("g", *parts, class_=f"step {step.state}")


def _enlarged(top: float, steps: Sequence[StackStep], first: int, frame: _Frame, width: float) -> str:
    """The faces of the last steps between the thinnest and the step before them, each with what it took."""
    ends = [step.wafer * 1e6 for step in steps[first:]]
    if frame.target is not None:
        ends.append(frame.target * 1e6)
    span = max(ends) - min(ends)
    scale = even_scale(max(0.0, min(ends) - 0.12 * span), max(ends) + 0.12 * span, marks=4)
    base, words = top + _ABOVE_END + _END, frame.words
    times = (_END / (scale.high - scale.low)) / (frame.tall / frame.scale.high)
    told = words.enlarged.format(times=figure(times, 0 if times >= 3.0 else 1, frame.lettering))
    parts = [written(_left_of(first), top + _ABOVE_END - 24.0, told, size=_SMALL)]
    parts += [_mark(base - _END * scale.share(tick), tick, scale, frame.lettering) for tick in scale.ticks]

    def face(thickness: float) -> float:
        return base - _END * min(scale.share(thickness * 1e6), 1.0)

    for place in range(first, len(steps)):
        step, x = steps[place], _left_of(place)
        y, was = face(step.wafer), face(steps[place - 1].wafer)
        cut = f"M{x:.1f} {base:.1f}V{y:.1f}h{_BLOCK:.1f}V{base:.1f}l-19 -4l-19 8l-19 -8Z"
        parts.append(element("path", d=cut, fill=_FILL[step.state], stroke="#18222c", stroke_width=1.0, class_="face"))
        if step.damage > 0.0:
            deep = min(face(step.wafer - step.damage), base) - y
            parts.append(element("rect", x=x, y=y, width=_BLOCK, height=deep, fill=f"url(#{frame.pattern})"))
        if was < y:
            parts.append(_ghost(x, was, y - was))
        if place > first:
            parts.append(_taken(x, min(was, y), step, steps[place - 1], frame))
    if frame.target is not None:
        parts.append(_target_line(face(frame.target), _left_of(first) - 6.0, width))
    return element("g", *parts, class_="enlarged")


def _ghost(x: float, y: float, tall: float) -> str:
    return element(
        "rect", x=x, y=y, width=_BLOCK, height=tall, fill="none", stroke="#7b8794", stroke_width=1.0,
        stroke_dasharray="4 3", class_="faint-line",
    )  # fmt: skip


def _taken(x: float, y: float, step: StackStep, before: StackStep, frame: _Frame) -> str:
    """What a step took, above its column."""
    if before.wafer <= step.wafer:
        return ""
    text = "\u2212" + _um(before.wafer - step.wafer, frame.lettering)
    return written(x + _BLOCK / 2.0, y - 6.0, text, size=12.5, anchor="middle")


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


def _text_top(steps: Sequence[StackStep], frame: _Frame) -> float:
    """Where the words begin: below the carriers, or at once below the wafers where none is bonded."""
    is_bonded = any(step.carrier is not None for step in steps)
    return frame.base + (_CARRIER + 46.0 if is_bonded else 26.0)


def _lines(text: str) -> int:
    return len(textwrap.wrap(text, _LETTERS)) or 1


def _text_height(step: StackStep) -> float:
    return 1.25 * (_SIZE * _lines(step.label) + (_SMALL * _lines(step.note) if step.note else 0.0))


def _thickness(x: float, face: float, tall: float, step: StackStep, frame: _Frame) -> str:
    """The number in the wafer when it fits, off the line of the target, else above it on a light rim."""
    middle, text = x + _BLOCK / 2.0, clean(_um(step.wafer, frame.lettering))
    look = {"font_size": _SIZE, "text_anchor": "middle", "fill": INK, "stroke": PAPER, "stroke_width": 2.4}
    y = face + tall / 2.0 + 5.0 if tall > 26.0 else face - 5.0
    if frame.target is not None:
        line = frame.base - frame.height(frame.target)
        if -3.0 < y - line < 15.0:
            y = line + 17.0 if line + 20.0 < frame.base else line - 6.0
    return element("text", text, x=middle, y=y, paint_order="stroke", **look)


def _removed(x: float, face: float, step: StackStep, before: StackStep | None, frame: _Frame, *, is_told: bool) -> str:
    """What this step took, as a dashed ghost above the face that is left."""
    if before is None or before.wafer <= step.wafer:
        return ""
    tall = frame.height(before.wafer - step.wafer)
    ghost = _ghost(x, face - tall, tall)
    if tall > 44.0:
        text = "\u2212" + _um(before.wafer - step.wafer, frame.lettering)
        return ghost + written(x + _BLOCK / 2.0, face - tall / 2.0 + 4.0, text, size=12.5, anchor="middle")
    return ghost + (_taken(x, face - tall, step, before, frame) if is_told else "")


_FILL: dict[StepState, str] = {"done": "#8fc1b5", "next": "#d8e6c0", "planned": "#e4e9ec"}


def _wafer(x: float, base: float, tall: float, step: StackStep, frame: _Frame) -> str:
    face, look = base - tall, {"fill": _FILL[step.state], "stroke": "#18222c", "stroke_width": 1.0}
    parts = [element("rect", x=x, y=face, width=_BLOCK, height=tall, **look)]
    if step.damage > 0.0:
        deep, fill = min(frame.height(step.damage), tall), f"url(#{frame.pattern})"
        parts.append(element("rect", x=x, y=face, width=_BLOCK, height=deep, fill=fill, class_="damage"))
    return "".join(parts)


def _carrier(x: float, base: float, step: StackStep, frame: _Frame, word: str | None) -> str:
    """The bond and the carrier cut short; with a `word` the bond is written below, once for what stays the same."""
    lettering = frame.lettering
    bond = max(frame.height(step.bond or 0.0), _LEAST_BOND)
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


def _target(frame: _Frame, width: float) -> str:
    if frame.target is None:
        return ""
    y, x = frame.base - frame.height(frame.target), width - _RIGHT + 6.0
    return "".join(
        [
            _target_line(y, _LEFT, width),
            written(x, y - 2.0, frame.words.target, size=_SIZE, fill="#a8321a", class_="accent"),
            written(x, y + 15.0, _um(frame.target, frame.lettering), size=_SIZE, fill="#a8321a", class_="accent"),
        ]
    )


def _target_line(y: float, left: float, width: float) -> str:
    return element(
        "path", d=f"M{left:.1f} {y:.1f}H{width - _RIGHT:.1f}", stroke="#a8321a", stroke_width=1.2,
        stroke_dasharray="8 3 2 3", class_="accent-line", fill="none",
    )  # fmt: skip


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
