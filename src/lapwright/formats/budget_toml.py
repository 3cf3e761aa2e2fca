"""Uncertainty budgets as TOML files: a model, its inputs with what is known of each, correlations.

The form is told in docs/reference/budget-file.md. Numbers are in the units that the file names; nothing is converted,
so a model must be true in those units. Every fault of a file is told at once.
"""

from __future__ import annotations

import difflib
import keyword
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, cast

import numpy as np

from lapwright.errors import BadInput, Fault, LapwrightError
from lapwright.formats.faults import FaultList
from lapwright.formats.toml_fields import Table, read_toml
from lapwright.metrology.expression import Node, model_from_text
from lapwright.metrology.propagation import readings_correlation, repeated_contribution
from lapwright.metrology.uncertainty import Contribution, Distribution, half_width_divisor

#: Distributions that are given by a half-width.
BOUNDED: tuple[Distribution, ...] = ("rectangular", "triangular", "trapezoid", "arcsine", "curvilinear_trapezoid")
#: The four ways to say how well an input is known; each input takes one.
FORMS = ("standard_uncertainty", "expanded_uncertainty", "half_width", "readings")


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetFile:
    """A budget as written: `model` None means that the inputs carry their sensitivities and `value` the result."""

    title: str
    unit: str
    model_text: str
    model: Node | None
    value: float | None
    contributions: tuple[Contribution, ...]
    units: tuple[str, ...]
    correlation: tuple[tuple[float, ...], ...] | None
    probability: float
    digits: int
    trials: int | None
    seed: int


def read_budget(path: Path) -> BudgetFile:
    """An uncertainty budget. Raises `FileFormatError` for a file that is no TOML, `BadInput` with every fault."""
    return budget_from_dict(read_toml(path), name=path.name)


def budget_from_dict(content: dict[str, Any], *, name: str) -> BudgetFile:
    """An uncertainty budget from the contents of a file. Raises `BadInput` with every fault."""
    faults = _BudgetFaults(name)
    root = Table(content, name="", faults=faults)
    title, unit, text = root.text("title", name), root.text("unit"), root.text("model", "")
    value = root.number("value")
    probability = _within(root, "probability", 0.95, low=0.0, high=1.0)
    digits, seed = root.whole("digits", least=1, default=2), root.whole("seed", least=0, default=1)
    trials = _trials(root)
    lines = [_input(table, with_model=bool(text)) for table in root.tables("input", needed=False)]
    pairs = [_pair(table) for table in root.tables("correlation", needed=False)]
    together = root.lists_of_texts("simultaneous")
    root.close()
    inputs = [line for line in lines if line is not None]
    _check_names(inputs, faults)
    if not lines:
        faults.add(
            "The budget has no [[input]]; list what the result depends on.", code="budget.missing", field="input"
        )
    if not text and value is None:
        faults.add("Give either a model, or the value of the result.", code="budget.missing", field="model")
    if text and value is not None:
        faults.add("value is given and would come out of the model; drop one.", code="budget.twice", field="value")
    model = _model(text, inputs, faults, complete=len(inputs) == len(lines))
    correlation = _correlation(inputs, pairs, together, faults) if len(inputs) == len(lines) else None
    faults.settle()
    return BudgetFile(
        title=title,
        unit=unit,
        model_text=text,
        model=model,
        value=value,
        contributions=tuple(line.contribution for line in inputs),
        units=tuple(line.unit for line in inputs),
        correlation=correlation,
        probability=probability,
        digits=digits or 2,
        trials=trials,
        seed=seed if seed is not None else 1,
    )


# ----------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Input:
    contribution: Contribution
    unit: str
    readings: tuple[float, ...] | None


class _BudgetFaults(FaultList):
    """Faults of a budget file under codes of its own."""

    def take(self, fault: Fault) -> None:
        code = (fault.code or "budget.fault").replace("order.", "budget.")
        super().take(replace(fault, code=code))


def _within(table: Table, key: str, usual: float, *, low: float, high: float) -> float:
    value = table.number(key)
    if value is None:
        return usual
    if not low < value < high:
        table.faults.add(f"{key} is {value:g}; expected more than {low:g} and less than {high:g}.",
                         code="budget.out_of_range", field=key)  # fmt: skip
    return value


