"""The glossary: words of the trade and of the pages, from the vocabulary page of the documentation.

That page, which the wheel brings along, names every parameter of the program. Rows whose last column says how pages
and people call the thing are the glossary; the rest, names of the program's insides, stay in the documentation. The
catalogues of the languages hold words and meanings under the context ``glossary``.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from django.utils.translation import get_language, pgettext

#: Under which context the catalogues keep words and meanings.
CONTEXT = "glossary"
_BROUGHT = Path(__file__).parent / "vocabulary.md"
#: A word in a unit or a source, no symbol and no name.
_SAID = re.compile(r"\b(any|as|or|(?!rad)[a-z]{3,})\b")
_IN_SOURCE = Path(__file__).parents[3] / "docs" / "reference" / "vocabulary.md"


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One concept: its word, what it means, the SI unit, symbol and source; its name in the program.

    `letter` is the one it is listed under, `english` its word in English where `word` is in another language.
    """

    word: str
    meaning: str
    unit: str
    symbol: str
    source: str
    name: str
    letter: str
    english: str = ""


@cache
def terms() -> tuple[Term, ...]:
    """All terms in English, by their words."""
    text = (_BROUGHT if _BROUGHT.is_file() else _IN_SOURCE).read_text(encoding="utf-8")
    rows = (_cells(line) for line in text.splitlines() if line.startswith("| `"))
    return _sorted(_term(row) for row in rows if row[5])


def translatable() -> frozenset[str]:
    """What a language says in its own words: words, meanings, and units and sources that hold words."""
    texts = {text for one in terms() for text in (one.unit, one.source) if _SAID.search(text)}
    return frozenset(texts | {one.meaning for one in terms()} | {one.word for one in terms()})


def found(wanted: str) -> tuple[Term, ...]:
    """Terms with a text in their word (English, too), name, meaning or symbol; all without one."""
    listed = _told(get_language() or "en")
    text = _plain(wanted.replace("_", " "))
    return tuple(one for one in listed if text in _searched(one)) if text else listed


# ----------------------------------------------------------------------------------------------------------------------


def _cells(line: str) -> list[str]:
    cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
    return [*cells, "", "", "", ""][:6]


def _term(cells: list[str]) -> Term:
    name, meaning, unit, symbol, source, word = cells
    return Term(
        word=word, meaning=meaning.replace("`", ""), unit="" if unit == "-" else unit, symbol=symbol, source=source,
        name=name.strip("`").replace("_", " "), letter=_plain(word)[:1].upper(),
    )  # fmt: skip


@cache
def _told(language: str) -> tuple[Term, ...]:
    """All terms in a language, by their words there."""
    if language.startswith("en"):
        return terms()
    return _sorted(_said(one) for one in terms())


def _said(one: Term) -> Term:
    """A term in the language of the page."""
    texts = (one.word, one.meaning, one.unit, one.source)
    word, meaning, unit, source = (pgettext(CONTEXT, text) if text else "" for text in texts)
    return replace(
        one, word=word, meaning=meaning, unit=unit, source=source, letter=_plain(word)[:1].upper(),
        english="" if word == one.word else one.word,
    )  # fmt: skip


def _sorted(listed: Iterable[Term]) -> tuple[Term, ...]:
    return tuple(sorted(listed, key=lambda one: _plain(one.word)))


@cache
def _searched(one: Term) -> str:
    return _plain(f"{one.word}\n{one.english}\n{one.name}\n{one.meaning}\n{one.symbol}")


def _plain(text: str) -> str:
    """Without accents and capitals: ä sorts and is found as a."""
    apart = unicodedata.normalize("NFD", text.casefold())
    return "".join(sign for sign in apart if not unicodedata.combining(sign))
