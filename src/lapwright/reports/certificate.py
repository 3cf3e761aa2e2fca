"""The certificate in its four forms: HTML and PDF to read, JSON and CSV to compute with.

All four are made from the same facts. The PDF carries the JSON file inside. No form depends on the day or the
machine: the same data give the same bytes, as long as the letters are Latin, Greek or Cyrillic (other scripts need a
font of the system).
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from decimal import Decimal

from lapwright.errors import BadInput, Fault
from lapwright.reports.blocks import paper_html
from lapwright.reports.certificate_data import CertificateData
from lapwright.reports.certificate_facts import certificate_facts
from lapwright.reports.certificate_numbers import Fact
from lapwright.reports.certificate_page import certificate_paper
from lapwright.reports.drawing.ink import SANS
from lapwright.reports.typesetting import SERIF, paper_pdf
from lapwright.reports.words import LANGUAGES, Language, Words

_NAMES = ("wafer_id", "quantity", "site", "gauge_id", "role", "contribution")
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def certificate_html(data: CertificateData, language: Language = "en") -> str:
    """The certificate as one self-contained HTML file that prints on A4."""
    return paper_html(certificate_paper(data, certificate_facts(data), _words(language), font=SANS))


def certificate_pdf(data: CertificateData, language: Language = "en") -> bytes:
    """The certificate as a tagged PDF with the JSON file attached; the same data give the same bytes."""
    words = _words(language)
    paper = certificate_paper(data, certificate_facts(data), words, font=f"'{SERIF}'")
    return paper_pdf(
        paper,
        author=data.laboratory,
        issued=data.issued,
        page=words["page"],
        file=("certificate.json", certificate_json(data)),
    )


def certificate_json(data: CertificateData) -> str:
    """The machine-readable twin: every fact of the certificate, units in the names, null for not measured."""
    return json.dumps(certificate_facts(data), default=_as_number, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def certificate_csv(data: CertificateData) -> str:
    """The twin as a long table: where a fact stands, its field, its value.

    A text that a spreadsheet would take for a formula gets an apostrophe in front.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(("where", "field", "value"))
    for where, field, fact in _leaves("", certificate_facts(data)):
        writer.writerow((_harmless(where), field, _cell(fact)))
    return out.getvalue()


# ----------------------------------------------------------------------------------------------------------------------


def _words(language: str) -> Words:
    for known, words in LANGUAGES.items():
        if known == language:
            return words
    known_ones = " or ".join(repr(known) for known in LANGUAGES)
    raise BadInput(
        [Fault(sentence=f"No certificate in language {language!r}; ask for {known_ones}.", field="language")]
    )


def _as_number(fact: object) -> float:
    if not isinstance(fact, Decimal):
        raise TypeError(f"{type(fact).__name__} is no fact of a certificate")
    return float(fact)


def _leaves(where: str, fact: Fact, field: str = "") -> Iterator[tuple[str, str, Fact]]:
    """Every fact that holds no other, with the way to it; list entries go by their own name where they have one."""
    if isinstance(fact, dict):
        for key, inner in fact.items():
            deeper = f"{where}/{field}".strip("/")
            yield from _leaves(deeper, inner, key)
    elif isinstance(fact, list):
        for i, inner in enumerate(fact):
            name = _own_name(inner) or str(i + 1)
            yield from _leaves(f"{where}/{field}".strip("/"), inner, name)
    else:
        yield where, field, fact


def _own_name(fact: Fact) -> str:
    if not isinstance(fact, dict):
        return ""
    return str(
        next(
            (fact[key] for key in ("wafer_id", "quantity", "site", "gauge_id", "role", "contribution") if key in fact),
            "",
        )
    )


def _cell(fact: Fact) -> str:
    if fact is None:
        return ""
    if isinstance(fact, bool):
        return "true" if fact else "false"
    if isinstance(fact, Decimal):
        return f"{fact:f}"
    return _harmless(fact) if isinstance(fact, str) else str(fact)


def _harmless(text: str) -> str:
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text
