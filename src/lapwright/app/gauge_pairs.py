"""Use case: two gauges that read the same piece, compared: difference at common sites, verdict by their budgets."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lapwright import units
from lapwright.app.kept_results import kept_in_parts
from lapwright.errors import Conflict, LapwrightError, TooFewSites
from lapwright.model.gauge_care import GaugePair

if TYPE_CHECKING:
    from lapwright.metrology.gauge_checks import GaugeComparison
    from lapwright.metrology.uncertainty import Budget

#: Sites of two sets nearer than this are the same place [m]; half of what a probe tip covers (our own choice).
SAME_PLACE = 0.25e-3
#: Lines of a budget that differ from site to site or reading to reading; all others move a whole set.
PER_SITE = ("repeat scatter", "local error of the gauge", "resolution")


@dataclass(frozen=True, slots=True, kw_only=True)
class PairResult:
    """Two sets compared. Values [m] at the common sites, in the order of the first set.

    `uncertainties` are those (k = 2) of what is common to all sites of each set; None when a budget lacks a part.
    `allowed` is what the mean difference may be; `sentence` is the verdict in words.
    """

    pair: GaugePair
    labels: tuple[str, ...]
    first: NDArray[np.float64]
    second: NDArray[np.float64]
    uncertainties: tuple[float, float] | None
    comparison: GaugeComparison
    allowed: float | None
    sentence: str


def list_pairs(gauge_id: str) -> tuple[GaugePair, ...]:
    """Sets of a gauge beside those of other gauges on the same pieces, the latest first."""
    from lapwright.records import gauge_pair_queries

    rests_on = {"readingset": gauge_pair_queries.gauges_of_pieces}
    return kept_in_parts(("gauge pairs", gauge_id), [gauge_id], rests_on, gauge_pair_queries.gauge_pairs)[gauge_id]


def pair_of(gauge_id: str, first: int, second: int) -> GaugePair:
    """The pair of two sets. Raises `Conflict` when they are no pair: other pieces, or work done between them."""
    for one in list_pairs(gauge_id):
        if one.set_ids == (first, second):
            return one
    raise Conflict(
        f"Sets {first} and {second} cannot be compared as gauges: both must be closed, of one piece, read with two"
        f" gauges at the same moment of the job, and the latest of their gauge. Choose from the page of {gauge_id}."
    )


def compare_pair(pair: GaugePair) -> PairResult:
    """Difference of two gauges at the sites that both sets have, first less second.

    Raises `TooFewSites` with fewer than three common sites, `SetVoid` when a set does not stand.
    """
    from lapwright.app import set_values
    from lapwright.metrology.frames import nearest_sites
    from lapwright.metrology.gauge_checks import gauge_comparison
    from lapwright.records import queries

    results = [set_values.result_of(queries.reading_set(number)) for number in pair.set_ids]
    mine, other = (result.sites for result in results)
    index, distance = nearest_sites(mine, other)
    values = mine.thickness, other.thickness[index]
    used = (distance <= SAME_PLACE) & np.isfinite(values[0]) & np.isfinite(values[1])
    if np.count_nonzero(used) < 3:
        raise TooFewSites(f"The comparison of two gauges on {pair.piece!r}", measured=int(used.sum()), needed=3)
    common = [_common_to_set(result.mean_budget) for result in results]
    uncertainties = None if None in common else (common[0] or 0.0, common[1] or 0.0)
    found = gauge_comparison(values[0][used], values[1][used], uncertainties=uncertainties)
    allowed = None if not found.ratio or not math.isfinite(found.ratio) else abs(found.difference) / found.ratio
    return PairResult(
        pair=pair,
        labels=tuple(label for label, keep in zip(mine.labels, used.tolist(), strict=True) if keep),
        first=values[0][used],
        second=values[1][used],
        uncertainties=uncertainties,
        comparison=found,
        allowed=allowed,
        sentence=_told(pair, found, allowed),
    )


def pair_sentence(pair: GaugePair) -> str:
    """The verdict on a pair in words, or the sentence why there is none."""
    try:
        return compare_pair(pair).sentence
    except LapwrightError as error:
        return error.sentence


# ----------------------------------------------------------------------------------------------------------------------


def _common_to_set(budget: Budget | None) -> float | None:
    """Twice the standard uncertainty of what moves all sites of a set together [m]."""
    if budget is None:
        return None
    return 2.0 * math.sqrt(sum(line.effect**2 for line in budget.contributions if line.name not in PER_SITE))


def _told(pair: GaugePair, found: GaugeComparison, allowed: float | None) -> str:
    mine, other = pair.gauge_ids
    word = "more" if found.difference >= 0.0 else "less"
    said = f"{mine} reads {_micrometres(abs(found.difference))} {word} than {other} on {pair.piece}."
    if found.agree is None:
        return f"{said} {found.reason}"
    if allowed is not None:
        said += f" Their uncertainties allow {_micrometres(allowed)}:"
    return f"{said} they agree." if found.agree else f"{said} one of them is off. Check zeros and standards of both."


def _micrometres(value: float) -> str:
    return units.printed(value, "µm", "length", digits=2)
