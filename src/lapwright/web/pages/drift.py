"""Drift: what is changing? One chart per signal, what changed meanwhile on the same axis, signals in words."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from lapwright.app import drift as use_case
from lapwright.web.gauge_views import drift_figure, signal_word
from lapwright.web.paging import leaf
from lapwright.web.surroundings import shown

KINDS: tuple[use_case.DriftKind, ...] = ("individuals", "ewma")


CHARTS = 20  # on one page


@require_safe
def drift(request: HttpRequest) -> HttpResponse:
    """All charts, those with the latest signals first."""
    asked = request.GET.get("kind")
    kind: use_case.DriftKind = next((one for one in KINDS if one == asked), "individuals")
    charts = use_case.drift_charts(kind)
    page = leaf(request, charts, size=CHARTS)
    figures = [drift_figure(chart) for chart in page.rows]
    return shown(
        request,
        "drift.html",
        here="drift",
        kind=kind,
        figures=[(one, signal_word(one.chart.series.signal), _links(one.chart)) for one in figures],
        moved=sum(bool(one.signals) for one in charts),
        leaf=page,
        kept="" if asked is None else f"kind={kind}&",
    )


# ----------------------------------------------------------------------------------------------------------------------


def _links(chart: use_case.DriftChart) -> list[tuple[use_case.DriftSignal, list[tuple[int, str, str]]]]:
    """Each signal with the wafers concerned: number of the point, order and wafer."""
    points = chart.series.points
    return [
        (
            signal,
            [
                (index + 1, points[index].order_id or "", points[index].wafer_id or "")
                for index in signal.points
                if points[index].wafer_id and points[index].order_id
            ],
        )
        for signal in chart.signals
    ]
