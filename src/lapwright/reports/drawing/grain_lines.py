"""The lines that a few grains of a plate draw on the wafer, seen on the worked face, in the wafer's own frame.

A ratio of speeds that repeats draws a few lines over and over; one that does not spreads them. Each grain has its own
dash, so that the lines can be told apart without colour.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.reports.drawing.ink import ENGLISH, Lettering, drawing, element, path, table, written

_RADIUS, _EDGE = 150.0, 10.0
_MOST_POINTS = 4000
_MOST_PLACES = 700  # of the numbers that a drawing carries along
_STROKES: tuple[tuple[str, str | None], ...] = (("#1f5673", None), ("#6b4a8c", "6 3"), ("#4c7a2f", "2 3"))


@dataclass(frozen=True, slots=True, kw_only=True)
class GrainWords:
    """The words in the drawing; `title` names the setting, `told` says what is to be seen."""

    title: str
    told: str
    axis: str = "axis of the jig"


def grain_lines(
    tracks: NDArray[np.complex128], *, wafer_radius: float, words: GrainWords, lettering: Lettering = ENGLISH
) -> str:
    """SVG of tracks, shape (grains, steps) [m], on a wafer of a radius [m] about the jig's axis; outside it nothing."""
    middle = _RADIUS + _EDGE
    scale = _RADIUS / wafer_radius
    step = max(1, int(np.count_nonzero(np.abs(tracks) <= wafer_radius) / _MOST_POINTS))
    lines = []
    for number, track in enumerate(tracks):
        colour, dash = _STROKES[number % len(_STROKES)]
        data = "".join(path(piece) for piece in _pieces(track[::step] * scale, middle))
        if data:
            lines.append(
                element(
                    "path", d=data, fill="none", stroke=colour, stroke_width=1.1, stroke_dasharray=dash,
                    class_="grain-line",
                )
            )  # fmt: skip
    rim = element("circle", cx=middle, cy=middle, r=_RADIUS, fill="none", stroke="currentColor", stroke_width=2.0)
    cross = element(
        "path", d=f"M{middle - 5:.0f} {middle:.0f}h10M{middle:.0f} {middle - 5:.0f}v10", stroke="currentColor"
    )
    return drawing(
        rim,
        *lines,
        cross,
        written(middle, 2.0 * middle + 12.0, words.title, anchor="middle", font_weight="bold"),
        title=words.title,
        desc=f"{words.told} +: {words.axis}.",
        width=2.0 * middle,
        height=2.0 * middle + 20.0,
        lettering=lettering,
        data=table(("grain", "x_mm", "y_mm"), _places(tracks, wafer_radius)),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _places(tracks: NDArray[np.complex128], wafer_radius: float) -> list[tuple[int, float, float]]:
    """Where the grains are while they are on the wafer [mm], so many that a page carries them."""
    on = [(number, place) for number, track in enumerate(tracks, 1) for place in track[np.abs(track) <= wafer_radius]]
    every = -(-len(on) // _MOST_PLACES) or 1
    return [(number, place.real * 1e3, place.imag * 1e3) for number, place in on[::every]]


def _pieces(track: NDArray[np.complex128], middle: float) -> list[list[tuple[float, float]]]:
    """The stretches of a track that lie on the wafer, in the drawing's coordinates (y down)."""
    inside = np.abs(track) <= _RADIUS
    edges = np.flatnonzero(np.diff(inside.astype(np.int8)))
    found = []
    for piece in np.split(np.arange(track.size), edges + 1):
        if piece.size > 1 and inside[piece[0]]:
            places = track[piece]
            found.append(list(zip((middle + places.real).tolist(), (middle - places.imag).tolist(), strict=True)))
    return found
