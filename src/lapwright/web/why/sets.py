"""Numbers of a set of readings worked out: mean, TTV, its noise bias, wedge, dome."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from django.urls import reverse
from django.utils.translation import gettext as _

from lapwright.app import orders, readings
from lapwright.app.set_values import valid_readings
from lapwright.errors import NotFound
from lapwright.metrology.outlines import extent, furthest_reach
from lapwright.metrology.range_bias import noise_bias_basis
from lapwright.metrology.surface_fit import fitted_surface
from lapwright.metrology.thickness import ThicknessResult
from lapwright.model.job import RecordedSet
from lapwright.web.sentences import said
from lapwright.web.why.case import Case, Given, Other, Table, bare, budget_table, figures, freedom, plus_minus, put, um
from lapwright.web.why.place import Place, is_number
from lapwright.web.words import MOMENTS, clock

_MOST_ROWS = 400


def mean(place: Place) -> Case:
    """The mean over the sites, from the readings as typed."""
    taken, result = _asked_for(place)
    total = math.fsum(float(one) for one in result.sites.thickness)
    return _case(
        place,
        taken,
        result=um(result.mean),
        given=(put("n", _("sites that count"), str(result.n_sites)), *_zeros(taken, result)),
        steps=(f"t̄ = {bare(total * 1e6, 4)} / {result.n_sites} = {um(result.mean)}",),
        tables=(_sites(result), _readings(taken), *budget_table(result.mean_budget)),
        doubt=plus_minus(result.mean_uncertainty),
    )


def ttv(place: Place) -> Case:
    """Largest site mean less smallest."""
    taken, result = _asked_for(place)
    sites = result.sites
    high, low = int(np.argmax(sites.thickness)), int(np.argmin(sites.thickness))
    labels = sites.labels or ()
    return _case(
        place,
        taken,
        result=um(result.ttv),
        given=(
            put("max", _("thickest site, %(site)s") % {"site": labels[high]}, um(result.maximum, 4)),
            put("min", _("thinnest site, %(site)s") % {"site": labels[low]}, um(result.minimum, 4)),
        ),
        steps=(f"TTV = {bare(result.maximum * 1e6, 4)} − {bare(result.minimum * 1e6, 4)} = {um(result.ttv)}",),
        tables=(_sites(result), *budget_table(result.ttv_budget)),
        doubt=plus_minus(result.ttv_uncertainty),
    )


def ttv_corrected(place: Place) -> Case:
    """TTV as read less what noise has added, with the shapes and the noise that this is computed from."""
    taken, result = _asked_for(place)
    if result.ttv_noise_bias is None or result.ttv_corrected is None or result.scatter is None:
        raise NotFound(_("Without repeats and without a gauge that says how it scatters, noise cannot be taken off."))
    sites, scatter = result.sites, result.scatter
    basis = noise_bias_basis(
        sites.x,
        sites.y,
        sites.thickness,
        noise=scatter.deviation / np.sqrt(result.repeats),
        degrees_of_freedom=scatter.degrees_of_freedom,
        reach=furthest_reach(taken.surroundings.outline),
    )
    steps = [_corrected_step(result)]
    given = [
        put("TTV", _("as read"), um(result.ttv, 4)),
        put("s", _("scatter of one reading"), um(scatter.deviation, 4)),
        put("ν", _("its degrees of freedom"), freedom(scatter.degrees_of_freedom)),
    ]
    tables = []
    if basis is not None:
        given += [
            put(f"g{'₁₂'[k]}", _("weight of shape %(n)d") % {"n": k + 1}, figures(share))
            for k, share in enumerate(basis.weights)
        ]
        heads = (_("Site"), *(f"s{'₁₂'[k]}, µm" for k in range(len(basis.shapes))), "σ, µm")
        rows = tuple(
            (label, *(bare(shape[i] * 1e6, 4) for shape in basis.shapes), bare(basis.noise[i] * 1e6, 4))
            for i, label in enumerate(sites.labels or ())
        )
        title = _("Shapes that noise is added to, and its size at each site")
        tables.append(Table(title=title, heads=heads, rows=rows))
    return _case(
        place,
        taken,
        result=um(result.ttv_corrected),
        given=tuple(given),
        steps=tuple(steps),
        tables=(*tables, _sites(result), *budget_table(result.ttv_budget)),
        doubt=plus_minus(result.ttv_uncertainty),
    )


def wedge(place: Place) -> Case:
    """Rise of the best plane over the full diameter."""
    taken, result = _asked_for(place)
    if result.wedge is None:
        raise NotFound(_("The sites of this set lie on one line; they carry no plane and so no wedge."))
    outline = taken.surroundings.outline
    reach = furthest_reach(outline)
    plane = fitted_surface(result.sites.x, result.sites.y, result.sites.thickness, surface="plane", reach=reach)
    assert plane is not None  # there is a wedge
    a, b = (float(one) / reach for one in plane.coefficients[1:3])
    width = extent(outline, azimuth=math.atan2(b, a))
    told = result.wedge.azimuth
    direction = clock(told) if told is not None else _("not told: the wedge is smaller than its ±")
    return _case(
        place,
        taken,
        result=f"{um(result.wedge.amount)}, {direction}",
        given=(
            put("a", _("slope of the plane along x"), f"{figures(a * 1e3)}\u00a0µm/mm"),
            put("b", _("slope of the plane along y"), f"{figures(b * 1e3)}\u00a0µm/mm"),
            put("D", _("full width of the piece"), f"{bare(width * 1e3, 2)}\u00a0mm"),
        ),
        steps=(
            f"W = {bare(width * 1e3, 2)} · √({figures(a * 1e3)}² + {figures(b * 1e3)}²) = {um(result.wedge.amount)}",
            f"φ = atan2({figures(b * 1e3)}, {figures(a * 1e3)}) = {bare(math.degrees(math.atan2(b, a)), 1)}°",
        ),
        tables=(_sites(result), *budget_table(result.wedge_budget)),
        doubt=plus_minus(result.wedge_uncertainty),
    )


def dome(place: Place) -> Case:
    """Middle over the rim, plane taken out."""
    taken, result = _asked_for(place)
    if result.dome is None:
        raise NotFound(_("The sites of this set do not carry a dome: they lie on one ring, or are too few."))
    reach = furthest_reach(taken.surroundings.outline)
    curvature = -result.dome / reach**2
    return _case(
        place,
        taken,
        result=um(result.dome),
        given=(
            put("c", _("curvature of the fitted bowl"), f"{figures(curvature)}\u00a0µm/mm²"),
            put("R", _("from the centre to the rim"), f"{bare(reach * 1e3, 2)}\u00a0mm"),
        ),
        steps=(f"dome = −({figures(curvature)})·{bare(reach * 1e3, 2)}² = {um(result.dome)}",),
        tables=(_sites(result),),
        doubt=plus_minus(result.dome_uncertainty),
    )


SETS: dict[str, Callable[[Place], Case]] = {
    "mean": mean,
    "ttv": ttv,
    "ttv_corrected": ttv_corrected,
    "wedge": wedge,
    "dome": dome,
}


def sites_table(result: ThicknessResult) -> Table:
    """Place, mean and number of readings of each site."""
    return _sites(result)


# ----------------------------------------------------------------------------------------------------------------------


def _asked_for(place: Place) -> tuple[RecordedSet, ThicknessResult]:
    """The set that is asked about: that of the page, the one named, else the last one read of what the page shows."""
    named = place.of if is_number(place.of) else place.name("set_id")
    if is_number(named):
        taken = readings.show_set(int(named))
    else:
        standing = [one for one in _listed(place) if one.state != "void" and one.readings]
        if not standing:
            raise NotFound(_("Nothing has been read yet."))
        taken = standing[-1]
    return taken, readings.recorded_result(taken)


def _listed(place: Place) -> Sequence[RecordedSet]:
    """The sets that a page tells numbers of, the oldest first."""
    wafer_id, order_id = place.name("wafer_id"), place.name("order_id")
    if wafer_id:
        return orders.show_wafer(wafer_id).sets
    if not order_id:
        return ()
    return [one.latest for one in orders.order_standing(order_id).wafers if one.latest is not None]


def _case(
    place: Place,
    taken: RecordedSet,
    *,
    result: str,
    given: tuple[Given, ...],
    steps: tuple[str, ...],
    tables: tuple[Table, ...],
    doubt: str,
) -> Case:
    order_id = taken.order_id or place.name("order_id")
    address = reverse("set", args=[order_id, taken.set_id]) if order_id else ""
    first = put("", _("the set"), _named(taken), address)
    notices = tuple(str(said(sentence)) for code, sentence in _notices(taken) if code == "thickness.corrected_by_curve")
    others = (
        ()
        if place.page == "set"
        else tuple(
            Other(name=_named(one), of=str(one.set_id))
            for one in _listed(place)
            if one.set_id != taken.set_id and one.state == "closed"
        )
    )
    return Case(
        of=_named(taken),
        result=result,
        given=(first, *given),
        steps=(*steps, *notices),
        tables=tables,
        doubt=doubt,
        others=others,
    )


def _notices(taken: RecordedSet) -> tuple[tuple[str, str], ...]:
    return tuple(readings.recorded_result(taken).warnings)


def _named(taken: RecordedSet) -> str:
    return f"{taken.piece}, {MOMENTS[taken.moment]}"


def _sites(result: ThicknessResult) -> Table:
    sites = result.sites
    labels = sites.labels or tuple(str(i + 1) for i in range(len(sites.x)))
    rows = tuple(
        (
            labels[i],
            bare(sites.x[i] * 1e3, 2),
            bare(sites.y[i] * 1e3, 2),
            str(result.repeats[i]),
            bare(sites.thickness[i] * 1e6, 4),
        )
        for i in range(min(len(labels), _MOST_ROWS))
    )
    heads = (_("Site"), "x, mm", "y, mm", _("readings"), _("mean tᵢ, µm"))
    return Table(title=_("The sites, zeros taken off"), heads=heads, rows=rows)


def _readings(taken: RecordedSet) -> Table:
    """Every reading that stands, in the order taken, as it was typed."""
    standing = valid_readings(taken, "site")[:_MOST_ROWS]
    rows = tuple(
        (str(number), one.reading.site or "", one.reading.text, bare(one.reading.thickness * 1e6, 4))
        for number, one in enumerate(standing, start=1)
    )
    heads = (_("No."), _("Site"), _("as typed"), _("µm"))
    return Table(title=_("The readings in the order taken"), heads=heads, rows=rows)


def _zeros(taken: RecordedSet, result: ThicknessResult) -> tuple[Given, ...]:
    before, after = result.conditions.zero_before, result.conditions.zero_after
    count = len(valid_readings(taken, "site"))
    found = []
    if before is not None:
        found.append(put("z₀", _("zero before"), um(before)))
    if after is not None:
        found.append(put("z₁", _("zero after"), um(after)))
    if before is not None and after is not None:
        rule = _("z₀ + (z₁ − z₀)·k/%(n)d for reading no. k") % {"n": count + 1}
        found.append(put("z", _("taken off each reading"), rule))
    return tuple(found)


def _corrected_step(result: ThicknessResult) -> str:
    bias, ttv_c = result.ttv_noise_bias, result.ttv_corrected
    return f"TTV_c = {bare(result.ttv * 1e6, 4)} − {bare((bias or 0.0) * 1e6, 4)} = {um(ttv_c)}"
