"""Numbers of the bench and the shelf worked out: voids, stages, screws, ring, sources of a form, lots, odd wafers."""

from __future__ import annotations

import math
from collections.abc import Callable

from django.urls import reverse
from django.utils.translation import gettext as _

from lapwright.app import (
    bench_advice,
    bond_voids,
    jig_moves,
    odd_ones,
    orders,
    partners,
    plate_sources,
    plates,
    shelf,
    supplies,
)
from lapwright.errors import NotFound
from lapwright.library import load
from lapwright.web.odd_views import choice_word
from lapwright.web.sentences import said
from lapwright.web.supply_forms import amount_text, shelf_day
from lapwright.web.surroundings import now
from lapwright.web.why.case import Case, Other, Table, bare, figures, per_cent, put, um
from lapwright.web.why.place import Place, picked
from lapwright.web.words import item_name

_HOUR = 3600.0
_NINETY = 1.6448536269514722


def voids(place: Place) -> Case:
    """How much the wafer sags over the longest void while it is cut."""
    order, story = bench_advice.wafer_story(place.name("order_id"), place.name("wafer_id"))
    limit = order.order.limit("ttv")
    kept = bond_voids.voids_of(
        story, target_thickness=order.order.target_thickness, ttv_limit=None if limit is None else limit.upper
    )
    if not kept or not kept[0].voids:
        raise NotFound(_("No void is recorded of this bond."))
    found, material = kept[0], load().material(story.wafer.wafer.material)
    modulus, poisson = material.value("youngs_modulus") or 0.0, material.value("poisson_ratio") or 0.0
    radius, thickness = found.voids[0].longest / 2.0, found.thickness
    stiffness = modulus * thickness**3 / (12.0 * (1.0 - poisson**2))
    rows = tuple(
        (str(i), bare(one.longest * 1e3, 2), bare(one.area * 1e6, 2), bare(one.edge_distance * 1e3, 2))
        for i, one in enumerate(found.voids[:40], start=1)
    )
    heads = (_("Void"), _("longest, mm"), _("area, mm²"), _("from the edge, mm"))
    sag, cube = found.pressure * radius**4 / (64.0 * stiffness), f"({figures(thickness)})³"
    steps = [
        f"D = {figures(modulus)}·{cube}/(12·(1 − {bare(poisson, 3)}²)) = {figures(stiffness)}\u00a0N·m",
        f"w = {figures(found.pressure)}·({figures(radius)})⁴/(64·{figures(stiffness)}) = {um(sag, 3)}",
        str(said(found.verdict.reason)),
    ]
    return Case(
        of=story.wafer.wafer.wafer_id,
        result="–" if found.verdict.dimple is None else um(found.verdict.dimple, 2),
        given=(
            put("p", _("pressure while it is cut"), f"{bare(found.pressure / 1e3, 2)}\u00a0kPa"),
            put("a", _("half of the longest void"), f"{bare(radius * 1e3, 3)}\u00a0mm"),
            put("t", _("thickness when it is worked"), um(thickness, 1)),
            put("E", _("modulus, by the library"), f"{bare(modulus / 1e9, 1)}\u00a0GPa"),
            put("ν", _("Poisson's ratio, by the library"), bare(poisson, 3)),
            put(
                "", _("stands off the film by more than"), per_cent(found.recorded.numbers["least_contrast"] or 0.0, 1)
            ),
        ),
        steps=tuple(steps),
        tables=(Table(title=_("Voids, the longest first"), heads=heads, rows=rows),),
        doubt=_("An upper limit once it passes half the thickness; the length of a void is known to about 0.3 mm."),
    )


