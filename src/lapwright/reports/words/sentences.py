"""Sentences that a certificate takes from the records, said in its language.

The layers below speak English, and what they said stands in the records. A certificate in another language says the
sentences known here in that language, with what stands in their places; what a person wrote stays as it was written.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache

#: English with numbered places -> German; the more words of its own a sentence has, the earlier it is tried.
GERMAN_SENTENCES: Mapping[str, str] = {
    "Thickness at the listed sites with the gauges named. The thickness judged is the mean of the sites; TTV is the"
    " thickest less the thinnest site mean, with the share of gauge noise taken out; the wedge is that of the"
    " least-squares plane over the full diameter. Expanded uncertainties are for 95 %.":
        "Dicke an den aufgeführten Stellen mit den genannten Messgeräten. Beurteilt wird als Dicke der Mittelwert der"
        " Stellen; TTV ist der dickste weniger der dünnste Mittelwert einer Stelle, der Anteil des Geräterauschens"
        " herausgenommen; der Keil ist der der Ausgleichsebene über den vollen Durchmesser. Erweiterte Unsicherheiten"
        " gelten für 95 %.",
    "Wafer {0} is not delivered: {1}": "Wafer {0} wird nicht geliefert: {1}",
    "Delivered although {0} does not keep its limit; accepted by the customer: {1}":
        "Geliefert, obwohl {0} seine Grenze nicht hält; vom Kunden angenommen: {1}",
    "The chance of being inside is {0}, at most the agreed {1}.":
        "Die Wahrscheinlichkeit, innerhalb zu liegen, ist {0}, höchstens die vereinbarte {1}.",
    "The chance of being outside is {0}, at most the agreed {1}.":
        "Die Wahrscheinlichkeit, außerhalb zu liegen, ist {0}, höchstens die vereinbarte {1}.",
    "The chance of being inside is {0}: neither accepted nor rejected at the agreed {1}. Measure again, with more"
    " repeats or a better gauge.":
        "Die Wahrscheinlichkeit, innerhalb zu liegen, ist {0}: bei der vereinbarten {1} weder angenommen noch"
        " verworfen. Messen Sie nochmals, mit mehr Wiederholungen oder einem besseren Messgerät.",
    "The value lies inside by at least the agreed guard band; {0}.":
        "Der Wert liegt um mindestens den vereinbarten Schutzabstand innerhalb; {0}.",
    "The value lies outside by at least the agreed guard band; {0}.":
        "Der Wert liegt um mindestens den vereinbarten Schutzabstand außerhalb; {0}.",
    "The value lies within the agreed guard band of the limit; {0}. Measure again, with more repeats or a better"
    " gauge.":
        "Der Wert liegt innerhalb des vereinbarten Schutzabstands um die Grenze; {0}. Messen Sie nochmals, mit mehr"
        " Wiederholungen oder einem besseren Messgerät.",
    "The value is {0} the limit; the chance that this verdict is wrong is {1}.":
        "Der Wert liegt {0} der Grenze; die Wahrscheinlichkeit, dass dieses Urteil falsch ist, ist {1}.",
    "the chance of being inside is {0}": "die Wahrscheinlichkeit, innerhalb zu liegen, ist {0}",
    "One reading was corrected; the records hold both values, by whom and why.":
        "Ein Messwert wurde berichtigt; die Aufzeichnungen enthalten beide Werte, von wem und warum.",
    "{0} readings were corrected; the records hold both values, by whom and why.":
        "{0} Messwerte wurden berichtigt; die Aufzeichnungen enthalten beide Werte, von wem und warum.",
    "One reading was questioned at entry and deliberately kept.":
        "Ein Messwert wurde bei der Eingabe angezweifelt und bewusst behalten.",
    "{0} readings were questioned at entry and deliberately kept.":
        "{0} Messwerte wurden bei der Eingabe angezweifelt und bewusst behalten.",
    "It went on after “{0}” although no look had found all clean; {1}: {2}":
        "Nach „{0}“ ging es weiter, obwohl kein Blick alles sauber befunden hatte; {1}: {2}",
    "The cleaning “{0}” was left out; {1}: {2}": "Die Reinigung „{0}“ wurde ausgelassen; {1}: {2}",
    "Gaussian filter": "Gauß-Filter", "robust Gaussian filter": "robustes Gauß-Filter",
    "spline filter": "Spline-Filter",
    "cutoff {0} mm": "Grenzwellenlänge {0} mm", "no short cutoff": "keine kurze Grenzwellenlänge",
    "short cutoff {0} µm": "kurze Grenzwellenlänge {0} µm",
    "{0} sections": "{0} Messstrecken", "{0} mm evaluated": "{0} mm ausgewertet",
    "stylus": "Tastschnitt", "optical": "optisch", "kind of instrument not stated": "Art des Geräts nicht angegeben",
    "measured face {0}": "gemessene Fläche {0}", "edge exclusion {0} mm": "Randausschluss {0} mm",
    "peak to valley, plane taken out": "Spitze zu Tal, Ebene herausgenommen",
    "one picture with tilt fringes": "ein Bild mit Kippstreifen",
    "one picture with closed fringes": "ein Bild mit geschlossenen Streifen",
    "{0} pictures with stepped phase": "{0} Bilder mit Phasenschritten", "{0} µm a fringe": "{0} µm je Streifen",
    "issued by": "ausgestellt von", "released by": "freigegeben von", "from file": "aus Datei",
    "five": "fünf", "nine": "neun", "thirteen": "dreizehn", "seventeen": "siebzehn",
    "inside": "innerhalb", "outside": "außerhalb", "thickness": "Dicke", "ttv": "TTV", "wedge": "Keil",
    "flatness": "Ebenheit", "bow": "Durchbiegung", "warp": "Verwerfung", "roughness ra": "Ra", "roughness sq": "Sq",
}  # fmt: skip
_PLACE = re.compile(r"\{\d\}")
#: A line put together of pieces: how a face was measured, or a value and the reason of its verdict.
_METHOD = re.compile(r"\w+: .+; measured face \d+\.", re.DOTALL)
_JUDGED = re.compile(r"(?P<value>\S+ [\d.,\u2212-]+\s\S+): (?P<reason>The .+)", re.DOTALL)
#: A chance and what was agreed of it, in a sentence of a verdict.
_CHANCE = re.compile(
    r"(?i)(chance of being (?:in|out)side is )([\d.]+)%"
    r"(?:((?:, at most|: neither accepted nor rejected at) the agreed [\d.]+)%)?"
)
_JOINT = re.compile(r"(; |, |: )")
_NUMBER = re.compile(r"(?<![\w.])(\d+)\.(\d+)(?![\w.]*\w\.)")


def told(text: str, language: str) -> str:
    """A sentence in a language; one that is not known there as it is.

    >>> told("Wafer W-1 is not delivered: dropped", "de")
    'Wafer W-1 wird nicht geliefert: dropped'

    No chance is nothing or certain:

    >>> told("The chance of being inside is 0.0%, at most the agreed 2.0%.", "en").replace("\u00a0", " ")
    'The chance of being inside is < 0.1 %, at most the agreed 2.0 %.'
    """
    text = _CHANCE.sub(_chance, text)
    return text if language != "de" or not text else (_known(text) or text)


# ----------------------------------------------------------------------------------------------------------------------


def _chance(found: re.Match[str]) -> str:
    bound = {"0.0": "<\u00a00.1", "100.0": ">\u00a099.9"}.get(found[2], found[2])
    agreed = "" if found[3] is None else f"{found[3]}\u00a0%"
    return f"{found[1]}{bound}\u00a0%{agreed}"


def _known(text: str) -> str | None:
    whole = GERMAN_SENTENCES.get(text)
    if whole is not None:
        return whole
    for pattern, german in _patterns():
        found = pattern.fullmatch(text)
        if found is not None:
            return _filled(german, found)
    judged = _JUDGED.fullmatch(text)
    if judged is not None:
        return f"{_printed(judged['value'])}: {_known(judged['reason']) or judged['reason']}"
    if _METHOD.fullmatch(text):
        return "".join(_known(part) or part for part in _JOINT.split(text[:-1])) + "."
    return None


def _filled(german: str, found: re.Match[str]) -> str:
    return _PLACE.sub(lambda place: _place(found[f"p{place[0][1]}"]), german)


def _place(value: str) -> str:
    return _known(value) or (value if re.search(r"[a-z]{4,}", value) else _printed(value))


def _printed(value: str) -> str:
    return _NUMBER.sub(r"\1,\2", value)


@cache
def _patterns() -> tuple[tuple[re.Pattern[str], str], ...]:
    placed = [one for one in GERMAN_SENTENCES if _PLACE.search(one)]
    placed.sort(key=lambda one: -sum(letter.isalpha() for letter in one))
    return tuple((_pattern(one), GERMAN_SENTENCES[one]) for one in placed)


def _pattern(sentence: str) -> re.Pattern[str]:
    parts = _PLACE.split(sentence)
    places = [place[1] for place in _PLACE.findall(sentence)]
    text = re.escape(parts[0])
    for number, part in zip(places, parts[1:], strict=True):
        text += f"(?P<p{number}>.+?){re.escape(part)}"
    return re.compile(text, re.DOTALL)
