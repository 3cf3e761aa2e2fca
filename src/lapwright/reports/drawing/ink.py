"""The few strokes every drawing is made of: SVG elements as text, escaped, with short numbers.

A drawing carries no script and no style sheet. Colours stand as presentation attributes, so that the file stands
alone in a PDF, and every element has a class, so that a page can recolour it for a dark screen (`DRAWING_CSS`).
Lines and letters that are not on a coloured ground use `currentColor`.
"""

from __future__ import annotations

import csv
import hashlib
import io
import math
import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import NDArray

MOST_ROWS = 1500  # of numbers that a drawing carries along
INK = "#18222c"
PAPER = "#ffffff"
FAINT = "#7b8794"
BROAD = 600.0  # a drawing as wide as this fills the width that a page has for it
ACCENT = "#a8321a"
SANS = "'DejaVu Sans', Verdana, Helvetica, Arial, sans-serif"

#: For pages: put once into the page's style sheet. `--paper`, `--faint` and `--accent` follow the page.
DRAWING_CSS = """\
svg.drawing { color: inherit; font-variant-numeric: tabular-nums; max-width: 100%; height: auto; }
svg.drawing .paper { fill: var(--paper, #ffffff); }
svg.drawing .halo { stroke: var(--paper, #ffffff); }
svg.drawing .faint-line { stroke: var(--faint, #7b8794); }
svg.drawing .accent { fill: var(--accent, #a8321a); }
svg.drawing .accent-line { stroke: var(--accent, #a8321a); }
@media print { svg.drawing { break-inside: avoid; } }
"""

_DATA = re.compile(r"<metadata class=\"data\">[^<]*</metadata>")
_FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettering:
    """The words and the decimal sign a drawing uses, in the reader's language."""

    decimal: str = "."
    font: str = SANS
    not_measured: str = "not measured"
    thickest: str = "thickest edge"
    wedge: str = "wedge"
    o_clock: str = "o'clock"
    no_direction: str = "direction cannot be told"
    values_shown: str = "{shown} of {all} values written; the rest stand in the table"
    only_between: str = "coloured between the sites only"
    edge_exclusion: str = "edge exclusion"
    worked_face: str = "seen on the worked face"
    wafer_map: str = "Thickness map"
    site: str = "site"


ENGLISH = Lettering()


class _Tenths(dict[int, str]):
    """Coordinates as text by their tenths, each made once: a map has thousands of them."""

    def __missing__(self, tenths: int) -> str:
        text = self[tenths] = short(tenths / 10.0)
        return text


_TENTHS = _Tenths()


def readable(text: str) -> str:
    """Text with characters that no document may hold (controls, halves of pairs) replaced by a visible mark."""
    return _FORBIDDEN.sub("\ufffd", text)


def clean(text: object) -> str:
    """Text fit for markup: readable and escaped."""
    return escape(readable(str(text)), quote=True)


def short(value: float) -> str:
    """A coordinate with at most one decimal.

    >>> short(12.04), short(-0.01), short(3.25)
    ('12', '0', '3.2')
    """
    text = f"{value:.1f}"
    text = text.removesuffix(".0")
    return "0" if text in ("-0", "0") else text


def element(name: str, *children: str, **attributes: object) -> str:
    """One element; `class_` and `stroke_width` become ``class`` and ``stroke-width``, None leaves an attribute out."""
    parts = [name]
    for key, value in attributes.items():
        if value is not None:
            shown = short(value) if isinstance(value, float) else clean(value)
            parts.append(f'{key.rstrip("_").replace("_", "-")}="{shown}"')
    opened = " ".join(parts)
    return f"<{opened}>{''.join(children)}</{name}>" if children else f"<{opened}/>"


def written(
    x: float, y: float, text: str, *, size: float = 12.0, anchor: str | None = None, **attributes: object
) -> str:
    """Text at a place, in the ink of its surroundings unless told otherwise."""
    attributes.setdefault("class_", "ink")
    attributes.setdefault("fill", "currentColor")
    return element("text", clean(text), x=x, y=y, font_size=size, text_anchor=anchor, **attributes)


def wrapped(x: float, y: float, text: str, *, columns: int, size: float = 12.0, anchor: str | None = None) -> str:
    """Text broken into lines of at most `columns` characters, the first one at (x, y)."""
    lines = textwrap.wrap(text, columns, break_long_words=True) or [""]
    return "".join(written(x, y + i * size * 1.25, line, size=size, anchor=anchor) for i, line in enumerate(lines))


def path(points: Iterable[tuple[float, float]], *, closed: bool = False) -> str:
    """Path data through points."""
    data = "L".join(f"{short(x)} {short(y)}" for x, y in points)
    return f"M{data}Z" if closed else f"M{data}"