def stages(place: Place) -> Case:
    """What each stage of a wafer takes and what is dialled in for it."""
    story = bench_advice.wafer_story(place.name("order_id"), place.name("wafer_id"))[1]
    rows, before = [], None
    for one in story.stages:
        stage = one.stage
        if stage.removal:
            start = stage.thickness_after + stage.removal if before is None else before
            rows.append(
                (
                    str(said(stage.name)),
                    bare(start * 1e6, 2),
                    bare(stage.thickness_after * 1e6, 2),
                    bare(stage.removal * 1e6, 2),
                    bare(stage.allowance * 1e6, 2),
                    "–" if stage.preset is None else bare(stage.preset * 1e6, 2),
                )
            )
            before = stage.thickness_after
    if not rows:
        raise NotFound(_("No route is laid out for this wafer yet."))
    heads = (_("Stage"), _("before, µm"), _("after, µm"), "h, µm", _("allowance, µm"), _("preset, µm"))
    return Case(
        of=story.wafer.wafer.wafer_id,
        result=_("%(n)d stages that remove") % {"n": len(rows)},
        steps=tuple(f"{row[0]}: h = {row[1]} − {row[2]} = {row[3]}\u00a0µm" for row in rows),
        tables=(Table(title=_("The stages as laid out for this wafer"), heads=heads, rows=tuple(rows)),),
        doubt=_("Planned from the last reading before the route was laid out; the next stage is computed anew."),
    )


def screws(place: Place) -> Case:
    """What one division of each screw moves, as its moves have taught."""
    jigs = shelf.list_jigs()
    jig = next((one.jig for one in jigs if one.jig.jig_id == place.asked.get("jig")), jigs[0].jig if jigs else None)
    if jig is None:
        raise NotFound(_("No jig is on the shelf."))
    found = jig_moves.learned_jig(jig.jig_id)
    if found is None:
        raise NotFound(_("What its screws move cannot be learned: a jig with three screws is needed."))
    rows = tuple(
        (
            str(one.number), bare(one.nominal_travel * 1e6, 3), bare(one.present_travel * 1e6, 3),
            bare(one.learned_travel * 1e6, 3), bare(2e6 * one.travel_uncertainty, 3),
        )
        for one in found.screws
    )  # fmt: skip
    heads = (_("Screw"), _("nominal, µm"), _("taken now, µm"), _("learned, µm"), _("± (k = 2), µm"))
    moved = tuple(
        (f"{one.made_at:%Y-%m-%d %H:%M}", one.move.wafer_id or "–", ", ".join(bare(n, 2) for n in one.move.divisions))
        for one in jig_moves.list_moves(jig.jig_id)
    )
    return Case(
        of=jig.jig_id,
        result=_("%(n)d moves that teach, of %(r)d recorded") % {"n": found.teaching, "r": found.recorded},
        given=(put("", _("play, divisions"), f"{bare(found.play, 2)} ± {bare(2.0 * found.play_uncertainty, 2)}"),),
        tables=(
            Table(title=_("The screws"), heads=heads, rows=rows),
            Table(title=_("The moves on record"), heads=(_("When"), _("Wafer"), _("divisions")), rows=moved),
        ),
        doubt=_(
            "The ± of each stands in the table; a move teaches when the stack was read after a cut on both sides of it."
        ),
    )


def ring(place: Place) -> Case:
    """Where the ring goes, for how long, and what is expected then."""
    held = plates.list_plates(at=now())
    named = {one.plate.plate_id: one for one in held}
    found = picked(place.name("plate_id") or place.of, named, _("No plate is recorded yet."))
    if found.advice is None or found.trend is None:
        raise NotFound(_("This plate was never read, so nothing can be advised."))
    told = found.advice
    steps = [str(said(one)) for one in told.sentences]
    given = [
        put("S", _("dome now"), f"{um(found.trend.dome, 2)} ± {um(2.0 * found.trend.dome_uncertainty, 2)}"),
        put("", _("limit"), f"± {um(found.dome_limit, 1)}"),
        put("e", _("place of the ring"), f"{bare(found.offset * 1e3, 1)}\u00a0mm"),
        put("", _("speed of the jig over the plate's"), bare(found.speed_ratio, 2)),
    ]
    if told.kind == "condition":
        given += [
            put("", _("place advised"), f"{bare(told.offset * 1e3, 1)}\u00a0mm"),
            put("t", _("for"), f"{bare(told.duration / 60.0, 0)}\u00a0min"),
        ]
        reach = _NINETY * told.expected_uncertainty
        steps.append(_("expected then: %(d)s ± %(u)s (90 %%)") % {"d": um(told.expected_dome, 2), "u": um(reach, 2)})
    rows = tuple(
        (
            bare(one.running_time / _HOUR, 2),
            bare(one.offset * 1e3, 1),
            "–" if one.shape is None else bare(one.shape.dome * 1e6, 2),
        )
        for one in found.lines
    )  # fmt: skip
    return Case(
        of=found.plate.plate_id,
        result=um(told.expected_dome, 1) if told.kind == "condition" else um(found.trend.dome, 1),
        given=tuple(given),
        steps=tuple(steps),
        tables=(
            Table(
                title=_("What the plate did so far"),
                heads=(_("running, h"), _("ring at, mm"), _("dome, µm")),
                rows=rows,
            ),
        ),
        doubt=_("What is learned of the plate's wear is wide until it was read at two places of the ring."),
        others=()
        if place.name("plate_id")
        else tuple(Other(name=one.plate.plate_id, of=one.plate.plate_id) for one in held if one is not found),
    )


