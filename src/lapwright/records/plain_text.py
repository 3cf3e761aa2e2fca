"""Text that can be kept: what a person can see, fit for every database and for every file that is written from it.

PostgreSQL keeps no U+0000, and a certificate written as XML may hold no other control character either: it would be a
file that no reader opens. So such a character is refused before it is recorded, wherever it comes from.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from lapwright.errors import BadInput, Fault

#: What is no `Char` of XML 1.0, section 2.2 (fifth edition, W3C 2008), and DEL.
_UNSEEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")
_BEFORE = 20  # characters shown before the one that is refused


def need_plain_text(columns: Iterable[tuple[str, Any]]) -> None:
    """Raises `BadInput` that names each column holding a character that cannot be kept, and where in its text."""
    faults = [
        Fault(sentence=_sentence(text, found), field=name)
        for name, value in columns
        for text in _texts(value)
        if (found := _UNSEEN.search(text)) is not None
    ]
    if faults:
        raise BadInput(faults)


# ----------------------------------------------------------------------------------------------------------------------


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping | list | tuple):
        for inner in value.values() if isinstance(value, Mapping) else value:
            if isinstance(inner, str | Mapping | list | tuple):
                yield from _texts(inner)


def _sentence(text: str, found: re.Match[str]) -> str:
    sign = f"U+{ord(found[0]):04X}"
    left = text[max(0, found.start() - _BEFORE) : found.start()]
    if not left:
        return f"The text begins with a character that cannot be seen or kept, {sign}. Delete it or type it anew."
    return f"The text holds a character that cannot be seen or kept, {sign} after {left!r}. Delete it or type it anew."
