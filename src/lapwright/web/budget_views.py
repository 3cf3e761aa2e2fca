"""Why ± so much? The uncertainty budgets of a set as tables with a bar a line, the largest first."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from lapwright.app.reading_budget import ReadingBudget
from lapwright.metrology.propagation import contribution_shares
from lapwright.metrology.thickness import ThicknessResult
from lapwright.metrology.uncertainty import Budget, CombinedUncertainty, Contribution

#: Bars are drawn on a ground so many units wide.
GROUND = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetLine:
    """One contribution: what it adds alone [m], its share of the variance, and the length of its bar."""

    name: str
    adds: float
    share: float
    bar: str
    degrees_of_freedom: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetTable:
    """One result with what makes its uncertainty, the largest line first, and how to bring that down."""

    of: str
    uncertainty: CombinedUncertainty
    lines: tuple[BudgetLine, ...]
    remedy: str


def budget_tables(result: ThicknessResult) -> list[BudgetTable]:
    """The budgets of mean, TTV and wedge, as far as the readings carry them."""
    found = (
        (_("Mean"), result.mean_budget, result.mean_uncertainty),
        (_("TTV"), result.ttv_budget, result.ttv_uncertainty),
        (_("Wedge"), result.wedge_budget, result.wedge_uncertainty),
    )
    return [_table(of, budget, sure) for of, budget, sure in found if budget is not None and sure is not None]


def piece_table(found: ReadingBudget) -> BudgetTable:
    """The budget of one reading of a certain piece."""
    return _table(_("One reading of this piece"), found.budget, found.combined)


def contribution_name(name: str) -> str:
    """A line of a budget in the language of the page."""
    names = {
        "accuracy limit of the gauge": _("accuracy limit of the gauge"),
        "local error of the gauge": _("local error of the gauge"),
        "repeat scatter": _("repeat scatter"),
        "resolution": _("resolution"),
        "drift between the zero readings": _("drift between the zero readings"),
        "temperature": _("temperature"),
        "lift of a bowed piece": _("lift of a bowed piece"),
        "sinking of the probe": _("sinking of the probe"),
    }
    curve = "correction curve, certificate "
    if name.startswith(curve):
        return _("correction curve, certificate %(number)s") % {"number": name.removeprefix(curve)}
    return names.get(name, name)


# ----------------------------------------------------------------------------------------------------------------------


def _table(of: str, budget: Budget, uncertainty: CombinedUncertainty) -> BudgetTable:
    shares = contribution_shares(budget)
    ordered = sorted(zip(budget.contributions, shares, strict=True), key=lambda one: (-one[1], one[0].name))
    return BudgetTable(
        of=of,
        uncertainty=uncertainty,
        lines=tuple(_line(line, share) for line, share in ordered),
        remedy=_remedy(ordered[0][0]) if ordered and ordered[0][1] > 0.0 else "",
    )


def _line(line: Contribution, share: float) -> BudgetLine:
    return BudgetLine(
        name=contribution_name(line.name),
        adds=abs(line.effect),
        share=share,
        bar=f"{GROUND * max(share, 0.0):.1f}",
        degrees_of_freedom=line.degrees_of_freedom,
    )


def _remedy(largest: Contribution) -> str:
    """What would bring the largest line down."""
    remedies = {
        "accuracy limit of the gauge": _("a gauge with a narrower limit, or a calibration with a correction curve"),
        "local error of the gauge": _("more sites, or a gauge with a smaller local error"),
        "repeat scatter": _("more repeats: four times as many halve this line"),
        "resolution": _("a gauge that shows finer steps"),
        "drift between the zero readings": _("a warm, settled stand and a shorter time between the zeros"),
        "temperature": _("a longer soak, or a room nearer to 20 °C"),
        "lift of a bowed piece": _("a smaller rest under the probe, or a face that lies flat"),
        "sinking of the probe": _("less force, a larger tip, or a gauge without contact"),
    }
    return remedies.get(largest.name, _("a calibration with a smaller uncertainty"))
