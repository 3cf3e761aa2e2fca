"""What the uncertainty is made of: the budgets of a certificate's set as facts and as a table with a bar a line.

The largest contribution of each quantity stands first. The file holds the English names; the page speaks its language.
"""

from __future__ import annotations

from decimal import Decimal
from typing import cast

from lapwright.metrology.propagation import contribution_shares
from lapwright.metrology.uncertainty import Budget
from lapwright.reports.blocks import Block, Heading, Table, Text
from lapwright.reports.certificate_data import WaferFigures
from lapwright.reports.certificate_numbers import Fact, Facts, rounded, shown
from lapwright.reports.words import Words

#: Word of a contribution, by its name in a budget of thickness.
_WORD_OF = {
    "accuracy limit of the gauge": "line_limit",
    "local error of the gauge": "line_local",
    "repeat scatter": "line_scatter",
    "resolution": "line_resolution",
    "drift between the zero readings": "line_drift",
}
_CURVE = "correction curve, certificate "


def budget_facts(figures: WaferFigures) -> list[Fact]:
    """The budgets of mean, TTV and wedge as far as they are given: each contribution with what it adds, its share."""
    given = (("mean", figures.mean_budget), ("ttv", figures.ttv_budget), ("wedge", figures.wedge_budget))
    return [{"quantity": name, "contributions": _lines(budget)} for name, budget in given if budget is not None]


def budget_blocks(told: Facts, words: Words) -> list[Block]:
    """Heading, table and a line of explanation; nothing when the set has no budgets."""
    budgets = cast("list[Facts]", told["budgets"])
    rows: list[tuple[str, ...]] = []
    bars: list[float] = []
    for budget in budgets:
        for i, line in enumerate(cast("list[Facts]", budget["contributions"])):
            first = words[str(budget["quantity"])] if i == 0 else ""
            rows.append((first, contribution_word(str(line["contribution"]), words), *_numbers(line, words)))
            bars.append(min(max(float(cast("Decimal", line["share_percent"])) / 100.0, 0.0), 1.0))
    if not rows:
        return []
    head = (words["quantity"], words["contribution"], words["adds"], words["share"])
    table = Table(head=head, rows=tuple(rows), numbers=frozenset({2}), stretch=1, bars=tuple(bars))
    return [Heading(text=words["budgets"], level=3), table, Text(text=words["budgets_note"], tone="small")]


def contribution_word(name: str, words: Words) -> str:
    """The name of a contribution in a language; one that is not known stays as it is."""
    if name.startswith(_CURVE):
        return words["line_curve"].format(certificate=name.removeprefix(_CURVE))
    return words[_WORD_OF[name]] if name in _WORD_OF else name


# ----------------------------------------------------------------------------------------------------------------------


def _lines(budget: Budget) -> list[Fact]:
    paired = zip(budget.contributions, contribution_shares(budget), strict=True)
    return [
        {
            "contribution": line.name,
            "adds_um": rounded(abs(line.effect) * 1e6, 3),
            "share_percent": rounded(100.0 * share, 1),
        }
        for line, share in sorted(paired, key=lambda one: (-one[1], one[0].name))
    ]


def _numbers(line: Facts, words: Words) -> tuple[str, str]:
    return f"{shown(line['adds_um'], words)}\u00a0µm", f"{shown(line['share_percent'], words)}\u00a0%"
