"""What the Verdict page shows: each limit drawn, the rule in words, and how a doubtful wafer becomes a sure one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from lapwright.app.standing import LimitStanding, Standing, WaferStanding, WayToBeSure
from lapwright.model.order import DecisionRule, Limit
from lapwright.reports.drawing.limit_line import JudgedValue, LimitWords, limit_line
from lapwright.web.budget_views import contribution_name
from lapwright.web.lettering import lettering
from lapwright.web.limits import bare_text, length_text, limit_text
from lapwright.web.sentences import decimal
from lapwright.web.words import QUANTITIES

_LOOKS: dict[Standing, str] = {"proved": "full", "by_rule": "full", "fails": "diamond"}
_MARKS: dict[Standing, str] = {
    "proved": "conforms", "by_rule": "next", "doubtful": "cannot_be_decided", "fails": "does_not_conform",
    "not_judged": "later",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class WaferLine:
    """One wafer: the mark and the answer to "may it go?", and why it may not in sentences."""

    standing: WaferStanding
    mark: str
    answer: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A doubtful limit of a wafer: what is known, and the ways to be sure, the cheapest first, in sentences."""

    wafer_id: str
    quantity: str
    known: str
    ways: tuple[str, ...]
    gauge_id: str
    repeats: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitDrawing:
    """One limit with all wafers judged against it."""

    quantity: str
    text: str
    svg: str
    rows: tuple[tuple[str, str, str, str], ...]


def wafer_line(standing: WaferStanding) -> WaferLine:
    """The answer for one wafer; it never says that it may go while an interval crosses a limit."""
    return WaferLine(
        standing=standing,
        mark="late" if standing.is_behind else _MARKS[standing.standing],
        answer=_("read again since: judge it anew") if standing.is_behind else answer_word(standing.standing),
        sentences=tuple(_why(one) for one in standing.limits if one.standing not in ("proved", "not_judged")),
    )


def answer_word(standing: Standing) -> str:
    """May it go? In a few words."""
    return {
        "proved": _("may go"),
        "by_rule": _("accepted by the rule, not proved"),
        "doubtful": _("cannot be told yet"),
        "fails": _("may not go"),
        "not_judged": _("not judged yet"),
    }[standing]


def limit_drawings(standings: Sequence[WaferStanding]) -> list[LimitDrawing]:
    """A drawing for each limit on which something was judged, the wafers as rows."""
    by_limit: dict[Limit, list[tuple[str, LimitStanding]]] = {}
    for wafer in standings:
        for one in wafer.limits:
            if one.recorded is not None:
                by_limit.setdefault(one.limit, []).append((wafer.wafer_id, one))
    return [_drawn(limit, found) for limit, found in by_limit.items()]


def doubts_of(standings: Sequence[WaferStanding]) -> list[Doubt]:
    """Every doubtful limit with what would decide it."""
    return [
        _doubt(wafer.wafer_id, one)
        for wafer in standings
        for one in wafer.limits
        if one.standing == "doubtful" and not wafer.is_behind
    ]


def rule_words(rule: DecisionRule) -> tuple[str, ...]:
    """The agreed rule in sentences."""
    if rule.kind == "simple":
        return (
            _("The value alone decides. Near a limit such a verdict is wrong in up to half the cases."),
            _("This page calls a limit kept only when the whole interval of the value lies inside it."),
        )
    if rule.guard_factor is not None:
        band = _(
            "Accepted is what lies inside a limit by %(factor)s expanded uncertainties (95 %%) or more; refused is what"
            " lies as far outside."
        ) % {"factor": f"{rule.guard_factor:g}"}
    else:
        band = _(
            "Accepted is what has a chance of at most %(risk)s to lie outside a limit; refused is what has at most that"
            " chance to lie inside."
        ) % {"risk": f"{100.0 * rule.false_accept:g}\u00a0%"}
    return (band, _("Between the two lies the guard band: there nothing is decided, and more must be measured."))


# ----------------------------------------------------------------------------------------------------------------------


def _drawn(limit: Limit, found: list[tuple[str, LimitStanding]]) -> LimitDrawing:
    name, text = str(QUANTITIES[limit.quantity]), limit_text(limit)
    unit, factor = ("nm", 1e9) if limit.quantity in ("roughness_ra", "roughness_sq") else ("µm", 1e6)
    svg = limit_line(
        [_judged(wafer_id, one, factor) for wafer_id, one in found],
        lower=None if limit.lower is None else limit.lower * factor,
        upper=None if limit.upper is None else limit.upper * factor,
        unit=unit,
        title=_("%(what)s, limit %(limit)s") % {"what": name, "limit": text},
        words=LimitWords(limit=_("limit"), guard_band=_("guard band: too near to the limit to be accepted")),
        lettering=lettering(),
    )
    return LimitDrawing(quantity=name, text=text, svg=svg, rows=tuple(_row(wafer_id, one) for wafer_id, one in found))


