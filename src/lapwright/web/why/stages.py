"""Numbers of the next stage worked out: the screws, the preset, the rate, and the damage that is left."""

from __future__ import annotations

import math
from collections.abc import Callable

from django.urls import reverse
from django.utils.translation import gettext as _

from lapwright.app import bench_advice, learning, next_stages, rates, runs, shelf, wafer_maps
from lapwright.app.next_stages import NextStage
from lapwright.app.wafer_damage import DamageView, damage_view
from lapwright.errors import NotFound
from lapwright.metrology.distributions import student_t_quantile
from lapwright.metrology.outlines import furthest_reach
from lapwright.process.jig import JigCorrection, geometry_of
from lapwright.process.learning import RatePrediction
from lapwright.web.named_parts import reason_word
from lapwright.web.sentences import said
from lapwright.web.surroundings import now
from lapwright.web.why.case import Case, Given, Other, Table, bare, figures, freedom, per_cent, put, um
from lapwright.web.why.place import Place, picked
from lapwright.web.words import material_name, tool_name

PER_MINUTE = 60e6


def adjusters(place: Place) -> Case:
    """The correction of each adjuster, in µm and in divisions."""
    jigs = shelf.list_jigs()
    jig = next((one.jig for one in jigs if one.jig.jig_id == place.asked.get("jig")), jigs[0].jig if jigs else None)
    wafer_id = place.name("wafer_id")
    stage = None if jig is None else runs.next_stage(wafer_id, jig_id=jig.jig_id)
    if jig is None or stage is None or stage.correction is None:
        raise NotFound(_("Nothing is to be turned: no lap is next, or its wedge cannot be told from none."))
    geometry = geometry_of(jig)
    found: JigCorrection = stage.correction
    wedge = next_stages.wedge_ahead(next_stages.wafer_at_work(wafer_id))
    assert wedge is not None  # there is a correction
    assert wedge.azimuth is not None
    width = 2.0 * furthest_reach(bench_advice.wafer_story(place.name("order_id"), wafer_id)[1].wafer.wafer.outline)
    rows = tuple(
        (
            str(number),
            bare(math.degrees(one.azimuth), 1),
            bare(one.radius * 1e3, 2),
            bare(one.travel_per_division * 1e6, 3),
            "+" if one.sense > 0 else "−",
            bare(move.correction * 1e6, 3),
            bare(move.divisions_exact, 3),
            bare(move.divisions_to_set, 2),
        )
        for number, (one, move) in enumerate(zip(geometry.adjusters, found.moves, strict=True), start=1)
    )
    heads = (
        _("Screw"),
        "β, °",
        "R, mm",
        "k, µm",
        _("sense"),
        "Δ, µm",
        _("divisions"),
        _("to set"),
    )
    notes = (_("Part of it was turned already; the divisions are what is left."),) if stage.turned else ()
    return Case(
        of=_("%(wafer)s in jig %(jig)s") % {"wafer": wafer_id, "jig": jig.jig_id},
        result=", ".join(bare(move.divisions_to_set, 2) for move in found.moves),
        given=(
            put("W", _("wedge to take out"), um(wedge.amount, 3)),
            put("φ", _("its direction"), f"{bare(round(math.degrees(wedge.azimuth), 1) % 360.0, 1)}°"),
            put("D", _("full width of the wafer"), f"{bare(width * 1e3, 2)}\u00a0mm"),
            put("", _("mounted turned by"), f"{bare(math.degrees(geometry.mount_angle), 1)}°"),
            put("", _("set in steps of"), _("%(n)s divisions") % {"n": f"{geometry.division_step:g}"}),
        ),
        steps=(*notes, _("Rounding leaves a wedge of %(w)s.") % {"w": um(found.residual.amount, 3)}),
        tables=(Table(title=_("The screws"), heads=heads, rows=rows),),
        doubt=_("Half a step of a screw is what rounding may leave; the wedge itself carries the ± of its set."),
    )


def preset(place: Place) -> Case:
    """What the number to dial in is made of."""
    stage = _ahead(place)
    if stage.preset is None or stage.travel is None:
        raise NotFound(_("The next stage is not stopped by the jig's gauge, so nothing is dialled in."))
    rows = tuple((str(said(label)), bare(length * 1e6, 3)) for label, length in stage.contains)
    total = " + ".join(f"({bare(length * 1e6, 3)})" for _label, length in stage.contains)
    zero = () if stage.zero is None else (put("", _("scatter of the zero's readings"), um(stage.zero.spread, 2)),)
    return Case(
        of=_("%(wafer)s, %(stage)s") % {"wafer": place.name("wafer_id"), "stage": said(stage.planned.name)},
        result=um(stage.preset, 2),
        given=(*_thickness(place, stage), *zero),
        steps=(f"preset = {total} = {um(stage.preset, 2)}",),
        tables=(Table(title=_("Its parts"), heads=(_("Part"), "µm"), rows=rows),),
        doubt=_("What the last %(n)s runs at this station missed by stands below the rate on the page of the wafer.")
        % {"n": "30"}
        if stage.bias is None
        else str(said(stage.bias.sentence)),
    )