def _trials(root: Table) -> int | None:
    trials = root.number("trials")
    if trials is not None and (trials < 10_000 or trials != int(trials)):
        sentence = f"trials is {trials:g}; expected a whole number, 10000 or more, or none for as many as needed."
        root.faults.add(sentence, code="budget.out_of_range", field="trials")
    return None if trials is None else int(trials)


def _input(table: Table, *, with_model: bool) -> _Input | None:
    before = table.faults.total
    name, unit = table.text("name"), table.text("unit")
    value, degrees = table.number("value"), table.number("degrees_of_freedom")
    distribution = _distribution(table)
    sensitivity = None if with_model else table.number("sensitivity")
    given = {form: table.number(form) for form in FORMS[:3]}
    readings = table.numbers("readings")
    factor, top, off = (table.number(key) for key in ("coverage_factor", "top_half_width", "half_width_uncertainty"))
    table.close()
    forms = [form for form, number in given.items() if number is not None] + (["readings"] if readings else [])
    if len(forms) != 1:
        found = " and ".join(forms) or "nothing"
        _fault(table, f"says by {found} how well it is known; expected one of {', '.join(FORMS)}", "budget.how_known")
    if value is None and not readings:
        _fault(table, "has no value", "budget.missing")
    if table.faults.total > before:
        return None
    try:
        line = _contribution(name, forms[0], given, readings, distribution, factor=factor, top=top, off=off)
        line = replace(line, value=line.value if value is None else value,
                       sensitivity=1.0 if sensitivity is None else sensitivity,
                       degrees_of_freedom=line.degrees_of_freedom if degrees is None else degrees)  # fmt: skip
    except BadInput as error:
        for fault in error.faults:
            _fault(table, f"contradicts itself: {fault.sentence}", "budget.how_known")
        return None
    except LapwrightError as error:
        table.report(error)
        return None
    return _Input(contribution=line, unit=unit, readings=readings)


def _distribution(table: Table) -> Distribution | None:
    """The distribution that an input states, None when it leaves it open."""
    said = table.text("distribution", "")
    if said in ("", "normal", *BOUNDED):
        return cast("Distribution", said) if said else None
    near = difflib.get_close_matches(said, ("normal", *BOUNDED), 1)
    hint = f"did you mean {near[0]!r}?" if near else f"known: normal, {', '.join(BOUNDED)}."
    _fault(table, f"has the distribution {said!r}; {hint}", "budget.not_a_choice")
    return None


def _contribution(
    name: str, form: str, given: dict[str, float | None], readings: tuple[float, ...] | None,
    distribution: Distribution | None, *, factor: float | None, top: float | None, off: float | None,
) -> Contribution:  # fmt: skip
    shapes = {"trapezoid": top, "curvilinear_trapezoid": off}
    wrong = _misplaced(form, distribution, factor, shapes, top=top, off=off)
    if wrong:
        raise BadInput([Fault(sentence=sentence, field=name, code="budget.how_known") for sentence in wrong])
    if readings:
        return repeated_contribution(name, np.array(readings))
    number = given[form] or 0.0
    if form == "half_width":
        kind = distribution or "rectangular"
        shape = (shapes.get(kind) or 0.0) / number if number > 0.0 else 0.0
        return Contribution(name=name, standard_uncertainty=number / half_width_divisor(kind, shape=min(shape, 1.0)),
                            distribution=kind, shape=shape, quoted=number)  # fmt: skip
    if form == "expanded_uncertainty":
        return Contribution(name=name, standard_uncertainty=number / (factor or 1.0), quoted=number)
    return Contribution(name=name, standard_uncertainty=number, distribution=distribution or "normal")


