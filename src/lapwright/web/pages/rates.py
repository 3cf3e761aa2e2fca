"""Rates: how fast do we remove, why is it believed, and what should be changed? A pair of material and tool each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from lapwright.app import rates as use
from lapwright.reports.drawing.chart import Band, Line
from lapwright.web.lettering import line_chart
from lapwright.web.sentences import decimal
from lapwright.web.surroundings import shown
from lapwright.web.words import material_name, tool_name

_SLOW = 0.5e-6 / 60.0  # m/s; below, a rate is shown in nm/min
_LATEST = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class PairView:
    """A pair in words: its tools by name, and rates in the unit that suits it."""

    pair: use.RatePair
    material: str
    abrasive: str
    plate: str
    unit: str
    scale: float

    def number(self, rate: float) -> str:
        """A rate with three digits that count."""
        return decimal(f"{rate * self.scale:#.3g}".rstrip("."))

    @property
    def rate(self) -> str:
        """The rate of the next run."""
        return self.number(self.pair.prediction.median)

    @property
    def low(self) -> str:
        """Low end of what is expected of nine runs in ten."""
        return self.number(self.pair.interval.low)

    @property
    def high(self) -> str:
        """High end of it."""
        return self.number(self.pair.interval.high)

    @property
    def library(self) -> str:
        """What the library says."""
        return self.number(self.pair.prediction.library_rate)

    @property
    def stops_worth(self) -> tuple[object, ...]:
        """What is suggested to be changed."""
        return tuple(one for one in self.pair.stops if one.suggested.is_worth_it)

    @property
    def outside(self) -> int:
        """Runs that lie beyond what was expected of them."""
        return sum(one.is_outside for one in self.pair.runs)

    @property
    def rows(self) -> list[tuple[use.RateRun, str, str, str, str]]:
        """The runs, the latest first, with rate, what was expected and its interval."""
        return [
            (one, self.number(one.removal_rate), self.number(one.expected), self.number(one.low), self.number(one.high))
            for one in self.pair.runs[::-1]
        ]


@require_safe
def rates(request: HttpRequest) -> HttpResponse:
    """All pairs, or the one that the address names."""
    asked = tuple(request.GET.get(name, "") for name in ("material", "abrasive", "plate"))
    if any(asked):
        view = pair_view(use.rate_pair(*asked))
        held = view.pair.conditions
        return shown(
            request, "rate.html", here="rates", view=view, chart=rate_chart(view),
            spread=f"{100.0 * view.pair.prediction.run_spread:.0f}\u00a0%",
            pressure=decimal(f"{held.pressure / 1e3:.3g}"), speed=decimal(f"{held.speed:.3g}"),
        )  # fmt: skip
    views = [pair_view(one) for one in use.rate_pairs()]
    return shown(request, "rates.html", here="rates", views=views, left_out=use.runs_left_out())


# ----------------------------------------------------------------------------------------------------------------------


def pair_view(pair: use.RatePair) -> PairView:
    """A pair with its words and its unit."""
    is_slow = pair.prediction.median < _SLOW
    return PairView(
        pair=pair,
        material=material_name(pair.conditions.material),
        abrasive=tool_name(pair.conditions.abrasive, None),
        plate=tool_name(None, pair.conditions.plate),
        unit="nm/min" if is_slow else "µm/min",
        scale=60e9 if is_slow else 60e6,
    )


def rate_chart(view: PairView) -> str:
    """Every run of a pair against what was expected of it from those before."""
    runs = view.pair.runs[-_LATEST:]
    first = len(view.pair.runs) - len(runs) + 1
    x = np.arange(first, first + len(runs), dtype=np.float64)
    rate = np.array([one.removal_rate for one in runs]) * view.scale
    aside = np.array([one.note == "outlying" for one in runs])
    low, high = (np.array([getattr(one, end) for one in runs]) * view.scale for end in ("low", "high"))
    top = 3.0 * float(rate.max())  # the first runs rest on the library alone, whose band would dwarf the others
    lines = [
        Line(x=x, y=np.array([one.expected for one in runs]) * view.scale, name=_("expected")),
        Line(x=x, y=np.where(aside, np.nan, rate), name=_("found"), marks=True),
    ]
    if aside.any():
        lines.append(Line(x=x, y=np.where(aside, rate, np.nan), name=_("set aside"), marks=True))
    return line_chart(
        lines,
        x_label=_("run of this pair"),
        y_label=_("rate, %(unit)s") % {"unit": view.unit},
        title=_("Found, and expected from the runs before"),
        bands=[Band(x=x, low=np.minimum(low, top), high=np.minimum(high, top), name=_("nine of ten"))],
    )
