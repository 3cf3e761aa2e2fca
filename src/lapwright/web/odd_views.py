"""What the pages of Odd ones show: what failed and by how much, what can be done, and the letter to the customer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from lapwright.app.odd_ones import OddOption
from lapwright.model.job import RecordedVerdict
from lapwright.model.odd_ones import OddChoice, OddWafer, RecordedDecision
from lapwright.model.order import Limit, Order
from lapwright.web.limits import bare_text, length_text, limit_text
from lapwright.web.sentences import printed, said
from lapwright.web.words import QUANTITIES


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """One limit that is not kept, or cannot be told: quantity, value, limit, by how much, the mark, and its key."""

    quantity: str
    value: str
    limit: str
    beyond: str
    mark: str
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OddCard:
    """One wafer: what failed, what is decided, and in a word what it waits for."""

    odd: OddWafer
    failures: tuple[Failure, ...]
    decided: str
    waits: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OptionCard:
    """One thing that can be done: title, button, what speaks for and against it, and whether it can be done."""

    option: OddOption
    title: str
    button: str
    lines: tuple[str, ...]
    is_possible: bool
    reason: str = ""
    fault: str = ""


def odd_card(odd: OddWafer) -> OddCard:
    """A wafer for the list."""
    decision = odd.decision
    if odd.is_waiting:
        waits = _("waits for a decision")
    elif decision is not None:
        waits = done_word(decision.choice)
    elif odd.stopped is not None:
        waits = _("ended") if odd.wafer.state == "rejected" else _("set aside")
    else:
        waits = ""
    return OddCard(
        odd=odd, failures=tuple(_failure(one) for one in odd.failed), decided=_decided(decision), waits=waits
    )


def option_cards(
    found: Sequence[OddOption], odd: OddWafer, *, sent: str = "", reason: str = "", fault: str = ""
) -> list[OptionCard]:
    """The choices side by side; the one that was `sent` and refused keeps its reason and says the fault."""
    return [
        OptionCard(
            option=one,
            title=choice_word(one.choice),
            button=_button(one.choice),
            lines=tuple(_lines(one)),
            is_possible=_is_possible(one, odd),
            reason=reason if one.choice == sent else "",
            fault=fault if one.choice == sent else "",
        )
        for one in found
    ]


def choice_word(choice: OddChoice) -> str:
    """What can be decided, as a deed."""
    return {
        "rework": _("Work it again"),
        "read_again": _("Read it again"),
        "spare": _("Keep it as a spare"),
        "ask_customer": _("Ask the customer"),
        "customer_accepts": _("The customer accepts it"),
        "scrap": _("Scrap it"),
    }[choice]


def done_word(choice: OddChoice) -> str:
    """What was decided, as a state."""
    return {
        "rework": _("to be worked again"),
        "read_again": _("to be read again"),
        "spare": _("kept as a spare"),
        "ask_customer": _("the customer is asked"),
        "customer_accepts": _("accepted by the customer"),
        "scrap": _("scrapped"),
    }[choice]


def customer_letter(odd: OddWafer, order: Order) -> str:
    """The question to the customer, ready to send: what was asked, what was found, what it is asked to say."""
    lines = [
        _("Order %(order)s, wafer %(wafer)s") % {"order": order.order_id, "wafer": odd.wafer.wafer.wafer_id},
        "",
        _("This wafer is finished. Measured against your limits:"),
    ]
    for one in odd.failed:
        failure = _failure(one)
        told = {"what": failure.quantity, "value": failure.value, "limit": failure.limit}
        if one.verdict.outcome == "does_not_conform":
            lines.append(_("- %(what)s: %(value)s; agreed: %(limit)s. It does not keep the limit.") % told)
        else:
            lines.append(_("- %(what)s: %(value)s; agreed: %(limit)s. It cannot be told whether it keeps it.") % told)
    if any(one.verdict.expanded_uncertainty is not None for one in odd.failed):
        lines.append(_("(± is the expanded uncertainty for 95 %.)"))
    lines += [
        "",
        _("All other limits are kept."),
        _("May we deliver it as it is, or shall we keep it? Please answer with your name and the date."),
    ]
    return "\n".join(lines)


# ----------------------------------------------------------------------------------------------------------------------


def _failure(recorded: RecordedVerdict) -> Failure:
    verdict = recorded.verdict
    value = length_text(verdict.value, verdict.limit, digits=2)
    if verdict.expanded_uncertainty is not None:
        expanded = length_text(verdict.expanded_uncertainty, verdict.limit, digits=2)
        value = f"{bare_text(verdict.value, verdict.limit, digits=2)} ± {expanded}"
    return Failure(
        quantity=str(QUANTITIES[verdict.limit.quantity]),
        value=value,
        limit=limit_text(verdict.limit),
        beyond=_beyond(verdict.limit, verdict.value),
        mark=verdict.outcome,
        key=f"{recorded.wafer_id}|{recorded.verdict_id}",
    )


def _beyond(limit: Limit, value: float) -> str:
    """By how much a value lies outside, or how near to the limit it lies inside."""
    if limit.upper is not None and value > limit.upper:
        return _("%(d)s above the limit") % {"d": length_text(value - limit.upper, limit, digits=2)}
    if limit.lower is not None and value < limit.lower:
        return _("%(d)s below the limit") % {"d": length_text(limit.lower - value, limit, digits=2)}
    ends = [abs(edge - value) for edge in (limit.lower, limit.upper) if edge is not None]
    return _("%(d)s inside the limit") % {"d": length_text(min(ends), limit, digits=2)}


def _decided(decision: RecordedDecision | None) -> str:
    return "" if decision is None else done_word(decision.choice)


def _button(choice: OddChoice) -> str:
    return {
        "rework": _("Record: work it again"),
        "read_again": _("Record: read it again"),
        "spare": _("Record: keep as a spare"),
        "ask_customer": _("Record: the customer is asked"),
        "customer_accepts": _("Record: the customer accepts"),
        "scrap": _("Record: scrap it"),
    }[choice]


def _is_possible(option: OddOption, odd: OddWafer) -> bool:
    if odd.wafer.state == "set_aside":
        return option.choice == "scrap"
    return odd.wafer.state == "judged" and bool(odd.failed) and not option.impossible


def _lines(option: OddOption) -> list[str]:
    lines = [_against(option)] if option.impossible else []
    if option.choice == "rework" and not option.impossible and option.plan is not None:
        lines.append(_("By the best route found: %(route)s. It is a new order for this one piece.") % {
            "route": option.plan.name
        })  # fmt: skip
    if option.choice == "read_again" and not option.impossible:
        lines.append(_again(option))
    if option.choice == "spare":
        lines.append(_("It stays here, set aside, and can be taken up again."))
    if option.choice == "ask_customer":
        lines.append(_("It stays among the judged and goes with no certificate until there is an answer."))
        lines.append(_("How likely the customer accepts cannot be computed."))
    if option.choice == "customer_accepts":
        lines.append(_("It goes with the certificate, which shows its verdicts and says who accepted it and why."))
        lines.append(_("Write into the reason who of the customer said so, and when."))
    if option.choice == "scrap":
        lines.append(_("The work on it ends; it cannot be taken up again."))
    if option.short:
        lines.append(ngettext(
            "The delivery would then be %(n)d piece short.", "The delivery would then be %(n)d pieces short.",
            option.short,
        ) % {"n": option.short})  # fmt: skip
    elif option.short == 0:
        lines.append(_("The delivery is complete without it, if all others turn out well."))
    return lines


def _against(option: OddOption) -> str:
    if option.impossible == "below_limit":
        below = printed(option.below or 0.0, "µm", "length", digits=2)
        return _("Not possible: it is already %(d)s below the lower limit, and nothing can be put back.") % {"d": below}
    if option.impossible == "no_route":
        return _("Not possible: %(why)s") % {"why": said(option.sentence)}
    return {
        "nothing_to_take": _("Not possible: it is at its target already; nothing is left to take."),
        "not_read": _("Cannot be told: it has no closed final set."),
        "no_doubt": _("Not useful: what fails is certain, not doubtful."),
    }.get(option.impossible, "")


def _again(option: OddOption) -> str:
    if option.way is None:
        return _("No number of repeats on a gauge on record would decide it; the Verdict page says what would.")
    told = {"n": option.way.repeats, "gauge": option.way.gauge_id, "readings": option.way.readings}
    return _("A new set with %(n)d readings a site on %(gauge)s: %(readings)d readings.") % told