def form_sources(place: Place) -> Case:  # noqa: ARG001  the address names nothing: all wafers are looked at
    """What the finished wafers share, and how surely."""
    forms = plate_sources.recorded_forms()
    if len(forms) < 3:
        raise NotFound(_("Fewer than three finished wafers tell wedge and dome with their jig and plate."))
    found = plate_sources.sources_of(forms)
    rows = tuple(
        (
            one.wafer_id, one.jig, one.plate, bare(one.dome * 1e6, 3), bare(one.dome_uncertainty * 1e6, 3),
            bare(one.wedge.real * 1e6, 3), bare(one.wedge.imag * 1e6, 3), bare(one.wedge_uncertainty * 1e6, 3),
        )
        for one in forms
    )  # fmt: skip
    heads = (
        _("Wafer"), _("Jig"), _("Plate"), _("dome, µm"), "u, µm", _("wedge along x, µm"), _("along y, µm"), "u, µm",
    )  # fmt: skip
    return Case(
        of=_("the last %(n)d finished wafers") % {"n": len(forms)},
        result="; ".join(f"{one.name}: {um(one.size, 2)}" for one in found) or _("nothing that they share"),
        given=tuple(put("ln B", str(said(one.sentence)), bare(one.log_odds, 1)) for one in found),
        tables=(Table(title=_("Their forms"), heads=heads, rows=rows),),
        doubt=_("A source is named when the forms are twenty times likelier with it than without (ln B above 3.0)."),
    )


def lot_left(place: Place) -> Case:
    """What came, less what runs, bonds and hands took."""
    today = shelf_day()
    named = {one.lot.lot_id: one for one in supplies.list_lots()}
    asked = picked(place.name("lot_id") or place.of, named, _("No lot is on the shelf."))
    found = supplies.lot_card(asked.lot.lot_id, on=today)
    lot = found.recorded.lot
    taken = sorted(
        [(one.at, _("run of %(w)s") % {"w": one.wafer_id}, one.amount) for one in found.runs]
        + [(one.at, _("bond of %(w)s") % {"w": one.wafer_id}, one.amount) for one in found.bonds]
        + [(one.signature.at, _by_hand(one.kind), one.amount) for one in found.recorded.uses]
    )
    rows = tuple((f"{at:%Y-%m-%d %H:%M}", what, amount_text(amount, lot.measure)) for at, what, amount in taken)
    given = [put("", _("came"), amount_text(lot.amount, lot.measure), reverse("lot", args=[lot.lot_id]))]
    if lot.feed is not None:
        given.append(put("", _("runs take, a minute of cutting"), amount_text(lot.feed * 60.0, lot.measure)))
    if lot.per_bond is not None:
        given.append(put("", _("bonding one wafer takes"), amount_text(lot.per_bond, lot.measure)))
    total = math.fsum(amount for _at, _what, amount in taken)
    return Case(
        of=f"{lot.lot_id}, {item_name(lot.item)}",
        result=amount_text(found.left, lot.measure),
        given=tuple(given),
        steps=(
            _("came − taken:") + f" {amount_text(lot.amount, lot.measure)} − {amount_text(total, lot.measure)}"
            f" = {amount_text(found.left, lot.measure)}",
        )
        if not any(one.kind == "counted" for one in found.recorded.uses)
        else (_("A count sets what is left anew; what was taken later goes off it."),),
        tables=(Table(title=_("What was taken"), heads=(_("When"), _("By"), _("Amount")), rows=rows),),
        doubt=_("As good as the feed entered; a count by hand sets it right."),
        others=()
        if place.name("lot_id")
        else tuple(
            Other(name=f"{one.lot.lot_id}, {item_name(one.lot.item)}", of=one.lot.lot_id)
            for one in named.values()
            if one is not asked
        ),
    )


