"""Two gauges that read the same piece: which of them is off, if any."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from lapwright.app import gauge_pairs
from lapwright.reports.drawing.difference_chart import DifferenceWords, difference_chart
from lapwright.web.lettering import lettering
from lapwright.web.surroundings import shown


@require_safe
def pair(request: HttpRequest, gauge_id: str, first: int, second: int) -> HttpResponse:
    """Difference chart and verdict of two sets."""
    found = gauge_pairs.compare_pair(gauge_pairs.pair_of(gauge_id, first, second))
    off = (found.first - found.second).tolist()
    rows = list(zip(found.labels, found.first.tolist(), found.second.tolist(), off, strict=True))
    return shown(
        request, "gauge_pair.html", here="gauges", gauge_id=gauge_id, found=found, rows=rows, drawing=_drawn(found)
    )


# ----------------------------------------------------------------------------------------------------------------------


def _drawn(found: gauge_pairs.PairResult) -> str:
    low, high = found.comparison.agreement
    return difference_chart(
        found.first * 1e6,
        found.second * 1e6,
        agreement=(low * 1e6, high * 1e6),
        allowed=None if found.allowed is None else found.allowed * 1e6,
        unit="µm",
        title=_("%(first)s against %(second)s on %(piece)s")
        % {"first": found.pair.gauge_ids[0], "second": found.pair.gauge_ids[1], "piece": found.pair.piece},
        words=DifferenceWords(
            names=found.pair.gauge_ids,
            difference=_("difference"),
            mean_of_both=_("mean of both"),
            on_average=_("on average"),
            holds=_("95 % of single ones"),
            allowed=_("allowed to the average by the budgets of both"),
        ),
        lettering=lettering(),
    )
