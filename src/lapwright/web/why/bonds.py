"""Numbers of a bond worked out: the adhesive, what follows for the wafer, how it cools and how it comes off."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from django.urls import reverse
from django.utils.translation import gettext as _

from lapwright import units
from lapwright.app import bench_advice, bonding
from lapwright.app.bench_advice import BondOutlook
from lapwright.errors import LapwrightError, NotFound
from lapwright.library import load
from lapwright.metrology.bond_line import BondResult
from lapwright.process.bonding_programme import START_FILM
from lapwright.process.bonding_stack import stack_layers
from lapwright.process.strength import FaceStrength
from lapwright.web.sentences import said
from lapwright.web.why.case import Case, Given, Other, Table, bare, figures, freedom, per_cent, plus_minus, put, um
from lapwright.web.why.place import Place, is_number, picked


def bond(place: Place) -> Case:
    """The mean of the adhesive over the sites that all three sets hold."""
    outlook, result = _judged(place)
    values = result.bond.thickness * 1e6
    total = float(values.sum())
    return Case(
        of=_of(outlook),
        result=um(result.mean),
        given=_sets(place, outlook),
        steps=(
            f"b̄ = {bare(total, 4)} / {len(values)} = {um(result.mean)}",
            f"max bᵢ − min bᵢ = {bare(float(values.max()), 4)} − {bare(float(values.min()), 4)} = {um(result.range)}",
        ),
        tables=(_sites(result), *_known(result)),
        doubt=plus_minus(result.mean_uncertainty),
    )


def bond_wedge(place: Place) -> Case:
    """The wedge of the adhesive."""
    outlook, result = _judged(place)
    if result.wedge is None:
        raise NotFound(_("The common sites lie on one line; they carry no wedge."))
    x, y = result.bond.x * 1e3, result.bond.y * 1e3
    terms = np.column_stack((np.ones_like(x), x, y))
    _b0, a, b = (float(one) for one in np.linalg.lstsq(terms, result.bond.thickness * 1e6, rcond=None)[0])
    width = result.wedge.amount * 1e6 / float(np.hypot(a, b)) if a or b else 0.0
    return Case(
        of=_of(outlook),
        result=um(result.wedge.amount),
        given=(
            *_sets(place, outlook),
            put("a", _("slope of the plane along x"), f"{figures(a)}\u00a0µm/mm"),
            put("b", _("slope of the plane along y"), f"{figures(b)}\u00a0µm/mm"),
            put("D", _("full width of the piece"), f"{bare(width, 2)}\u00a0mm"),
        ),
        steps=(f"W = {bare(width, 2)} · √({figures(a)}² + {figures(b)}²) = {um(result.wedge.amount)}",),
        tables=(_sites(result), *_known(result)),
        doubt=plus_minus(result.wedge_uncertainty),
    )


def predicted_ttv(place: Place) -> Case:
    """The range of the wafer that the lap would leave."""
    outlook, result = _judged(place)
    left = result.predicted_deviation.thickness * 1e6
    return Case(
        of=_of(outlook),
        result=um(result.predicted_ttv),
        given=_sets(place, outlook),
        steps=(f"TTV = {bare(float(left.max()), 4)} − ({bare(float(left.min()), 4)}) = {um(result.predicted_ttv)}",),
        tables=(_sites(result), *_known(result)),
        doubt=plus_minus(result.predicted_ttv_uncertainty),
    )


def scrap(place: Place) -> Case:
    """The chance beyond the limit, from the predicted TTV and its uncertainty."""
    outlook, result = _judged(place)
    known, bias, limit = result.predicted_ttv_uncertainty, result.predicted_ttv_noise_bias, outlook.ttv_limit
    if known is None or bias is None or limit is None or outlook.chance_of_scrap is None:
        raise NotFound(_("How well the prediction is known is not known, so no chance can be told."))
    u, above = known.standard_uncertainty, result.predicted_ttv - bias - limit
    t = above / u if u else 0.0
    return Case(
        of=_of(outlook),
        result=per_cent(outlook.chance_of_scrap, 4),
        given=(
            *_sets(place, outlook),
            put("TTV", _("as predicted"), um(result.predicted_ttv, 4)),
            put("b", _("what noise adds to it"), um(bias, 4)),
            put("L", _("limit of the order"), um(limit, 2)),
            put("u", _("standard uncertainty of the prediction"), um(u, 4)),
            put("ν", _("its degrees of freedom"), freedom(known.degrees_of_freedom)),
        ),
        steps=(
            (
                f"t = ({bare(result.predicted_ttv * 1e6, 4)} − {bare(bias * 1e6, 4)} − {bare(limit * 1e6, 2)})"
                f"/{bare(u * 1e6, 4)} = {bare(t, 3)}"
            ),
            f"P = F({bare(t, 3)}) = {per_cent(outlook.chance_of_scrap, 4)}",
        ),
        tables=(_sites(result),),
        doubt=_("It is a chance already; the ± of the predicted TTV is in it. What the lap itself adds is not."),
    )


def squeeze(place: Place) -> Case:
    """Load and minutes that squeeze the adhesive to the film wanted."""
    outlook = _outlook(place)
    found = outlook.programme
    if found is None:
        raise NotFound(_("The library knows no viscosity of this adhesive, so no programme can be told."))
    radius = _radius(place)
    return Case(
        of=_of(outlook),
        result=f"{bare(found.dwell / 60.0, 1)}\u00a0min, {bare(found.load, 0)}\u00a0N",
        given=(
            put("h", _("film wanted"), um(found.film, 2)),
            put("h₀", _("film at the start"), um(START_FILM, 1)),
            put("R", _("radius of the wafer"), f"{bare(radius * 1e3, 2)}\u00a0mm"),
            put("F", _("load"), f"{figures(found.load)}\u00a0N"),
            put("T", _("temperature"), f"{bare(found.temperature - 273.15, 1)}\u00a0°C"),
            put("η", _("viscosity there, by the library"), f"{figures(found.viscosity)}\u00a0Pa·s"),
        ),
        steps=(
            (
                f"t = 3π·{figures(found.viscosity)}·({figures(radius)})⁴/(4·{figures(found.load)})"
                f" · (1/({figures(found.film)})² − 1/({figures(START_FILM)})²) = {bare(found.dwell, 1)}\u00a0s"
            ),
        ),
        doubt=_("The film may come out from %(low)s to %(high)s: viscosity and start are known within a factor.")
        % {"low": um(found.film_low, 1), "high": um(found.film_high, 1)},
    )


def cooling_bow(place: Place) -> Case:
    """Bow of the cooled stack from its layers."""
    outlook = _outlook(place)
    found = outlook.stack
    if found is None:
        raise NotFound(_("The library holds too little about wafer or carrier to tell a bow."))
    design = found.design
    layers = stack_layers(load(), design)
    change = design.use_temperature - design.set_temperature
    rows = tuple(
        (
            str(said(one.name)),
            bare(one.thickness * 1e6, 2),
            *(bare(e * 1e-9, 2) for e in one.moduli),
            bare(one.poisson_ratio, 3),
            *(bare(e * 1e6, 2) for e in one.expansions),
        )
        for one in layers
    )
    heads = (
        _("Layer, from below"),
        "h, µm",
        "E_x, GPa",
        "E_y, GPa",
        "ν",
        "α_x, 10⁻⁶/K",
        "α_y, 10⁻⁶/K",
    )
    bows = ", ".join(um(one, 2) for one in found.now.bows)
    return Case(
        of=_of(outlook),
        result=_("along x and y: %(bows)s") % {"bows": bows},
        given=(
            put("ΔT", _("from where it sets to where it is used"), f"{bare(change, 1)}\u00a0K"),
            put("D", _("diameter of the wafer"), f"{bare(design.diameter * 1e3, 2)}\u00a0mm"),
        ),
        steps=tuple(
            f"{name}: κ = {figures(8.0 * bow / design.diameter**2)}\u00a01/m, κ·D²/8 = {um(bow, 2)}"
            for name, bow in zip("xy", found.now.bows, strict=True)
        ),
        tables=(Table(title=_("The layers, by the library"), heads=heads, rows=rows),),
        doubt=_("An upper bound: a soft adhesive relaxes most of it."),
    )


def breakage(place: Place) -> Case:
    """Chance of breakage of one way to come off, stress by stress."""
    outlook = _outlook(place)
    if not outlook.ways:
        raise NotFound(_("The library holds too little about this wafer to tell how it breaks."))
    way = picked(place.of, {one.way: one for one in outlook.ways}, "")
    chance = way.chance
    rows = []
    for one in chance.stressings:
        face = one.strength or chance.strength
        rows.append((str(said(one.name)), bare(one.stress * 1e-6, 2), bare(one.area * 1e4, 3), *_strength_cells(face)))
    heads = (
        _("What is done"),
        "σ, MPa",
        "A, cm²",
        "σ₀ " + _("from, MPa"),
        "σ₀ " + _("to, MPa"),
        "m " + _("from"),
        "m " + _("to"),
    )
    return Case(
        of=f"{outlook.bond.wafer_id}, {said(way.name)}",
        result=per_cent(chance.expected, 2),
        given=(
            put("A₀", _("area that the strength is stated for"), "1\u00a0cm²"),
            put("", _("in the hand"), _("on a support") if way.needs_support else _("free")),
            put("σ₀", _("strength of the face"), str(said(chance.strength.method))),
        ),
        steps=(
            _("at a place a from 0 (weak end) to 1 (strong end):") + " σ₀ = σ₀₁·(σ₀₂/σ₀₁)^a,  m = m₁ + a·(m₂ − m₁)",
            "P(a) = 1 − Π exp(−(A/A₀)·(σ/σ₀)^m)",
            _("mean of P over a from 0 to 1:") + f" {per_cent(chance.expected, 2)}",
        ),
        tables=(Table(title=_("What is done to it"), heads=heads, rows=tuple(rows)),),
        doubt=_("From %(low)s (strong end) to %(high)s (weak end); an order of magnitude only.")
        % {"low": per_cent(chance.low, 2), "high": per_cent(chance.high, 2)},
        others=tuple(Other(name=str(said(one.name)), of=one.way) for one in outlook.ways if one.way != way.way),
    )


BONDS: dict[str, Callable[[Place], Case]] = {
    "bond": bond,
    "bond_wedge": bond_wedge,
    "predicted_ttv": predicted_ttv,
    "scrap": scrap,
    "squeeze": squeeze,
    "cooling_bow": cooling_bow,
    "breakage": breakage,
}


# ----------------------------------------------------------------------------------------------------------------------


def _outlook(place: Place) -> BondOutlook:
    order, story = bench_advice.wafer_story(place.name("order_id"), place.name("wafer_id"))
    found = bench_advice.bond_outlook(story, order, film=_film(place.asked.get("film", "")))
    if found is None:
        raise NotFound(_("This wafer was never bonded."))
    return found


def _film(text: str) -> float:
    """The film that the page was asked for; the usual one where it was asked for none that can be read."""
    try:
        return units.number(text) * 1e-6 if text.strip()[-1:].isdigit() else units.parse(text, "length")
    except LapwrightError:
        return bench_advice.USUAL_FILM


def _judged(place: Place) -> tuple[BondOutlook, BondResult]:
    outlook = _outlook(place)
    if is_number(place.of):  # an earlier one
        order, story = bench_advice.wafer_story(place.name("order_id"), place.name("wafer_id"))
        for one in story.bonds:
            if str(one.bond_id) == place.of and one is not story.bonds[-1]:
                outlook = replace(outlook, bond=one, result=bonding.bond_result(one, order.order))
    if outlook.result is None:
        raise NotFound(" ".join(str(said(one)) for one in outlook.missing) or _("The bond has not been judged."))
    return outlook, outlook.result


def _of(outlook: BondOutlook) -> str:
    return _("%(wafer)s on carrier %(carrier)s") % {"wafer": outlook.bond.wafer_id, "carrier": outlook.bond.carrier_id}


def _radius(place: Place) -> float:
    from lapwright.metrology.outlines import furthest_reach

    _order, story = bench_advice.wafer_story(place.name("order_id"), place.name("wafer_id"))
    return furthest_reach(story.wafer.wafer.outline)


def _sets(place: Place, outlook: BondOutlook) -> tuple[Given, ...]:
    names = (
        ("w", _("set of the wafer"), outlook.bond.wafer_set_id),
        ("c", _("set of the carrier"), outlook.bond.carrier_set_id),
        ("s", _("set of the stack"), outlook.bond.stack_set_id),
    )
    return tuple(
        put(letter, what, str(key), reverse("set", args=[place.name("order_id"), key]))
        for letter, what, key in names
        if key is not None
    )


def _sites(result: BondResult) -> Table:
    maps = (result.stack, result.wafer, result.carrier, result.bond, result.predicted_deviation)
    labels = result.bond.labels or ()
    rows = tuple(
        (
            label,
            bare(result.bond.x[i] * 1e3, 2),
            bare(result.bond.y[i] * 1e3, 2),
            *(bare(one.thickness[i] * 1e6, 4) for one in maps),
        )
        for i, label in enumerate(labels)
    )
    heads = (_("Site"), "x, mm", "y, mm", "s, µm", "w, µm", "c, µm", "b = s − w − c, µm", "t − T, µm")
    return Table(title=_("The sites, all three sets brought into the frame of the wafer"), heads=heads, rows=rows)


def _known(result: BondResult) -> tuple[Table, ...]:
    """How well the three maps are known, which the ± is made of."""
    known = result.uncertainties
    if known is None:
        return ()
    rows = tuple(
        (
            name,
            bare(one.site * 1e6, 4),
            freedom(one.degrees_of_freedom),
            "–" if one.common is None else bare(one.common * 1e6, 4),
            one.gauge or "–",
        )
        for name, one in ((_("wafer"), known.wafer), (_("carrier"), known.carrier), (_("stack"), known.stack))
    )
    heads = (_("Set of the"), _("u of a site, µm"), "ν", _("u common to the gauge, µm"), _("Gauge"))
    return (Table(title=_("How well each set is known"), heads=heads, rows=rows),)


def _strength_cells(face: FaceStrength) -> tuple[str, ...]:
    return (
        bare(face.strength_low * 1e-6, 1),
        bare(face.strength_high * 1e-6, 1),
        bare(face.weibull_modulus_low, 2),
        bare(face.weibull_modulus_high, 2),
    )
