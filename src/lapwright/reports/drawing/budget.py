"""What to improve first: the contributions to an uncertainty as bars, the largest on top.

A bar is as long as the contribution is large, on one scale with the combined uncertainty, whose dashed line no single
bar passes. Shares of the variance stand beside; one that takes away (by correlation) is hatched and has a minus.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import shorten

from lapwright.errors import TooFewSites
from lapwright.metrology.propagation import contribution_shares
from lapwright.metrology.uncertainty import Budget
from lapwright.reports.drawing.ink import ENGLISH, Lettering, drawing, element, figure, hatch, own_id, table, written
from lapwright.reports.drawing.scale import Scale, even_scale

_LEFT, _TOP, _LONG, _ROW, _BAR = 230.0, 46.0, 300.0, 26.0, 15.0
_BESIDE = 150.0
_NAME_COLUMNS = 36
_COLOUR = "#1f5673"


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetBar:
    """One contribution: size in the unit of the result, zero or more, and its share of the variance."""

    name: str
    size: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetWords:
    """The words of this drawing."""

    combined: str = "combined standard uncertainty"
    share: str = "of the variance"


WORDS = BudgetWords()


def bars_of_budget(budget: Budget, *, per_unit: float = 1.0) -> tuple[BudgetBar, ...]:
    """Bars of a budget; `per_unit` is how many of the printed unit are one of the budget's (1e6 for m as µm)."""
    return tuple(
        BudgetBar(name=line.name, size=abs(line.effect) * per_unit, share=share)
        for line, share in zip(budget.contributions, contribution_shares(budget), strict=True)
    )


def budget_bars(
    bars: Sequence[BudgetBar],
    *,
    title: str,
    unit: str,
    combined: float,
    words: BudgetWords = WORDS,
    lettering: Lettering = ENGLISH,
) -> str:
    """SVG of contributions to an uncertainty, largest share first; `combined` in the same unit as the bars."""
    if not bars:
        raise TooFewSites("A drawing of contributions", measured=0, needed=1)
    ordered = sorted(bars, key=lambda bar: (-abs(bar.share), bar.name))
    scale = even_scale(0.0, max(combined, *(bar.size for bar in ordered)), marks=5)
    bottom = _TOP + _ROW * len(ordered)
    pattern = own_id("takes-away", title, *[bar.name for bar in ordered])
    at = _LEFT + _LONG * scale.share(combined)
    return drawing(
        element("defs", hatch(pattern, colour=_COLOUR)),
        written(8.0, 20.0, title, size=14, font_weight="bold"),
        *(_row(place, bar, scale.share(bar.size), pattern, words, lettering) for place, bar in enumerate(ordered)),
        *_axis(scale, bottom, unit, lettering),
        element("path", d=f"M{at:.1f} {_TOP - 6.0:.1f}V{bottom:.1f}", stroke="#a8321a", stroke_width=1.2,
                stroke_dasharray="8 3 2 3", class_="accent-line"),
        written(at, _TOP - 10.0, words.combined, size=11, anchor="end" if scale.share(combined) > 0.5 else None),
        title=title,
        desc=_description(ordered, unit, combined, words, lettering),
        width=_LEFT + _LONG + _BESIDE,
        height=bottom + 44.0,
        lettering=lettering,
        data=table(
            ("contribution", f"size, {unit}", "share_of_variance_percent"),
            [*((bar.name, bar.size, 100.0 * bar.share) for bar in ordered), (words.combined, combined, 100.0)],
        ),
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _row(place: int, bar: BudgetBar, long: float, pattern: str, words: BudgetWords, lettering: Lettering) -> str:
    top = _TOP + _ROW * place
    fill = _COLOUR if bar.share >= 0.0 else f"url(#{pattern})"
    width = max(_LONG * long, 1.0 if bar.size > 0.0 else 0.0)
    return element(
        "g",
        written(_LEFT - 8.0, top + 12.0, shorten(bar.name, _NAME_COLUMNS, placeholder="…"), size=12, anchor="end"),
        element("rect", x=_LEFT, y=top, width=width, height=_BAR, fill=fill, stroke=_COLOUR, class_="bar"),
        written(_LEFT + _LONG + 10.0, top + 12.0, _share(bar, words, lettering), size=12),
        class_="contribution",
    )


def _share(bar: BudgetBar, words: BudgetWords, lettering: Lettering) -> str:
    return f"{figure(100.0 * bar.share, 1, lettering)} % {words.share}"


def _axis(scale: Scale, bottom: float, unit: str, lettering: Lettering) -> list[str]:
    parts = [element("path", d=f"M{_LEFT:.1f} {bottom:.1f}h{_LONG:.1f}", stroke="currentColor", stroke_width=1.0)]
    for tick in scale.ticks:
        x = _LEFT + _LONG * scale.share(tick)
        parts.append(element("path", d=f"M{x:.1f} {bottom:.1f}v4", stroke="currentColor", stroke_width=1.0))
        parts.append(written(x, bottom + 18.0, figure(tick, scale.decimals, lettering), size=11, anchor="middle"))
    parts.append(written(_LEFT + _LONG / 2.0, bottom + 36.0, unit, size=12, anchor="middle"))
    return parts


def _description(
    bars: Sequence[BudgetBar], unit: str, combined: float, words: BudgetWords, lettering: Lettering
) -> str:
    parts = [f"{words.combined}: {_three(combined, lettering)} {unit}"]
    parts += [f"{bar.name}: {_three(bar.size, lettering)} {unit}, {_share(bar, words, lettering)}" for bar in bars]
    return "; ".join(parts) + "."


def _three(value: float, lettering: Lettering) -> str:
    """A number to three figures."""
    return f"{value:.3g}".replace(".", lettering.decimal)
