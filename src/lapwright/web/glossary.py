"""The glossary: the vocabulary page of the documentation, which the wheel brings along.

Names stay as they stand in formulas, files and code. What the words with a symbol mean is in the catalogues of the
languages, under the context ``glossary``; the rest, names of the program's insides, is explained in English.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from django.utils.translation import get_language, pgettext

#: Under which context the catalogues keep meanings.
CONTEXT = "glossary"
_BROUGHT = Path(__file__).parent / "vocabulary.md"
_IN_SOURCE = Path(__file__).parents[3] / "docs" / "reference" / "vocabulary.md"


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One concept: its name in words, what it means, the unit inside the program, symbol and source.

    `is_english` where the meaning is not in the language of the page.
    """

    name: str
    meaning: str
    unit: str
    symbol: str
    source: str
    is_english: bool = False


@cache
def terms() -> tuple[Term, ...]:
    """All terms by name."""
    text = (_BROUGHT if _BROUGHT.is_file() else _IN_SOURCE).read_text(encoding="utf-8")
    return tuple(
        sorted((_term(line) for line in text.splitlines() if line.startswith("| `")), key=lambda one: one.name)
    )


def translatable() -> frozenset[str]:
    """What a language says in its own words: meanings and units of the words that carry a symbol in formulas."""
    carried = [one for one in terms() if one.symbol]
    units = {one.unit for one in carried if re.search(r"\b(as|any|square)\b", one.unit)}
    return frozenset(units | {one.meaning for one in carried})


def found(wanted: str) -> tuple[Term, ...]:
    """Terms with a text in their name or meaning; without one, those that carry a symbol in formulas."""
    text = wanted.casefold()
    every = terms() if text else (one for one in terms() if one.symbol)
    told = [(one, _told(one)) for one in every]
    if text:
        told = [
            (one, here)
            for one, here in told
            if any(text in place.casefold() for place in (one.name, one.meaning, here.meaning))
        ]
    return tuple(here for _one, here in told)


# ----------------------------------------------------------------------------------------------------------------------


def _term(line: str) -> Term:
    cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
    name, meaning, unit, symbol, source = (*cells, "", "", "", "")[:5]
    plain = name.strip("`").replace("_", " ")
    return Term(
        name=plain, meaning=meaning.replace("`", ""), unit="" if unit == "-" else unit, symbol=symbol, source=source
    )


def _told(one: Term) -> Term:
    """A term in the language of the page."""
    if (get_language() or "en").startswith("en"):
        return one
    meaning, unit = (pgettext(CONTEXT, text) if text else "" for text in (one.meaning, one.unit))
    return replace(one, meaning=meaning, unit=unit, is_english=meaning == one.meaning)