def _judged(wafer_id: str, one: LimitStanding, factor: float) -> JudgedValue:
    assert one.recorded is not None
    verdict = one.recorded.verdict
    low, high = one.accepted or (None, None)
    expanded = verdict.expanded_uncertainty
    return JudgedValue(
        name=wafer_id,
        value=verdict.value * factor,
        expanded_uncertainty=None if expanded is None else expanded * factor,
        accepted_low=None if low is None else low * factor,
        accepted_high=None if high is None else high * factor,
        look=_LOOKS.get(one.standing, "ring"),
        word=limit_word(one.standing),
    )


def limit_word(standing: Standing) -> str:
    """How a wafer keeps one limit, in a word or two."""
    return {
        "proved": _("keeps it"),
        "by_rule": _("by the rule only"),
        "doubtful": _("cannot be told"),
        "fails": _("does not keep it"),
        "not_judged": _("not judged"),
    }[standing]


def _row(wafer_id: str, one: LimitStanding) -> tuple[str, str, str, str]:
    assert one.recorded is not None
    verdict = one.recorded.verdict
    value = length_text(verdict.value, verdict.limit, digits=2)
    if verdict.expanded_uncertainty is not None:
        expanded = length_text(verdict.expanded_uncertainty, verdict.limit, digits=2)
        value = f"{bare_text(verdict.value, verdict.limit, digits=2)} ± {expanded}"
    return wafer_id, value, _MARKS[one.standing], limit_word(one.standing)


def _why(one: LimitStanding) -> str:
    assert one.recorded is not None
    verdict = one.recorded.verdict
    name = str(QUANTITIES[verdict.limit.quantity])
    if one.standing == "by_rule":
        chance = 0.0 if verdict.chance_inside is None else 1.0 - verdict.chance_inside
        return _(
            "%(what)s: accepted by the agreed rule, but its interval reaches beyond the limit; the chance of being"
            " outside is %(chance)s."
        ) % {"what": name, "chance": decimal(f"{100.0 * chance:.1f}\u00a0%")}
    return f"{name}: {verdict.reason}"


def _doubt(wafer_id: str, one: LimitStanding) -> Doubt:
    assert one.recorded is not None
    verdict = one.recorded.verdict
    value = _row(wafer_id, one)[1]
    cheapest = one.ways[0] if one.ways else None
    return Doubt(
        wafer_id=wafer_id,
        quantity=str(QUANTITIES[verdict.limit.quantity]),
        known=_("%(value)s against %(limit)s") % {"value": value, "limit": limit_text(verdict.limit)},
        ways=tuple(_way(way, one) for way in one.ways) or (_no_way(one),),
        gauge_id="" if cheapest is None else cheapest.gauge_id,
        repeats=None if cheapest is None else cheapest.repeats,
    )


def _way(way: WayToBeSure, one: LimitStanding) -> str:
    assert one.recorded is not None
    limit = one.recorded.verdict.limit
    told = {
        "n": way.repeats,
        "gauge": way.gauge_id,
        "readings": way.readings,
        "u": length_text(way.expanded_uncertainty, limit, digits=2),
        "chance": f"{100.0 * way.chance_accepted:.0f}\u00a0%",
        "time": "" if way.time is None else _(", about %(t)d min") % {"t": max(1, round(way.time / 60.0))},
    }
    if way.is_other_gauge:
        first = ngettext(
            "Read it anew on %(gauge)s with %(n)d reading a site (%(readings)d readings%(time)s).",
            "Read it anew on %(gauge)s with %(n)d readings a site (%(readings)d readings%(time)s).",
            way.repeats,
        )
    elif one.repeats is not None and way.repeats > one.repeats:
        told["more"] = way.repeats - one.repeats
        first = ngettext(
            "%(more)d more repeat: a new set with %(n)d readings a site on %(gauge)s (%(readings)d readings%(time)s).",
            "%(more)d more repeats: a new set with %(n)d readings a site on %(gauge)s (%(readings)d readings%(time)s).",
            way.repeats - one.repeats,
        )
    else:
        first = _("A new set with %(n)d readings a site on %(gauge)s (%(readings)d readings%(time)s).")
    then = _("Then ± %(u)s, which decides if the value stays; the chance that it is accepted is %(chance)s.")
    return f"{first % told} {then % told}"


def _no_way(one: LimitStanding) -> str:
    assert one.recorded is not None
    verdict = one.recorded.verdict
    if verdict.expanded_uncertainty is None:
        return _("State how sure the value is: without its uncertainty nothing can be said.")
    if one.needed is None:
        return _("The value lies on the limit: no measurement decides it. Rework it, or ask the customer.")
    needed = length_text(one.needed, verdict.limit, digits=2)
    now = length_text(verdict.expanded_uncertainty, verdict.limit, digits=2)
    first = _("It would be decided with ± %(needed)s; it has ± %(now)s.") % {"needed": needed, "now": now}
    if one.stays:
        stays = _("No number of repeats gives that: %(line)s stays. A better gauge or a calibration would.")
        return f"{first} {stays % {'line': contribution_name(one.stays)}}"
    return f"{first} {_('Measure it with an instrument or a method that is that sure, and judge again.')}"
