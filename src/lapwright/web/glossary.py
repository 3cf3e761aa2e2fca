"""The glossary: the vocabulary page of the documentation, which the wheel brings along."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

_BROUGHT = Path(__file__).parent / "vocabulary.md"
_IN_SOURCE = Path(__file__).parents[3] / "docs" / "reference" / "vocabulary.md"


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One concept: its name in words, what it means, the unit inside the program, symbol and source."""

    name: str
    meaning: str
    unit: str
    symbol: str
    source: str


@cache
def terms() -> tuple[Term, ...]:
    """All terms by name."""
    text = (_BROUGHT if _BROUGHT.is_file() else _IN_SOURCE).read_text(encoding="utf-8")
    return tuple(
        sorted((_term(line) for line in text.splitlines() if line.startswith("| `")), key=lambda one: one.name)
    )


def found(wanted: str) -> tuple[Term, ...]:
    """Terms with a text in their name or meaning; without one, those that carry a symbol in formulas."""
    text = wanted.casefold()
    if not text:
        return tuple(one for one in terms() if one.symbol)
    return tuple(one for one in terms() if text in one.name.casefold() or text in one.meaning.casefold())


# ----------------------------------------------------------------------------------------------------------------------


def _term(line: str) -> Term:
    cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
    name, meaning, unit, symbol, source = (*cells, "", "", "", "")[:5]
    plain = name.strip("`").replace("_", " ")
    return Term(
        name=plain, meaning=meaning.replace("`", ""), unit="" if unit == "-" else unit, symbol=symbol, source=source
    )
