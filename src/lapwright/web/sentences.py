"""Sentences that the layers below made in English, said in the language of the page.

Those layers know no translations, and what they say also goes into records, JSON and logs, where it stays as it is.
Their sentences stand in the catalogue under the context ``sentence`` with numbered places: ``Wafer {0} is {1}; the
step to {2} does not follow.`` Here the sentence at hand is found among them by its words and its places are put back,
each said in its turn. A text that is none of them is given back untouched, and so is every text in English.
"""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any, TypeVar

from django.utils.formats import get_format
from django.utils.translation import get_language, gettext, pgettext, trans_real

from lapwright import units

#: Under which context the catalogues keep sentences.
CONTEXT = "sentence"

Text = TypeVar("Text")


def said(text: Text) -> Text | str:
    """A sentence in the language of the page; anything that is no sentence of the program comes back as it is."""
    language = get_language() or "en"
    if language.startswith("en") or not text:
        return text
    found = _said(language, str(text))
    return text if found is None else found


def decimal(text: str) -> str:
    """A printed number with the decimal mark of the page's language."""
    if (get_language() or "en").startswith("en"):
        return text
    return _NUMBER.sub(rf"\1{get_format('DECIMAL_SEPARATOR')}\2", _DAY.sub(lambda day: gettext(day[0]), text))


def with_what_was_typed(sentence: str, typed: str) -> str:
    """A refusal with what was typed, where the page has no box any more that would hold it."""
    return f"{sentence} {gettext('You had typed: “%(text)s”.') % {'text': typed}}" if typed else sentence


def day_form(form: str) -> str:
    """A format of dates with day and month in the order and with the points of the page's language."""
    short, long = pgettext("format of dates", "j M"), pgettext("format of dates", "j F")
    return form.replace("j M", short).replace("j F", long)


def printed(value: float, symbol: str, dimension: str, *, digits: int = 1) -> str:
    """An SI value as text in a unit, with the decimal mark of the page's language."""
    return decimal(units.printed(value, symbol, dimension, digits=digits))


# ----------------------------------------------------------------------------------------------------------------------

#: A decimal number that is no part of a name, a date, an address or a version.
_NUMBER = re.compile(r"(?<![\w.,/])(?<!\w-)(\d+)\.(\d+)(?![\w.]*\w\.|[\w-]*-|\.\d|:|\. \d\d:)")
#: A day of the week before a date.
_DAY = re.compile(r"\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)(?= \d\d\.\d\d\.)")
_PLACE = re.compile(r"\{\d+\}")
_WORD = re.compile(r"[A-Za-z']+(?=[ ,;:.])")
#: Where one sentence ends and the next begins, and where one is put together of pieces.
_ENDS = re.compile(r"(?<=[.!?]) (?=\S)(?!\d\d:\d\d)")
_JOINTS = (re.compile(r"(?=; )"), re.compile(r"(?=: )"), re.compile(r"(?=, )"), re.compile(r"(?= (?![\d(±]))"))
#: What is the same in every language: numbers with units, names, signs.
_NAMED = re.compile(
    r"(?:[\d.,]+\s\S{1,5}(?: \+ | |$))+|[^a-z]*|[A-Z][\w-]*( [\d.,]+\s?\S{1,7})?|\S+|[\d.,\u2212+±x÷\s-]+\s*\S{1,7}"
)
#: Words that somebody wrote; a number among them stays as it was written.
_PROSE = re.compile(r"\b[a-z]{4,}\b \S")
#: A sentence with fewer letters of its own is not told from others when its places hold what nobody knows.
FEWEST = 3
#: Longer texts are notes of people, and not looked through.
LONGEST = 2000


@dataclass(frozen=True, slots=True)
class _Sentence:
    """A sentence with places: how it is told from others, and what it is in the other language."""

    pattern: re.Pattern[str]
    longest: str
    letters: int
    translated: str


@dataclass(frozen=True, slots=True)
class _Book:
    """The sentences of a language: whole ones by their text, those with places by their first word, the rest listed."""

    whole: dict[str, str]
    by_word: dict[str, list[_Sentence]]
    rest: list[_Sentence]


@lru_cache(maxsize=8192)
def _said(language: str, text: str) -> str | None:
    if len(text) > LONGEST:
        return None
    body = text.strip(" ")
    start = text.find(body)
    found = _known(language, body)
    if found is None and body.endswith("."):  # a piece that its sentence ends with
        piece = _known(language, body[:-1])
        found = None if piece is None else piece + "."
    if found is None:
        book = _book(language)
        found = _by_sentence(language, book, body) or _matched(language, book, body, unknown=True)
    return None if found is None else text[:start] + found + text[start + len(body) :]


@lru_cache(maxsize=8192)
def _known(language: str, text: str) -> str | None:
    """A text with nothing unknown in it: one sentence, several, or pieces of them."""
    book = _book(language)
    return (
        _each(language, book, text)
        or _matched(language, book, text)
        or _in_pieces(language, text)
        or _with_aside(language, text)
    )


def _matched(language: str, book: _Book, text: str, *, unknown: bool = False) -> str | None:
    """The sentence that fits, with nothing unknown in its places; or the one with least of it."""
    whole = book.whole.get(text)
    if whole is not None:
        return whole
    word = _WORD.match(text)
    best: tuple[int, str] | None = None
    for sentence in book.by_word.get(word[0], book.rest) if word else book.rest:
        match = sentence.pattern.fullmatch(text) if sentence.longest in text else None
        if match is None:
            continue
        strange = sum(len(value) for value in match.groups() if not _is_named(language, value))
        if not strange or (unknown and sentence.letters >= FEWEST and (best is None or strange < best[0])):
            best = strange, _put(sentence.translated, match.groupdict(), language)
            if not strange:
                break
    return None if best is None else best[1]