def odd_option(place: Place) -> Case:
    """What can be done with an odd wafer, each with chance, cost and time."""
    wafer_id = place.name("wafer_id")
    odd = odd_ones.show_odd(wafer_id)
    order = orders.recorded_order(odd.wafer.order_id).order
    offered = odd_ones.options(odd, order, on=now().date())
    rows = tuple(
        (
            choice_word(one.choice),
            "–" if one.chance is None else per_cent(one.chance, 1),
            "–" if one.cost is None else bare(one.cost, 2),
            "–" if one.time is None else bare(one.time / 60.0, 1),
            "–" if one.plan is None else str(said(one.plan.name)),
        )
        for one in offered
    )
    heads = (_("What"), _("chance"), _("cost"), _("time, min"), _("by which route"))
    given = [
        put("V", _("value of the piece"), "–" if order.value_per_wafer is None else bare(order.value_per_wafer, 2))
    ]
    again = next((one.way for one in offered if one.way is not None), None)
    if again is not None:
        given += [
            put("", _("reading again with"), f"{again.gauge_id}, {again.readings}"),
            put("U", _("its expanded uncertainty then"), um(again.expanded_uncertainty, 3)),
        ]
    return Case(
        of=wafer_id,
        result=_("%(n)d ways") % {"n": len(rows)},
        given=tuple(given),
        tables=(Table(title=_("The ways"), heads=heads, rows=rows),),
        doubt=_("That of the route for a rework, and of the last set's budget for reading again."),
    )


def partner(place: Place) -> Case:
    """The turn of each free carrier at which its wedge lies against that of wafer and bond."""
    listed = {one.wafer_id: one for one in partners.pairings()}
    wafer_id = place.name("wafer_id") or place.of
    one = partners.pairing(wafer_id) if wafer_id else picked("", listed, _("No wafer waits for a carrier."))
    if one is None:
        raise NotFound(_("This wafer does not wait for a carrier, or no carrier that was read is free."))
    rows = tuple(
        (
            each.carrier_id, bare(each.own.amount * 1e6, 3), _degrees(each.own.azimuth), _degrees(each.turn),
            bare(each.wedge.amount * 1e6, 3), bare(each.unturned * 1e6, 3), bare(each.expected * 1e6, 3),
        )
        for each in one.partners
    )  # fmt: skip
    heads = (
        _("Carrier"), "|c|, µm", _("arg c, °"), "θ, °", _("wedge then, µm"), _("mark on mark, µm"),
        _("with the bond, µm"),
    )  # fmt: skip
    return Case(
        of=one.wafer_id,
        result=um(one.partners[0].wedge.amount, 2),
        given=(
            put("w", _("wedge of the wafer"), f"{um(one.wedge.amount, 3)}, {_degrees(one.wedge.azimuth)}°"),
            put("b", _("mean wedge of the bonds"), f"{um(one.bond.amount, 3)}, {_degrees(one.bond.azimuth)}°"),
            put("σ", _("scatter of bonds, each way"), um(one.bond_wedge, 3)),
            put("", _("bonds looked at"), str(one.bonds)),
        ),
        tables=(Table(title=_("Free carriers, the best first"), heads=heads, rows=rows),),
        doubt=_("± %(s)s each way from the bond that nobody can foresee.") % {"s": um(2.0 * one.bond_wedge, 2)},
        others=tuple(Other(name=name, of=name) for name in listed if name != one.wafer_id)
        if not place.name("wafer_id")
        else (),
    )


BENCH: dict[str, Callable[[Place], Case]] = {
    "voids": voids, "stages": stages, "screws": screws, "ring": ring, "form_sources": form_sources,
    "lot_left": lot_left, "odd_option": odd_option, "partner": partner,
}  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _degrees(azimuth: float | None) -> str:
    return "–" if azimuth is None else bare(round(math.degrees(azimuth), 1) % 360.0, 1)


def _by_hand(kind: str) -> str:
    return {"counted": _("counted: so much is left"), "discarded": _("thrown away")}.get(kind, _("used by hand"))