def _misplaced(
    form: str, distribution: Distribution | None, factor: float | None, shapes: dict[str, float | None], *,
    top: float | None, off: float | None,
) -> list[str]:  # fmt: skip
    """What of an input contradicts the rest of it, in sentences."""
    wrong = []
    if form == "half_width" and distribution == "normal":
        wrong.append("A normal distribution has no half_width; give its standard_uncertainty.")
    if form == "standard_uncertainty" and distribution in shapes:
        wrong.append(f"A {distribution} is given by its half_width, not by a standard_uncertainty.")
    if form in ("expanded_uncertainty", "readings") and distribution not in (None, "normal"):
        wrong.append(f"An input known by {form} is normal; drop its distribution.")
    if (form == "expanded_uncertainty") != (factor is not None):
        wrong.append("expanded_uncertainty and coverage_factor (above zero) belong together.")
    elif factor is not None and not factor > 0.0:
        wrong.append(f"coverage_factor is {factor:g}; expected more than zero.")
    if (distribution == "trapezoid") != (top is not None):
        wrong.append("A trapezoid needs top_half_width, and nothing else takes it.")
    if (distribution == "curvilinear_trapezoid") != (off is not None):
        wrong.append("A curvilinear_trapezoid needs half_width_uncertainty, and nothing else takes it.")
    return wrong


def _pair(table: Table) -> tuple[tuple[str, ...], float | None]:
    between, coefficient = table.texts("between"), table.number("coefficient")
    table.close()
    if len(between) != 2 or coefficient is None:
        _fault(table, 'needs between = ["one", "other"] and a coefficient', "budget.correlation")
    return between, coefficient


def _check_names(inputs: list[_Input], faults: FaultList) -> None:
    names = [line.contribution.name for line in inputs]
    for name in dict.fromkeys(names):
        if names.count(name) > 1:
            faults.add(f"Two inputs are named {name!r}; give each a name of its own.", code="budget.twice", field=name)
        if not name.isidentifier() or keyword.iskeyword(name):
            sentence = f"The input name {name!r} cannot stand in a model; use letters, digits and underscores."
            faults.add(sentence, code="budget.name", field=name)


def _model(text: str, inputs: list[_Input], faults: FaultList, *, complete: bool) -> Node | None:
    if not text or not complete:
        return None
    names = [line.contribution.name for line in inputs]
    try:
        return model_from_text(text, names=names)
    except BadInput as error:
        for fault in error.faults:
            faults.take(fault)
        return None


def _correlation(
    inputs: list[_Input], pairs: list[tuple[tuple[str, ...], float | None]], together: tuple[tuple[str, ...], ...],
    faults: FaultList,
) -> tuple[tuple[float, ...], ...] | None:  # fmt: skip
    if not pairs and not together:
        return None
    names = [line.contribution.name for line in inputs]
    table = np.eye(len(names))
    for between, coefficient in pairs:
        for unknown in sorted(set(between) - set(names)):
            faults.add(
                f"The correlation names {unknown!r}, which is no input.", code="budget.correlation", field=unknown
            )
        if coefficient is None or len(between) != 2 or not set(between) <= set(names):
            continue
        one, other = (names.index(name) for name in between)
        if one == other or not -1.0 <= coefficient <= 1.0:
            sentence = f"The correlation of {between[0]} and {between[1]} is {coefficient:g}; expected -1 to 1, of two."
            faults.add(sentence, code="budget.correlation", field=between[0])
            continue
        table[one, other] = table[other, one] = coefficient
    for group in together:
        _fill_simultaneous(table, group, names, inputs, faults)
    return tuple(tuple(float(r) for r in row) for row in table)


def _fill_simultaneous(
    table: np.ndarray[Any, Any], group: tuple[str, ...], names: list[str], inputs: list[_Input], faults: FaultList
) -> None:
    readings = {line.contribution.name: line.readings for line in inputs}
    missing = [name for name in group if not readings.get(name)]
    if missing or len(group) < 2:
        found = f"{', '.join(missing)} has none" if missing else "only one input is named"
        faults.add(
            f"simultaneous needs inputs with readings; {found}.", code="budget.correlation", field="simultaneous"
        )
        return
    try:
        found_table = readings_correlation([np.array(readings[name]) for name in group])
    except LapwrightError as error:
        faults.add(f"simultaneous: {error.sentence}", code="budget.correlation", field="simultaneous")
        return
    for i, one in enumerate(group):
        for j, other in enumerate(group):
            table[names.index(one), names.index(other)] = found_table[i][j]


def _fault(table: Table, found: str, code: str) -> None:
    tail = "" if found.endswith((".", "?")) else "."
    table.faults.add(f"{table.name} {found}{tail}", code=code, field=table.name)
