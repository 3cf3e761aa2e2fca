"""Codes on paper and pieces: what kind of thing, its name, and a check character, for a hand-held scanner.

The letters are those of Code 39 (ISO/IEC 16388), the check character is that standard's sum modulo 43. A sum finds each
single wrong character; one that finds every exchange of two neighbours it is not, so what is found is shown by name.
"""

from __future__ import annotations

from typing import Literal

from lapwright.errors import BadInput, Fault

PieceKind = Literal["wafer", "carrier", "jig", "gauge", "plate", "station", "order", "lot"]
LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"
#: Kind -> the letter a code begins with.
KINDS: dict[PieceKind, str] = {
    "wafer": "W", "carrier": "C", "jig": "J", "gauge": "G", "plate": "P", "station": "S", "order": "O", "lot": "L",
}  # fmt: skip
_OF_LETTER = {letter: kind for kind, letter in KINDS.items()}


def check_character(text: str) -> str:
    """The check character of a text: the sum of its letters' values, modulo 43.

    >>> check_character("12345ABCDE/")
    'T'
    """
    return LETTERS[sum(LETTERS.index(letter) for letter in text) % 43]


def piece_code(kind: PieceKind, name: str) -> str | None:
    """The code of a piece: its kind, a check character, its name in capitals. None for a name no code can carry.

    >>> piece_code("wafer", "AP-2407-05")
    'WP/AP-2407-05'
    """
    letter, capitals = KINDS[kind], name.upper()
    if not capitals or any(one not in LETTERS for one in capitals) or capitals != capitals.strip():
        return None
    return f"{letter}{check_character(f'{letter}/{capitals}')}/{capitals}"


def read_code(text: str) -> tuple[PieceKind, str]:
    """Kind and name (in capitals) of a code as scanned or typed. Raises `BadInput` for anything else."""
    found = text.strip("\r\n\t").upper()
    if found.startswith("*") and found.endswith("*"):
        found = found[1:-1]
    kind = _OF_LETTER.get(found[:1])
    if len(found) < 4 or found[2] != "/" or kind is None or any(letter not in LETTERS for letter in found):
        raise _fault(f"{text.strip()[:60]!r} is no code of this program; one begins like W5/ and goes on with a name.")
    if check_character(found[0] + found[2:]) != found[1]:
        raise _fault(f"The code {found[:60]!r} was misread: its check character does not fit the rest.")
    return kind, found[3:]


# ----------------------------------------------------------------------------------------------------------------------


def _fault(sentence: str) -> BadInput:
    return BadInput([Fault(sentence=f"{sentence} Scan it again, or open the piece from its order.", field="code")])
