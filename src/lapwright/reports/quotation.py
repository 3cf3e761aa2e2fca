"""The quotation on paper: what it costs at two chances, when it is done, how many wafers are begun, and why."""

from __future__ import annotations

import json
from collections.abc import Mapping

from lapwright.model.order import Order
from lapwright.model.quotation import Quotation
from lapwright.reports.blocks import Block, Heading, Pairs, Paper, Table, Text
from lapwright.reports.typesetting import paper_pdf
from lapwright.reports.words import Language
from lapwright.reports.words.quotation import QUOTATION_ENGLISH, QUOTATION_GERMAN, ROUTE_WORDS

QUOTATION_WORDS: Mapping[Language, Mapping[str, str]] = {"en": QUOTATION_ENGLISH, "de": QUOTATION_GERMAN}
_HOUR = 3600.0


def quotation_pdf(
    quotation: Quotation, order: Order, *, laboratory: str, simulated: bool = False, language: Language = "en"
) -> bytes:
    """The quotation as a tagged PDF with its sums attached as JSON; the same data give the same bytes."""
    words = QUOTATION_WORDS[language]
    sums = {
        "number": quotation.number,
        "currency": quotation.prices.currency or None,
        "pieces": quotation.quantity,
        "price_50": quotation.even,
        "price_90": quotation.sure,
        "delivery_50": quotation.delivery.even.isoformat(),
        "delivery_90": quotation.delivery.sure.isoformat(),
        "valid_until": quotation.valid_until.isoformat(),
        "stages": {one.name: one.cost for one in quotation.lines},
    }
    return paper_pdf(
        quotation_paper(quotation, order, laboratory=laboratory, simulated=simulated, language=language),
        author=laboratory,
        issued=quotation.issued,
        page=words["page"],
        file=("quotation.json", json.dumps(sums, ensure_ascii=False, indent=1, allow_nan=False) + "\n"),
    )


def quotation_paper(
    quotation: Quotation, order: Order, *, laboratory: str, simulated: bool, language: Language
) -> Paper:
    """The quotation as blocks."""
    words = QUOTATION_WORDS[language]
    blocks: list[Block] = [Heading(text=f"{words['title']} {quotation.number}", level=1)]
    if simulated:
        blocks.append(Text(text=words["simulated"], tone="notice"))
    blocks.append(Pairs(rows=_identification(quotation, order, laboratory, words)))
    blocks += [Heading(text=words["price"]), _prices(quotation, words)]
    blocks += [Heading(text=words["wafers"]), *(Text(text=text) for text in _wafers(quotation, words))]
    blocks += [Heading(text=words["stages"]), _stages(quotation, words)]
    reserve = words["reserve"].format(
        even=money(quotation.even - quotation.expected, quotation, words),
        sure=money(quotation.sure - quotation.expected, quotation, words),
    )
    blocks.append(Text(text=reserve, tone="small"))
    blocks += [Heading(text=words["basis"]), *(Text(text=text) for text in _basis(quotation, words))]
    blocks.append(Text(text=words["valid_words"].format(until=quotation.valid_until.isoformat()), tone="notice"))
    title = f"{words['title']} {quotation.number}"
    return Paper(language=words["language"], title=title, blocks=tuple(blocks), footer=title)


def money(sum_: float, quotation: Quotation, words: Mapping[str, str]) -> str:
    """A sum with its currency where there is one, a true minus, and the reader's decimal sign."""
    text = f"{sum_:.2f}".replace("-", "\u2212").replace(".", words["decimal"])
    return f"{text}\u00a0{quotation.prices.currency}".rstrip()


# ----------------------------------------------------------------------------------------------------------------------