def take_off(place: Place) -> Case:
    """Thickness now less the thickness wanted."""
    stage = _ahead(place)
    return Case(
        of=_("%(wafer)s, %(stage)s") % {"wafer": place.name("wafer_id"), "stage": said(stage.planned.name)},
        result=um(stage.removal, 2),
        given=_thickness(place, stage),
        steps=(
            (
                f"h = {bare(stage.thickness_now * 1e6, 3)} − {bare(stage.thickness_after * 1e6, 3)}"
                f" = {um(stage.removal, 3)}"
            ),
        ),
        doubt=_("That of the last set; each stands on its page."),
    )


def rate(place: Place) -> Case:
    """The rate of the next run from the library's rate and the factors that the lab's runs brought."""
    if place.name("wafer_id"):
        _order, story = bench_advice.wafer_story(place.name("order_id"), place.name("wafer_id"))
        found = learning.next_run(_ahead(place), story.wafer.wafer.material, at=now())
        if found is None:
            raise NotFound(_("The next stage is no run by rate, so none is told."))
        where = _("%(wafer)s, %(stage)s") % {"wafer": place.name("wafer_id"), "stage": said(_ahead(place).planned.name)}
        conditions, prediction, interval = found.conditions, found.prediction, found.interval
        others: tuple[Other, ...] = ()
    else:
        pairs = rates.rate_pairs()
        if not pairs:
            raise NotFound(_("No run is finished yet."))
        asked = (
            tuple(place.of.split("|"))
            if place.of
            else tuple(place.asked.get(key, "") for key in ("material", "abrasive", "plate"))
        )
        named = {"|".join(one.conditions.combination): one for one in pairs}
        pair = picked("|".join(asked) if any(asked) else "", named, "")
        conditions, prediction, interval = pair.conditions, pair.prediction, pair.interval
        where = _pair_name(*conditions.combination)
        others = tuple(
            Other(name=_pair_name(*one.conditions.combination), of="|".join(one.conditions.combination))
            for one in pairs
            if one is not pair
        )
    return _rate_case(where, conditions.pressure, conditions.speed, prediction, (interval.low, interval.high), others)


def damage(place: Place) -> Case:
    """Minutes of polish, from the depth each stage left and what was taken off since."""
    order, story = bench_advice.wafer_story(place.name("order_id"), place.name("wafer_id"))
    view = damage_view(story, start_damage=order.order.start_damage)
    rows = tuple(
        (
            str(said(step.stage.stage.name)),
            bare(step.removed * 1e6, 3),
            bare(step.line.left.median * 1e6, 3),
            bare(step.line.left.log_deviation, 4),
            bare(step.line.median * 1e6, 2),
            bare(step.line.high * 1e6, 2),
        )
        for step in view.steps
    )
    heads = (
        _("Stage"),
        "h, µm",
        _("leaves, median, µm"),
        "s_d",
        _("damage then, µm"),
        _("at most (97.5 %), µm"),
    )
    tables = [Table(title=_("Stage by stage"), heads=heads, rows=rows)]
    given, steps, result, doubt = _polish(view)
    if view.layers:
        layered = tuple(
            (bare(depth.median * 1e6, 3), bare(depth.log_deviation, 4), bare(taken * 1e6, 3))
            for depth, taken in view.layers
        )
        title = _("Each damage when the polish begins")
        tables.append(Table(title=title, heads=("d, µm", "s_d", _("taken off it before, R, µm")), rows=layered))
    return Case(of=place.name("wafer_id"), result=result, given=given, steps=steps, tables=tuple(tables), doubt=doubt)


STAGES: dict[str, Callable[[Place], Case]] = {
    "adjusters": adjusters,
    "preset": preset,
    "take_off": take_off,
    "rate": rate,
    "damage": damage,
}


# ----------------------------------------------------------------------------------------------------------------------


def _ahead(place: Place) -> NextStage:
    jigs = shelf.list_jigs()
    found = runs.next_stage(place.name("wafer_id"), jig_id=jigs[0].jig.jig_id if len(jigs) == 1 else None)
    if found is None:
        raise NotFound(_("All stages of this wafer are done."))
    return found


