"""Sentences of the records on a German certificate: said in German, and as the pages say them."""

import re

import pytest

from lapwright.reports.words.sentences import GERMAN_SENTENCES, told


@pytest.mark.parametrize(
    ("english", "german"),
    [
        (("Ra: stylus profiler, tip 2 µm; Gaussian filter, cutoff 0.08 mm, short cutoff 2.5 µm, 5 sections,"
         " 0.4 mm evaluated, stylus; measured face 2."),
         ("Ra: stylus profiler, tip 2 µm; Gauß-Filter, Grenzwellenlänge 0,08 mm, kurze Grenzwellenlänge 2,5 µm,"
         " 5 Messstrecken, 0,4 mm ausgewertet, Tastschnitt; gemessene Fläche 2.")),
        ("Wafer W-5 is not delivered: TTV 2.86 µm: The chance of being inside is 0.4 %, at most the agreed 2.0 %.",
         ("Wafer W-5 wird nicht geliefert: TTV 2,86 µm: Die Wahrscheinlichkeit, innerhalb zu liegen, ist 0,4 %,"
         " höchstens die vereinbarte 2,0 %.")),
        ("Delivered although roughness ra does not keep its limit; accepted by the customer: set on fire 1.5 times",
         "Geliefert, obwohl Ra seine Grenze nicht hält; vom Kunden angenommen: set on fire 1.5 times"),
        ("It went on after “Final clean” although no look had found all clean; anna: lamp broken, felt clean",
         "Nach „Final clean“ ging es weiter, obwohl kein Blick alles sauber befunden hatte; anna: lamp broken, felt clean"),
        ("issued by", "ausgestellt von"),
    ],
)  # fmt: skip
def test_what_the_program_said_is_german_and_what_people_wrote_stays(english, german):
    """In places, too; in English it is the very same text."""
    assert told(english, "de") == german
    assert told(english, "en") is english


@pytest.mark.parametrize("note", ["A note of mine: set, stylus.", "stylus, optical", "Dropped; 1.5 h lost."])
def test_a_note_of_a_person_is_left_alone(note):
    """Even when words of the program stand in it."""
    assert told(note, "de") == note


def test_pages_and_certificate_say_a_sentence_alike(started_records):  # noqa: ARG001  a configured program
    """What the catalogue of the pages holds, too, is the same there but for blanks that no line breaks at."""
    from lapwright.testing import messages

    kept = {one.id: one.string.replace("\u00a0", " ") for one in messages.catalogue("de") if one.context == "sentence"}
    both = {one for one in GERMAN_SENTENCES if one in kept and len(re.findall(r"\w+", one)) > 3}
    assert len(both) > 12
    assert {one: GERMAN_SENTENCES[one] for one in both} == {one: kept[one] for one in both}
