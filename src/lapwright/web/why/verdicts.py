"""Numbers of the decision worked out: a verdict on a limit, and how well a limit is kept."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from django.urls import reverse
from django.utils.translation import gettext as _

from lapwright.app import answers, orders, standing, verdicts
from lapwright.errors import NotFound
from lapwright.metrology.distributions import student_t_cdf, student_t_quantile
from lapwright.model.job import RecordedVerdict
from lapwright.model.order import Limit
from lapwright.web.limits import limit_text
from lapwright.web.sentences import printed, said
from lapwright.web.why.case import Case, Other, Table, bare, figures, freedom, per_cent, put
from lapwright.web.why.place import Place, picked
from lapwright.web.words import QUANTITIES


def judged(place: Place) -> Case:
    """Value, limit and rule of one verdict, with the chance of being inside."""
    listed = _listed(place)
    one = _asked_for(place, listed)
    found, limit = one.verdict, one.verdict.limit
    unit, factor = _unit(limit)
    given = [
        put("y", _("value judged"), _length(found.value, unit, 4), _origin(one)),
        put("T", _("limit of the order"), limit_text(limit)),
    ]
    steps = []
    doubt = _("The uncertainty of the value is not known, so nothing can be decided by it.")
    if found.expanded_uncertainty is not None and found.coverage_factor is not None and found.chance_inside is not None:
        u = found.expanded_uncertainty / found.coverage_factor
        degrees = standing.freedom_of(found.coverage_factor)
        given += [
            put("U", _("expanded uncertainty (95 %)"), _length(found.expanded_uncertainty, unit, 4)),
            put("k", _("coverage factor"), bare(found.coverage_factor, 4)),
            put("u", _("standard uncertainty, U/k"), _length(u, unit, 5)),
            put("ν", _("degrees of freedom, from k = t(97.5 %, ν)"), freedom(degrees)),
        ]
        steps += _chance_steps(limit, found.value, u, degrees, factor)
        steps.append(f"P = {per_cent(found.chance_inside, 3)}")
        steps += _guard_steps(one, u, degrees, factor, unit)
        doubt = _("± %(expanded)s (95 %%) on the value; the chance is computed from it.") % {
            "expanded": _length(found.expanded_uncertainty, unit, 3)
        }
    return Case(
        of=f"{one.wafer_id}, {QUANTITIES[limit.quantity]}",
        result=_length(found.value, unit, 2),
        given=tuple(given),
        steps=(*steps, str(said(found.reason))),
        doubt=doubt,
        others=tuple(_other(two) for two in listed if two.verdict_id != one.verdict_id),
    )


def capability(place: Place) -> Case:
    """The index of one limit from the judged values of the finished wafers."""
    import numpy as np

    from lapwright.app.order_capability import FINISHED, LEAST_WAFERS
    from lapwright.metrology.capability import capability_study

    story = orders.order_standing(place.name("order_id"))
    done = [one for one in story.wafers if one.wafer.state in FINISHED]
    judged_all = [one for wafer in done for one in verdicts.latest_verdicts(wafer.verdicts)]
    by_limit = {
        limit: [one for one in judged_all if one.verdict.limit.quantity == limit.quantity]
        for limit in story.order.order.limits
    }
    enough = [limit for limit, found in by_limit.items() if len(found) >= LEAST_WAFERS]
    if not enough:
        raise NotFound(_("Fewer than two wafers are judged; an index needs their scatter."))
    limit = picked(place.of, {one.quantity: one for one in enough}, "")
    values = [one.verdict.value for one in by_limit[limit]]
    study = capability_study(np.array(values), lower=limit.lower, upper=limit.upper)
    unit, factor = _unit(limit)
    middle, spread = study.mean * factor, study.sigma * factor
    sides = [
        f"({bare(end * factor, 4)} − {bare(middle, 4)})/(3·{bare(spread, 4)})"
        if end == limit.upper
        else f"({bare(middle, 4)} − {bare(end * factor, 4)})/(3·{bare(spread, 4)})"
        for end in (limit.upper, limit.lower)
        if end is not None
    ]
    low, high = study.cpk_interval
    rows = tuple((one.wafer_id, bare(one.verdict.value * factor, 4)) for one in by_limit[limit])
    return Case(
        of=f"{story.order.order.order_id}, {QUANTITIES[limit.quantity]}",
        result=f"C_pk = {bare(study.indices.cpk, 3)}",
        given=(
            put("T", _("limit of the order"), limit_text(limit)),
            put("n", _("finished wafers"), str(study.count)),
            put("x̄", _("their mean"), f"{bare(middle, 4)}\u00a0{unit}"),
            put("s", _("their standard deviation"), f"{bare(spread, 4)}\u00a0{unit}"),
        ),
        steps=(f"C_pk = min({'; '.join(sides)}) = {bare(study.indices.cpk, 3)}",),
        tables=(
            Table(title=_("The values judged"), heads=(_("Wafer"), f"{QUANTITIES[limit.quantity]}, {unit}"), rows=rows),
        ),
        doubt=_("From %(low)s to %(high)s (95 %%, non-central t with n − 1 degrees of freedom).")
        % {"low": bare(low, 2), "high": bare(high, 2)},
        others=tuple(Other(name=str(QUANTITIES[one.quantity]), of=one.quantity) for one in enough if one is not limit),
    )


VERDICTS: dict[str, Callable[[Place], Case]] = {"judged": judged, "capability": capability}


# ----------------------------------------------------------------------------------------------------------------------


def _asked_for(place: Place, listed: Sequence[RecordedVerdict]) -> RecordedVerdict:
    quantity = place.name("quantity")
    found = {str(one.verdict_id): one for one in listed if quantity in ("", one.verdict.limit.quantity)}
    return picked(place.of.rpartition("|")[2], found, _("Nothing has been judged yet."))


def _listed(place: Place) -> Sequence[RecordedVerdict]:
    """The verdicts that a page shows: of its wafer, else of all wafers of its order."""
    wafer_id, order_id = place.name("wafer_id") or place.of.rpartition("|")[0], place.name("order_id")
    if wafer_id:
        return answers.wafer_answers(wafer_id)
    if order_id:
        return [one for _wafer_id, found in answers.list_answers(order_id) for one in found]
    return ()


def _other(one: RecordedVerdict) -> Other:
    return Other(name=f"{one.wafer_id}, {QUANTITIES[one.verdict.limit.quantity]}", of=str(one.verdict_id))


def _origin(one: RecordedVerdict) -> str:
    order_id = orders.recorded_wafer(one.wafer_id).order_id
    return reverse("answer", args=[order_id, one.wafer_id, one.verdict.limit.quantity])


def _unit(limit: Limit) -> tuple[str, float]:
    return ("nm", 1e9) if limit.quantity in ("roughness_ra", "roughness_sq") else ("µm", 1e6)


def _length(value: float, unit: str, digits: int) -> str:
    return printed(value, unit, "length", digits=digits)


def _chance_steps(limit: Limit, value: float, u: float, degrees: float, factor: float) -> list[str]:
    """F at each end of the limit."""
    if u == 0.0:
        return []
    steps = []
    for name, end in (("T_U", limit.upper), ("T_L", limit.lower)):
        if end is None:
            steps.append(f"F(({name} − y)/u) = {'1' if name == 'T_U' else '0'}")
            continue
        t = (end - value) / u
        share = student_t_cdf(t, degrees) if math.isfinite(degrees) else student_t_cdf(t, 1e9)
        steps.append(
            f"F(({bare(end * factor, 4)} − {bare(value * factor, 4)})/{bare(u * factor, 5)})"
            f" = F({bare(t, 3)}) = {figures(share)}"
        )
    return steps


def _guard_steps(one: RecordedVerdict, u: float, degrees: float, factor: float, unit: str) -> list[str]:
    rule = one.verdict.rule
    if rule.kind == "simple":
        return []
    if rule.guard_factor is not None:
        assert one.verdict.expanded_uncertainty is not None
        width = rule.guard_factor * one.verdict.expanded_uncertainty
        return [f"w = {rule.guard_factor:g}·U = {bare(width * factor, 4)}\u00a0{unit}"]
    t = student_t_quantile(1.0 - rule.false_accept, degrees)
    return [
        (
            f"w = u·t({per_cent(1.0 - rule.false_accept, 1)}, ν) = {bare(u * factor, 5)}·{bare(t, 4)}"
            f" = {bare(u * t * factor, 4)}\u00a0{unit}"
        )
    ]