def _put(sentence: str, values: dict[str, str], language: str) -> str:
    places = {name[1:]: _place(language, value) for name, value in values.items()}
    return _PLACE.sub(lambda place: places[place[0][1:-1]], sentence)


def _each(language: str, book: _Book, text: str) -> str | None:
    """Several sentences in a row, every one of them known."""
    parts = _ENDS.split(text)
    if len(parts) < 2:
        return None
    told = [_matched(language, book, part) for part in parts]
    return None if None in told else " ".join(filter(None, told))


def _by_sentence(language: str, book: _Book, text: str) -> str | None:
    """Several sentences in a row: the longest known run first, each of the others on its own."""
    parts = _ENDS.split(text)
    if len(parts) < 2:
        return None
    for length in range(len(parts) - 1, 0, -1):
        for first in range(len(parts) - length + 1):
            found = _matched(language, book, " ".join(parts[first : first + length]))
            if found is not None:
                rest = " ".join(parts[:first]), " ".join(parts[first + length :])
                before, after = (one and (_said(language, one) or one) for one in rest)
                return " ".join(filter(None, (before, found, after)))
    return None


def _in_pieces(language: str, text: str) -> str | None:
    """A sentence put together of pieces: both sides of a joint are known, or one is and the other is a name."""
    for joint in _JOINTS:
        for cut in joint.finditer(text):
            apart = cut.start() + (1 if text[cut.start()] == " " else 2)
            head, mark, tail = text[: cut.start()], text[cut.start() : apart], text[apart:]
            if not head or not tail:
                continue
            if mark == " ":
                joined = _matched(language, _book(language), tail) if " " in tail and _NAMED.fullmatch(head) else None
                if joined is not None:
                    return decimal(head) + mark + joined
                continue
            said_head, said_tail = _part(language, head), _part(language, tail)
            joined = None if said_tail else _matched(language, _book(language), mark + tail)
            if joined is not None and (said_head is not None or _NAMED.fullmatch(head)):
                return (decimal(head) if said_head is None else said_head) + joined
            if said_head is None and said_tail is None:
                continue
            if (said_head or _NAMED.fullmatch(head)) and (said_tail or _NAMED.fullmatch(tail)):
                return (said_head or decimal(head)) + mark + (said_tail or decimal(tail))
    return None


def _with_aside(language: str, text: str) -> str | None:
    """Words with more in brackets behind them."""
    if not text.endswith(")") or " (" not in text:
        return None
    head, _open, inside = text[:-1].partition(" (")
    sides = _part(language, head), _part(language, inside)
    if not any(sides) or not all(
        side or _NAMED.fullmatch(part) for side, part in zip(sides, (head, inside), strict=True)
    ):
        return None
    return f"{sides[0] or decimal(head)} ({sides[1] or decimal(inside)})"


def _part(language: str, text: str) -> str | None:
    return _known(language, text) or _word(language, text)


def _side(language: str, text: str) -> str | None:
    return _said(language, text) or _word(language, text)


def _place(language: str, text: str) -> str:
    quoted = re.fullmatch(r"(['\"])(.*)\1", text, re.DOTALL)
    if quoted:
        return quoted[1] + (_word(language, quoted[2]) or quoted[2]) + quoted[1]
    return _side(language, text) or _capital(language, text) or (text if _PROSE.search(text) else decimal(text))


def _capital(language: str, text: str) -> str | None:
    """A name that begins a sentence, and so with a capital."""
    found = _known(language, text[0].lower() + text[1:]) if text[:1].isupper() else None
    return None if found is None else found[:1].upper() + found[1:]


def _is_named(language: str, text: str) -> bool:
    return (
        not re.search(r"\b[a-z]{3,}\b", text)
        or " " not in text.replace(", ", "")
        or _known(language, text) is not None
        or _word(language, text) is not None
    )


def _word(language: str, text: str) -> str | None:
    """A word or two of the program's own: a state, a quantity."""
    return _catalogue(language).get(text) if re.fullmatch(r"[a-z][a-z ]+|TTV", text) else None


@cache
def _catalogue(language: str) -> dict[str, str]:
    translation: Any = trans_real.translation(language)
    held = translation._catalog  # noqa: SLF001  # Django offers no list of its texts
    found = {}
    for name in held.keys():  # noqa: SIM118  # no plain dictionary: one catalogue behind another
        if isinstance(name, str) and isinstance(held[name], str):
            found[name] = held[name]
    return found


@cache
def _book(language: str) -> _Book:
    start = CONTEXT + "\x04"
    whole: dict[str, str] = {}
    by_word: dict[str, list[_Sentence]] = defaultdict(list)
    rest: list[_Sentence] = []
    for name, translated in _catalogue(language).items():
        if not name.startswith(start):
            continue
        text = name[len(start) :]
        if not _PLACE.search(text):
            whole[text] = translated
            continue
        word = _WORD.match(text)
        (rest if word is None else by_word[word[0]]).append(_sentence(text, translated))
    rest.sort(key=_rank)
    return _Book(whole, {word: sorted([*near, *rest], key=_rank) for word, near in by_word.items()}, rest)


def _rank(sentence: _Sentence) -> int:
    """The sentence with more words of its own is tried first."""
    return -sentence.letters


def _sentence(text: str, translated: str) -> _Sentence:
    parts = _PLACE.split(text)
    names = [place[1:-1] for place in _PLACE.findall(text)]
    pattern = re.escape(parts[0])
    for name, part in zip(names, parts[1:], strict=True):
        pattern += f"(?P<p{name}>.*?){re.escape(part)}"
    letters = sum(letter.isalpha() for part in parts for letter in part)
    return _Sentence(re.compile(pattern, re.DOTALL), max(parts, key=len), letters, translated)