def _thickness(place: Place, stage: NextStage) -> tuple[Given, ...]:
    at_hand = wafer_maps.wafer_now(next_stages.wafer_at_work(place.name("wafer_id")))
    address = reverse("set", args=[place.name("order_id"), at_hand.set_id])
    return (
        put("", _("thickness by the last set"), um(at_hand.thickness), address),
        put("", _("taken off since, by the jig's gauge"), um(at_hand.removed_since)),
        put("", _("thickness now"), um(stage.thickness_now)),
        put("", _("thickness wanted after the stage"), um(stage.thickness_after)),
    )


def _pair_name(material: str, abrasive: str, plate: str) -> str:
    return f"{material_name(material)}, {tool_name(abrasive, plate)}"


def _rate_case(
    where: str,
    pressure: float,
    speed: float,
    prediction: RatePrediction,
    ends: tuple[float, float],
    others: tuple[Other, ...],
) -> Case:
    library, median = prediction.library_rate * PER_MINUTE, prediction.median * PER_MINUTE
    t = student_t_quantile(0.95, prediction.degrees_of_freedom)
    product = math.prod(part.factor for part in prediction.parts)
    rows = tuple((reason_word(part.name), figures(part.factor, 5)) for part in prediction.parts)
    rest = prediction.median / (prediction.library_rate * product)
    if abs(rest - 1.0) > 5e-4:
        rows = (*rows, (_("mean of what the guesses of the spreads say apart"), figures(rest, 5)))
    span = math.exp(t * prediction.log_deviation)
    steps = [
        f"r = {figures(library)} · " + " · ".join(cell for _name, cell in rows) + f" = {figures(median)}\u00a0µm/min",
        (
            f"r·exp(± {bare(t, 4)}·{bare(prediction.log_deviation, 4)}) = {figures(ends[0] * PER_MINUTE)} … "
            f"{figures(ends[1] * PER_MINUTE)}\u00a0µm/min"
        ),
    ]
    return Case(
        of=where,
        result=f"{figures(median, 4)}\u00a0µm/min",
        given=(
            put("p", _("pressure"), f"{bare(pressure / 1e3, 2)}\u00a0kPa"),
            put("v", _("sliding speed"), f"{bare(speed, 3)}\u00a0m/s"),
            put("k·pᵃ·vᵇ", str(said(prediction.origin)), f"{figures(library)}\u00a0µm/min"),
            put("s", _("deviation of ln r"), bare(prediction.log_deviation, 4)),
            put("ν", _("its degrees of freedom"), freedom(prediction.degrees_of_freedom)),
            put("n", _("own runs"), str(prediction.runs), reverse("rates")),
        ),
        steps=tuple(steps),
        tables=(Table(title=_("Factors on the library's rate"), heads=(_("Reason"), _("factor")), rows=rows),),
        doubt=_("A factor of %(f)s either way holds nine of ten runs; a run by itself scatters by %(s)s.")
        % {"f": bare(span, 3), "s": per_cent(prediction.run_spread, 1)},
        others=others,
    )


def _polish(view: DamageView) -> tuple[tuple[Given, ...], tuple[str, ...], str, str]:
    """What goes into the minutes of a polish; where they cannot be told the sentences why."""
    last = view.now or (view.steps[-1] if view.steps else None)
    depth = "–" if last is None else um(last.line.median, 2)
    if view.clear is None or view.rate is None or view.spread is None:
        doubt = _("Depths are known within a factor of about two.")
        return (), tuple(str(said(one)) for one in view.missing), depth, doubt
    given = [
        put("r", _("rate of the polish"), f"{figures(view.rate.rate * PER_MINUTE)}\u00a0µm/min"),
        put("s_r", _("deviation of ln r"), bare(view.spread, 4)),
        put("P", _("chance agreed that damage remains"), per_cent(view.clear.chance, 1)),
    ]
    minutes = bare(view.clear.time / 60.0, 1)
    steps = [f"1 − E[Π P(dₖ ≤ Rₖ + r·T)] = {per_cent(view.clear.chance, 1)}  ⇒  T = {minutes}\u00a0min"]
    if view.ran is not None:
        given.append(put("", _("its runs lasted"), f"{bare(view.ran / 60.0, 1)}\u00a0min"))
        steps.append(_("chance that damage remains now: %(p)s") % {"p": per_cent(view.chance_left or 0.0, 2)})
    doubt = _("The last damage goes between %(a)s and %(b)s min of polishing (90 %%).") % {
        "a": bare(view.clear.low / 60.0, 1),
        "b": bare(view.clear.high / 60.0, 1),
    }
    return tuple(given), tuple(steps), f"{minutes}\u00a0min", doubt
