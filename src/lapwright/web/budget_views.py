"""Why ± so much? The uncertainty budgets of sets and faces as tables with a bar a line, the largest first."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from lapwright.app.profile_readings import ProfileReading
from lapwright.app.reading_budget import ReadingBudget
from lapwright.app.surface_readings import FlatnessKnown
from lapwright.metrology.propagation import contribution_shares
from lapwright.metrology.thickness import ThicknessResult
from lapwright.metrology.uncertainty import Budget, CombinedUncertainty, Contribution
from lapwright.web.sentences import printed

#: Bars are drawn on a ground so many units wide.
GROUND = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetLine:
    """One contribution: what it adds alone, in the unit of its table, its share and the length of its bar."""

    name: str
    adds: str
    share: float
    bar: str
    degrees_of_freedom: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetTable:
    """One result with what makes its uncertainty, the largest line first, how to bring that down, and its why."""

    of: str
    uncertainty: CombinedUncertainty
    lines: tuple[BudgetLine, ...]
    remedy: str
    unit: str
    expanded: str
    together: str
    why: str = ""


def budget_tables(result: ThicknessResult) -> list[BudgetTable]:
    """The budgets of mean, TTV and wedge, as far as the readings carry them."""
    found = (
        (_("Mean"), result.mean_budget, result.mean_uncertainty, "mean"),
        (_("TTV"), result.ttv_budget, result.ttv_uncertainty, "ttv_corrected"),
        (_("Wedge"), result.wedge_budget, result.wedge_uncertainty, "wedge"),
    )
    return [
        _table(of, budget, sure, why=why) for of, budget, sure, why in found if budget is not None and sure is not None
    ]


def flatness_tables(known: FlatnessKnown) -> list[BudgetTable]:
    """The budget of a flatness by fringes, when all it needs was stated."""
    if known.budget is None or known.flatness is None:
        return []
    return [_table(_("Peak to valley"), known.budget, known.flatness, why="flatness")]


def finish_tables(reading: ProfileReading) -> list[BudgetTable]:
    """The budget of Ra or Sq, when it is known."""
    main = reading.main
    if main is None or main.budget is None or main.combined is None:
        return []
    return [_table("Sq" if reading.is_areal else "Ra", main.budget, main.combined, unit="nm", why="roughness")]


def piece_table(found: ReadingBudget) -> BudgetTable:
    """The budget of one reading of a certain piece."""
    return _table(_("One reading of this piece"), found.budget, found.combined, why="budget")


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
        "reference flat": _("reference flat"),
        "wavelength": _("wavelength"),
        "angle of incidence": _("angle of incidence"),
        "reading of the fringes": _("reading of the fringes"),
        "place to place": _("place to place"),
        "height scale": _("height scale"),
        "noise floor": _("noise floor"),
    }
    curve = "correction curve, certificate "
    if name.startswith(curve):
        return _("correction curve, certificate %(number)s") % {"number": name.removeprefix(curve)}
    return names.get(name, name)


# ----------------------------------------------------------------------------------------------------------------------


def _table(of: str, budget: Budget, uncertainty: CombinedUncertainty, *, why: str, unit: str = "µm") -> BudgetTable:
    shares = contribution_shares(budget)
    ordered = sorted(zip(budget.contributions, shares, strict=True), key=lambda one: (-one[1], one[0].name))
    return BudgetTable(
        of=of,
        uncertainty=uncertainty,
        lines=tuple(_line(line, share, unit) for line, share in ordered),
        remedy=_remedy(ordered[0][0]) if ordered and ordered[0][1] > 0.0 else "",
        unit=unit,
        expanded=printed(uncertainty.expanded_uncertainty, unit, "length", digits=2),
        together=_bare(uncertainty.standard_uncertainty, unit),
        why=why,
    )


def _bare(value: float, unit: str) -> str:
    return printed(value, unit, "length", digits=3).partition("\u00a0")[0]


def _line(line: Contribution, share: float, unit: str) -> BudgetLine:
    return BudgetLine(
        name=contribution_name(line.name),
        adds=_bare(abs(line.effect), unit),
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
        "reference flat": _("a better reference face, or one whose map is known"),
        "wavelength": _("a source whose wavelength is better known"),
        "angle of incidence": _("an angle that is better known"),
        "reading of the fringes": _("phase steps instead of one picture, or more contrast"),
        "place to place": _("more traces at other places"),
        "height scale": _("a calibration of the height scale"),
        "noise floor": _("a quieter instrument or place"),
    }
    return remedies.get(largest.name, _("a calibration with a smaller uncertainty"))