def polygon(x: NDArray[np.float64], y: NDArray[np.float64]) -> str:
    """Path data of a closed line through many points; the same to a tenth of a unit as `path`, and quicker.

    >>> polygon(np.array([0.04, 12.0]), np.array([-0.01, 3.26]))
    'M0 0L12 3.3Z'
    """
    texts = (map(_TENTHS.__getitem__, np.rint(10.0 * along).astype(int).tolist()) for along in (x, y))
    return f"M{'L'.join(map(' '.join, zip(*texts, strict=True)))}Z"


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    r"""The numbers of a drawing as CSV, unit in the head of each column; "" where there are too many to carry along.

    >>> table(("site", "x_mm"), [("A, inner", 1.5), ("B", math.nan)])
    'site,x_mm\n"A, inner",1.5\nB,\n'
    """
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\n")
    writer.writerow(head)
    for number, row in enumerate(rows):
        if number >= MOST_ROWS:
            return ""
        writer.writerow([_cell(one) for one in row])
    return held.getvalue()


def drawing(
    *children: str,
    title: str,
    desc: str,
    width: float,
    height: float,
    lettering: Lettering = ENGLISH,
    data: str = "",
) -> str:
    """A whole SVG that stands alone: named, described, in one font, on no ground; `data` is what `table` makes.

    It takes the focus, so that who does not see it comes to its name and its description by the keys.
    """
    return element(
        "svg",
        element("title", clean(title)),
        element("desc", clean(desc)),
        element("metadata", clean(data), class_="data") if data else "",
        *children,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {short(width)} {short(height)}",
        width=width,
        height=height,
        role="img",
        tabindex=0,
        class_="drawing broad" if width >= BROAD else "drawing",
        color=INK,
        font_family=lettering.font,
    )


def without_data(svg: str) -> str:
    """A drawing that carries no numbers along and takes no focus, for paper."""
    return _DATA.sub("", svg, count=1).replace(' tabindex="0"', "", 1)


def own_id(prefix: str, *contents: object) -> str:
    """A name for a clip or pattern that differs when the contents do, so that drawings share a page in peace."""
    digest = hashlib.sha256(repr(contents).encode("utf-8", "replace")).hexdigest()[:10]
    return f"{prefix}-{digest}"


def figure(value: float, decimals: int, lettering: Lettering = ENGLISH) -> str:
    """A number with a true minus and the reader's decimal sign, no minus before zero.

    >>> figure(-0.004, 2), figure(-1.25, 2, Lettering(decimal=","))
    ('0.00', '−1,25')
    """
    if not math.isfinite(value):
        return lettering.not_measured
    text = f"{value:.{decimals}f}"
    if not text.strip("-0."):
        text = text.lstrip("-")
    return text.replace("-", "\u2212").replace(".", lettering.decimal)


def hatch(name: str, *, colour: str, gap: float = 6.0, angle: int = 45, weight: float = 1.2) -> str:
    """A pattern of parallel lines to fill with, so that no meaning hangs on colour alone."""
    line = element("path", d=f"M0 0V{short(gap)}", stroke=colour, stroke_width=weight, fill="none")
    turn = f"rotate({angle})"
    return element(
        "pattern", line, id=name, width=gap, height=gap, patternUnits="userSpaceOnUse", patternTransform=turn
    )


def spread(heights: Sequence[float], *, gap: float, least: float, most: float) -> list[float]:
    """Heights in order, moved so that they lie at least `gap` apart, inside the field as far as there is room.

    >>> spread([10.0, 12.0, 40.0], gap=14.0, least=0.0, most=50.0)
    [10.0, 24.0, 40.0]
    >>> spread([48.0, 49.0], gap=14.0, least=0.0, most=50.0)
    [36.0, 50.0]
    """
    placed: list[float] = []
    for y in heights:
        placed.append(max(y, placed[-1] + gap if placed else least))
    for i in range(len(placed) - 1, -1, -1):
        placed[i] = min(placed[i], most if i == len(placed) - 1 else placed[i + 1] - gap)
    return placed


def clock_hour(azimuth_deg: float) -> int:
    """The clock position nearest to an azimuth: 12 at +y, 3 at +x, 6 at the orientation mark.

    >>> [clock_hour(a) for a in (90.0, 0.0, -90.0, 330.0)]
    [12, 3, 6, 4]
    """
    return round(((90.0 - azimuth_deg) % 360.0) / 30.0) % 12 or 12


def _cell(value: object) -> object:
    """A number to seven figures, nothing for one that is not known."""
    if isinstance(value, float | np.floating):
        return f"{float(value):.7g}" if math.isfinite(value) else ""
    return "" if value is None else value
