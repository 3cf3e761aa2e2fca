"""The wafer with the voids of its bond outlined to scale, the longest numbered, as a drawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapwright.model.wafer import Outline
from lapwright.reports.drawing import rim
from lapwright.reports.drawing.ink import ENGLISH, Lettering, drawing, element, path, polygon, table, written

_SIDE = 360.0
_MARGIN = 16.0
NUMBERED = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnVoid:
    """A void to be drawn: its rim, shape (n, 2), its middle and its greatest width, in the wafer frame [m]."""

    rim: Sequence[tuple[float, float]]
    middle: tuple[float, float]
    longest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VoidWords:
    """Words of the drawing; `told` is the sentence that says the same without eyes."""

    title: str
    told: str


def void_map(
    voids: Sequence[DrawnVoid],
    outline: Outline,
    *,
    words: VoidWords,
    passed: float = 1e-3,
    edge_exclusion: float = 0.0,
    lettering: Lettering = ENGLISH,
) -> str:
    """The wafer seen on its worked face, voids longer than `passed` [m] filled, shorter ones in outline alone."""
    low_x, low_y, high_x, high_y = rim.reach(outline)
    scale = (_SIDE - 2.0 * _MARGIN) / max(high_x - low_x, high_y - low_y)
    tall = (high_y - low_y) * scale + 2.0 * _MARGIN

    def at(x: float, y: float) -> tuple[float, float]:
        return _MARGIN + (x - low_x) * scale, _MARGIN + (high_y - y) * scale

    edge = path((at(*corner) for corner in rim.rim(outline)), closed=True)
    parts = [element("path", d=edge, class_="wafer", fill="none", stroke="currentColor", stroke_width=1.6)]
    inside = rim.inner_rim(outline, edge_exclusion) if edge_exclusion > 0.0 else []
    if inside:
        inner = path((at(*corner) for corner in inside), closed=True)
        parts.append(
            element("path", d=inner, fill="none", stroke="#7b8794", stroke_dasharray="4 3", class_="faint-line")
        )
    letters = []
    for number, one in enumerate(voids, 1):
        corners = np.array([at(x, y) for x, y in one.rim])
        long = one.longest > passed
        parts.append(
            element(
                "path", d=polygon(corners[:, 0], corners[:, 1]), stroke="#a8321a", stroke_width=1.6 if long else 0.9,
                fill="#a8321a" if long else "none", fill_opacity=0.35 if long else None, class_="accent-line",
            )
        )  # fmt: skip
        if number <= NUMBERED:
            x, y = at(*one.middle)
            beside = x + max(one.longest * scale / 2.0, 2.0) + 4.0
            letters.append(written(beside, y + 4.0, str(number), size=12.0))
    return drawing(
        *parts,
        *letters,
        title=words.title,
        desc=words.told,
        width=_SIDE,
        height=tall,
        lettering=lettering,
        data=table(
            ("void", "x_mm", "y_mm", "longest_mm"),
            ((i, 1e3 * one.middle[0], 1e3 * one.middle[1], 1e3 * one.longest) for i, one in enumerate(voids, 1)),
        ),
    )
