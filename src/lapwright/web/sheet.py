"""The wafer under the gauge, drawn as it lies: sites read, sites to come, and the next one lit."""

from __future__ import annotations

import math
from dataclasses import dataclass

from django.utils.translation import gettext as _

from lapwright.model.job import RecordedReading, RecordedSet
from lapwright.model.wafer import Outline
from lapwright.reports.drawing import ink, rim
from lapwright.web.lettering import lettering

_SIDE = 400.0
_RIM = 24.0
_LIT, _READ = 19.0, 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteState:
    """One site as drawn: where on the paper, the mean of its readings [µm] or none, and whether it is the next."""

    label: str
    x: float
    y: float
    mean_um: float | None
    lit: bool


def valid_readings(recorded: RecordedSet) -> list[RecordedReading]:
    """The readings of a set that stand: those no other one replaces."""
    return [one for one in recorded.readings if one.replaced_by is None]


def site_states(recorded: RecordedSet, outline: Outline, *, lit: str | None) -> list[SiteState]:
    """All sites of the pattern, placed on the paper."""
    low_x, low_y, high_x, high_y = rim.reach(outline)
    scale = (_SIDE - 2.0 * _RIM) / max(high_x - low_x, high_y - low_y)
    middle_x, middle_y = (low_x + high_x) / 2.0, (low_y + high_y) / 2.0
    means = _means(recorded)
    pattern = recorded.pattern
    return [
        SiteState(
            label=label,
            x=_SIDE / 2.0 + (float(x) - middle_x) * scale,
            y=_SIDE / 2.0 - (float(y) - middle_y) * scale,
            mean_um=means.get(label),
            lit=label == lit,
        )
        for label, x, y in zip(pattern.labels, pattern.x, pattern.y, strict=True)
    ]


def sheet_drawing(recorded: RecordedSet, outline: Outline, *, lit: str | None, doubtful: bool = False) -> str:
    """SVG of the piece with its sites; a doubtful reading at the lit site is ringed twice."""
    states = site_states(recorded, outline, lit=lit)
    low_x, low_y, high_x, high_y = rim.reach(outline)
    scale = (_SIDE - 2.0 * _RIM) / max(high_x - low_x, high_y - low_y)
    shift_x, shift_y = (low_x + high_x) / 2.0, (low_y + high_y) / 2.0
    edge = ink.path(
        ((_SIDE / 2.0 + (x - shift_x) * scale, _SIDE / 2.0 - (y - shift_y) * scale) for x, y in rim.rim(outline)),
        closed=True,
    )
    read = sum(state.mean_um is not None for state in states)
    said = _("%(read)d of %(all)d sites read.") % {"read": read, "all": len(states)}
    if lit is not None:
        said += " " + _("Next: site %(site)s.") % {"site": lit}
    return ink.drawing(
        ink.element("path", d=edge, class_="paper", fill="#ffffff"),
        ink.element("path", d=edge, fill="none", stroke="currentColor", stroke_width=2.0),
        *(_site(state, doubtful=doubtful) for state in states),
        title=_("Sites, seen on the worked face, orientation mark at the bottom"),
        desc=said,
        width=_SIDE,
        height=_SIDE,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _means(recorded: RecordedSet) -> dict[str, float]:
    values: dict[str, list[float]] = {}
    for one in valid_readings(recorded):
        if one.kind == "site" and math.isfinite(one.reading.thickness):
            values.setdefault(one.reading.site, []).append(one.reading.thickness * 1e6)
    return {site: sum(listed) / len(listed) for site, listed in values.items()}


def _site(state: SiteState, *, doubtful: bool) -> str:
    if state.lit:
        return _lit_site(state, doubtful=doubtful)
    if state.mean_um is None:
        ring = ink.element(
            "circle", cx=state.x, cy=state.y, r=10.0, fill="none", stroke="#7b8794", stroke_width=1.5,
            stroke_dasharray="3 3", class_="faint-line",
        )  # fmt: skip
        return ring + ink.written(state.x, state.y + 4.5, state.label, size=13, anchor="middle")
    dot = ink.element("circle", cx=state.x, cy=state.y, r=_READ, fill="currentColor")
    above = state.y < _SIDE / 2.0 - 1.0
    place = state.y + (20.0 if above else -10.0)
    inward = state.x + 0.1 * (_SIDE / 2.0 - state.x)
    value = ink.figure(state.mean_um, 1, lettering())
    return dot + ink.written(inward, place, value, size=15, anchor="middle", font_weight="bold")


def _lit_site(state: SiteState, *, doubtful: bool) -> str:
    disc = ink.element("circle", cx=state.x, cy=state.y, r=_LIT, fill="#0a5a68", class_="lit")
    ring = ink.element(
        "circle", cx=state.x, cy=state.y, r=_LIT + 5.0, fill="none", stroke="#0a5a68", stroke_width=2.5,
        class_="lit-line", stroke_dasharray="6 4" if doubtful else None,
    )  # fmt: skip
    text = "?" if doubtful else state.label
    return disc + ring + ink.written(
        state.x, state.y + 7.0, text, size=20, anchor="middle", fill="#ffffff", class_="on-lit", font_weight="bold"
    )  # fmt: skip
