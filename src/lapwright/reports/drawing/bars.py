"""A text as the bars of Code 39 (ISO/IEC 16388), to be scanned from paper.

Each character is five bars and four spaces, three of the nine wide; the star begins and ends the code and is not
part of its text. Quiet zones of ten narrow widths stand on both sides.
"""

from __future__ import annotations

from lapwright.errors import BadInput, Fault
from lapwright.reports.drawing.ink import drawing, element, short, written

_TABLE = (
    "0=nnnwwnwnn 1=wnnwnnnnw 2=nnwwnnnnw 3=wnwwnnnnn 4=nnnwwnnnw 5=wnnwwnnnn 6=nnwwwnnnn 7=nnnwnnwnw 8=wnnwnnwnn"
    " 9=nnwwnnwnn A=wnnnnwnnw B=nnwnnwnnw C=wnwnnwnnn D=nnnnwwnnw E=wnnnwwnnn F=nnwnwwnnn G=nnnnnwwnw H=wnnnnwwnn"
    " I=nnwnnwwnn J=nnnnwwwnn K=wnnnnnnww L=nnwnnnnww M=wnwnnnnwn N=nnnnwnnww O=wnnnwnnwn P=nnwnwnnwn Q=nnnnnnwww"
    " R=wnnnnnwwn S=nnwnnnwwn T=nnnnwnwwn U=wwnnnnnnw V=nwwnnnnnw W=wwwnnnnnn X=nwnnwnnnw Y=wwnnwnnnn Z=nwwnwnnnn"
    " -=nwnnnnwnw .=wwnnnnwnn $=nwnwnwnnn /=nwnwnnnwn +=nwnnnwnwn %=nnnwnwnwn *=nwnnwnwnn"
)
#: Character -> its nine elements, bar first, "w" wide and "n" narrow; ISO/IEC 16388, table of character encodings.
ELEMENTS: dict[str, str] = dict(pair.split("=") for pair in _TABLE.split(" ")) | {" ": "nwwnnnwnn"}
NARROW, WIDE, QUIET, TALL = 1.0, 2.5, 10.0, 36.0
_UNIT = 1.3  # CSS pixels in a narrow width: 0.34 mm on paper


def code_bars(text: str, *, title: str) -> str:
    """SVG of a code with its text below. Raises `BadInput` for a letter that it cannot carry."""
    unknown = [letter for letter in text if letter not in ELEMENTS or letter == "*"]
    if unknown or not text:
        sentence = f"{text!r} cannot be drawn as bars; Code 39 has capitals, digits and - . $ / + %. Use those."
        raise BadInput([Fault(sentence=sentence, field="text")])
    bars, at = [], QUIET
    for letter in f"*{text}*":
        for index, size in enumerate(ELEMENTS[letter]):
            width = WIDE if size == "w" else NARROW
            if index % 2 == 0:
                bars.append(f"M{short(at * _UNIT)} 0h{short(width * _UNIT)}v{short(TALL)}h{short(-width * _UNIT)}z")
            at += width
        at += NARROW
    wide = (at - NARROW + QUIET) * _UNIT
    ground = element("rect", x=0.0, y=0.0, width=wide, height=TALL + 18.0, fill="#ffffff")
    said = written(wide / 2.0, TALL + 14.0, text, size=12, anchor="middle", fill="#000000")
    black = element("path", d="".join(bars), fill="#000000")
    return drawing(ground, black, said, title=title, desc=text, width=wide, height=TALL + 18.0)