def _identification(
    quotation: Quotation, order: Order, laboratory: str, words: Mapping[str, str]
) -> tuple[tuple[str, str], ...]:
    work = words["work"].format(
        start=_number(order.start_thickness * 1e6, 0, words),
        target=_number(order.target_thickness * 1e6, 0, words),
        material=order.material,
    )
    return (
        (words["number"], quotation.number),
        (words["issued"], quotation.issued.isoformat()),
        (words["valid"], quotation.valid_until.isoformat()),
        (words["laboratory"], laboratory),
        (words["customer"], order.customer),
        (words["order"], quotation.order_id),
        (words["piece"], work),
        (words["pieces"], str(quotation.quantity)),
    )


def _prices(quotation: Quotation, words: Mapping[str, str]) -> Table:
    rows = tuple(
        (chance, money(piece, quotation, words), money(total, quotation, words), day.isoformat())
        for chance, piece, total, day in (
            ("50\u00a0%", quotation.piece_even, quotation.even, quotation.delivery.even),
            ("90\u00a0%", quotation.piece_sure, quotation.sure, quotation.delivery.sure),
        )
    )
    head = (words["confidence"], words["per_piece"], words["in_total"], words["delivery"])
    return Table(head=head, rows=rows, numbers=frozenset({1, 2, 3}))


def _wafers(quotation: Quotation, words: Mapping[str, str]) -> tuple[str, str]:
    told = quotation.told
    key = "start" if quotation.started > quotation.quantity else "start_none"
    advice = words[key].format(
        started=quotation.started,
        quantity=quotation.quantity,
        chance=_percent(quotation.chance_of_enough, words),
        fewer=quotation.started - 1,
        less=_percent(quotation.chance_with_fewer, words),
    )
    belief = words["yield"].format(
        expected=_percent(told.expected, words), chance=_percent(told.chance, words), good=told.good, lost=told.lost
    )
    return advice, belief


def _stages(quotation: Quotation, words: Mapping[str, str]) -> Table:
    lines = sorted(quotation.lines, key=lambda one: -one.cost)
    largest = max((one.cost for one in lines), default=0.0) or 1.0
    rows = [
        (
            words.get(f"line_{one.name}", one.name),
            money(one.cost, quotation, words),
            f"{_number(one.low, 2, words)} … {_number(one.high, 2, words)}",
            f"{_number(one.person / _HOUR, 1, words)} / {_number(one.machine / _HOUR, 1, words)}",
            f"{_percent(one.cost / quotation.expected, words)}\u00a0%" if quotation.expected else "",
        )
        for one in lines
    ]
    bars = [one.cost / largest for one in lines]
    rows.append(
        (
            words["sum"],
            money(quotation.expected, quotation, words),
            f"{_number(quotation.low, 2, words)} … {_number(quotation.high, 2, words)}",
            _number(quotation.time / _HOUR, 1, words),
            "100\u00a0%",
        )
    )
    head = (words["stage"], words["cost"], words["interval"], words["hours"], words["share"])
    return Table(head=head, rows=tuple(rows), numbers=frozenset({1, 2, 3}), bars=(*bars, 0.0))


def _basis(quotation: Quotation, words: Mapping[str, str]) -> list[str]:
    version, wafer = quotation.price_version, quotation.wafer_price
    route = quotation.plan.name
    for english, own in ROUTE_WORDS[words["language"]]:
        route = route.replace(english, own)
    told = [words["basis_route"].format(route=route), words["basis_rates"]]
    told.append(
        words["basis_no_loss"] if wafer is None else words["basis_ends"].format(price=money(wafer, quotation, words))
    )
    told.append(words["basis_prices"].format(version=version) if version else words["basis_usual"])
    told.append(words[f"basis_{quotation.delivery.basis}"])
    return told


def _percent(share: float, words: Mapping[str, str]) -> str:
    decimals = 1 if share > 0.985 else 0
    return _number(100.0 * share, decimals, words)


def _number(value: float, decimals: int, words: Mapping[str, str]) -> str:
    return f"{value:.{decimals}f}".replace("-", "\u2212").replace(".", words["decimal"])
