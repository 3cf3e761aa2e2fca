"""XML from outside, read with a parser that takes no document type and no entity."""

from __future__ import annotations

from xml.etree import ElementTree as ET
from xml.parsers import expat

from lapwright.errors import FileFormatError

MOST_DEPTH = 30


def sound_root(document: bytes, subject: str, *, most_elements: int | None = None) -> ET.Element:
    """The root of a document; `FileFormatError` for one that is not sound, or nests or multiplies without end.

    `subject` begins the sentence of a refusal: the file's name, or the name and which part of it.
    """
    try:
        _look_over(document, most_elements)
        return ET.fromstring(document)  # noqa: S314  looked over just above
    except _Forbidden as fault:
        raise FileFormatError(f"{subject} {fault}; such a file is not read.") from fault
    except (expat.ExpatError, ET.ParseError, ValueError, LookupError) as fault:
        raise FileFormatError(f"{subject} is no sound XML ({fault}). Save it again.") from fault


# ----------------------------------------------------------------------------------------------------------------------


class _Forbidden(Exception):
    """Something a measurement file has no use for and an attack has."""


def _look_over(document: bytes, most_elements: int | None) -> None:
    """Run through the document once with everything forbidden that could make a small file large or reach outside."""
    depth = elements = 0

    def enter(_tag: str, _attributes: object) -> None:
        nonlocal depth, elements
        depth += 1
        elements += 1
        if depth > MOST_DEPTH:
            raise _Forbidden(f"nests deeper than {MOST_DEPTH} levels")
        if most_elements is not None and elements > most_elements:
            raise _Forbidden(f"holds more than {most_elements} elements")

    def leave(_tag: str) -> None:
        nonlocal depth
        depth -= 1

    def document_type(*_: object) -> None:
        raise _Forbidden("declares a document type or entities")

    parser = expat.ParserCreate()
    parser.StartElementHandler = enter
    parser.EndElementHandler = leave
    parser.StartDoctypeDeclHandler = document_type
    parser.EntityDeclHandler = document_type
    parser.Parse(document, True)
