"""One number worked out: what went into it, the formula with these numbers put in, and what makes its ±."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from lapwright.metrology.uncertainty import Budget, CombinedUncertainty
from lapwright.web.budget_views import contribution_name
from lapwright.web.sentences import decimal, printed


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """One number that goes in: its letter in the formula, what it is, its value with unit, and where it stands."""

    letter: str
    what: str
    value: str
    address: str = ""


def put(letter: str, what: str, value: str, address: str = "") -> Given:
    """One number that goes in."""
    return Given(letter=letter, what=what, value=value, address=address)


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Numbers that go in, in rows; every head carries its unit."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def is_long(self) -> bool:
        """Whether it is folded away at first."""
        return len(self.rows) > 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Other:
    """The same kind of number of another piece: what it is of, and by which key it is asked for."""

    name: str
    of: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A number of one piece, run or plate with all that it was computed from.

    `steps` are lines of the formula with the numbers put in; `doubt` is its own uncertainty with unit, or why there is
    none.
    """

    of: str
    result: str
    given: tuple[Given, ...] = ()
    steps: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    doubt: str = ""
    files: tuple[tuple[str, str], ...] = ()
    others: tuple[Other, ...] = ()


def case_again(told: Mapping[str, Any]) -> Case:
    """A case from the plain types that it was kept as."""
    tables = (
        Table(title=one["title"], heads=tuple(one["heads"]), rows=tuple(map(tuple, one["rows"])))
        for one in told["tables"]
    )
    return Case(
        of=told["of"],
        result=told["result"],
        given=tuple(Given(**one) for one in told["given"]),
        steps=tuple(told["steps"]),
        tables=tuple(tables),
        doubt=told["doubt"],
    )


def um(value: float | None, digits: int = 3) -> str:
    """A length in µm with its unit."""
    return "–" if value is None else printed(value, "µm", "length", digits=digits)


def bare(value: float, digits: int = 3) -> str:
    """A number with so many places, a minus for a minus."""
    return decimal(f"{value:z.{digits}f}").replace("-", "\u2212")


def figures(value: float, count: int = 5) -> str:
    """A number with so many figures that count, large and small ones by powers of ten."""
    if value == 0.0 or not math.isfinite(value):
        return "0" if value == 0.0 else "∞" if value > 0.0 else "–"
    power = math.floor(math.log10(abs(value)))
    if -4 <= power < 7:
        return bare(value, max(0, count - 1 - power))
    return f"{bare(value / 10.0**power, count - 1)}·10{_raised(power)}"


def per_cent(share: float, digits: int = 2) -> str:
    """A share of one as per cent."""
    return f"{bare(100.0 * share, digits)}\u00a0%"


def plus_minus(combined: CombinedUncertainty | None, *, unit: str = "µm", digits: int = 3) -> str:
    """The expanded uncertainty with how it was made; why there is none, where there is none."""
    if combined is None:
        return _("Not known: neither repeats nor the gauge's record say how far readings scatter.")
    told = _("± %(expanded)s (95 %%) = k·u with u = %(standard)s, ν = %(degrees)s, k = t(97.5 %%, ⌊ν⌋) = %(factor)s")
    return told % {
        "expanded": printed(combined.expanded_uncertainty, unit, "length", digits=digits),
        "standard": printed(combined.standard_uncertainty, unit, "length", digits=digits + 1),
        "degrees": freedom(combined.degrees_of_freedom),
        "factor": bare(combined.coverage_factor, 3),
    }


def freedom(degrees: float) -> str:
    """Degrees of freedom."""
    return bare(degrees, 1) if math.isfinite(degrees) and degrees < 1e5 else "∞"


def budget_table(budget: Budget | None, *, unit: str = "µm", factor: float = 1e6) -> tuple[Table, ...]:
    """The lines of a budget, each with standard uncertainty, sensitivity, what it adds and its degrees of freedom."""
    if budget is None:
        return ()
    rows = tuple(
        (
            contribution_name(line.name),
            figures(line.standard_uncertainty * factor, 4),
            figures(line.sensitivity, 4),
            figures(abs(line.effect) * factor, 4),
            freedom(line.degrees_of_freedom),
        )
        for line in budget.contributions
    )
    heads = (_("What may be off"), f"u, {unit}", _("sensitivity c"), f"|c|·u, {unit}", "ν")
    return (Table(title=_("What the ± is made of: u² = Σ (c·u)²"), heads=heads, rows=rows),)


# ----------------------------------------------------------------------------------------------------------------------


def _raised(power: int) -> str:
    return str(power).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))
