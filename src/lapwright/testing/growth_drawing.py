"""A growth as a picture: seconds and memory against size on logarithmic axes, with the fitted power as a line."""

from __future__ import annotations

import math
from collections.abc import Sequence

from lapwright.reports.drawing.ink import PAPER, drawing, element, path, table, written
from lapwright.testing.growth import LEAST_MEMORY, Curve, exponent, memory_exponent

_WIDE, _TALL, _LEFT, _TOP, _GAP = 250.0, 170.0, 70.0, 58.0, 100.0
_INK, _FIT, _GRID = "#1f5673", "#a8321a", "#c9d1d9"


def growth_picture(curve: Curve) -> str:
    """SVG of one curve: time on the left, memory on the right where it is more than a megabyte anywhere."""
    sizes = [float(point.size) for point in curve.points]
    seconds = [point.seconds for point in curve.points]
    memory = [point.memory / 1e6 for point in curve.points]
    parts = _panel(_LEFT, "time, s", curve.counts, sizes, seconds, exponent(sizes, seconds))
    held = [place for place, point in enumerate(curve.points) if point.memory > LEAST_MEMORY]
    right = _LEFT + _WIDE + _GAP
    if len(held) > 1:
        some = [sizes[place] for place in held], [memory[place] for place in held]
        parts += _panel(right, "memory, MB", curve.counts, *some, memory_exponent(curve.points))
    else:
        parts.append(written(right, _TOP + 0.5 * _TALL, "memory: no more than 1 MB at most sizes", size=11))
    wide, tall = right + _WIDE + 40.0, _TOP + _TALL + 52.0
    return drawing(
        element("rect", x=0.0, y=0.0, width=wide, height=tall, fill=PAPER, class_="paper"),
        written(14.0, 24.0, curve.name, size=14, font_weight="bold"),
        *parts,
        title=curve.name,
        desc=f"Time grows as size to the {exponent(sizes, seconds):.2f}, {sizes[0]:g} to {sizes[-1]:g} {curve.counts}.",
        width=wide,
        height=tall,
        data=table((curve.counts, "time_s", "memory_mb"), zip(sizes, seconds, memory, strict=True)),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _panel(
    left: float, label: str, counts: str, sizes: Sequence[float], values: Sequence[float], power: float
) -> list[str]:
    low_x, high_x = _decades(sizes)
    low_y, high_y = _decades(values)

    def at(size: float, value: float) -> tuple[float, float]:
        x = left + _WIDE * (math.log10(size) - low_x) / (high_x - low_x)
        return x, _TOP + _TALL * (1.0 - (math.log10(value) - low_y) / (high_y - low_y))

    parts = []
    for power_of_ten in range(low_x, high_x + 1):
        x, bottom = at(10.0**power_of_ten, 10.0**low_y)
        parts.append(element("path", d=path([(x, _TOP), (x, bottom)]), stroke=_GRID, fill="none"))
        parts.append(written(x, bottom + 16.0, _count(10.0**power_of_ten), size=10, anchor="middle"))
    for power_of_ten in range(low_y, high_y + 1):
        x, y = at(10.0**low_x, 10.0**power_of_ten)
        parts.append(element("path", d=path([(x, y), (x + _WIDE, y)]), stroke=_GRID, fill="none"))
        parts.append(written(x - 6.0, y + 3.5, f"{10.0**power_of_ten:g}", size=10, anchor="end"))
    middle = math.exp(math.fsum(math.log(one) for one in values) / len(values))
    centre = math.exp(math.fsum(math.log(one) for one in sizes) / len(sizes))
    ends = [at(size, middle * (size / centre) ** power) for size in (sizes[0], sizes[-1])]
    parts.append(element("path", d=path(ends), stroke=_FIT, stroke_dasharray="5 3", fill="none", stroke_width=1.5))
    for size, value in zip(sizes, values, strict=True):
        x, y = at(size, value)
        parts.append(element("circle", cx=x, cy=y, r=3.5, fill=_INK))
    parts.append(written(left, _TOP - 12.0, f"{label}; fitted: size to the {power:.2f}", size=11))
    parts.append(written(left + 0.5 * _WIDE, _TOP + _TALL + 34.0, counts, size=11, anchor="middle"))
    return parts


def _decades(values: Sequence[float]) -> tuple[int, int]:
    low, high = (math.log10(one) for one in (min(values), max(values)))
    first = math.floor(low + 1e-9)
    return first, max(first + 1, math.ceil(high - 1e-9))


def _count(value: float) -> str:
    return f"{value:,.0f}".replace(",", "\u2009")
