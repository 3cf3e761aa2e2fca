"""Languages: every text of the pages is in the catalogue and translated, and nothing in a sentence is lost by it.

Placeholders must be the same on both sides; the compiled file is the one Django reads.
"""

import fcntl
import html
import os
import re
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.template import Context, Template
from django.utils import translation

from lapwright import units
from lapwright.app.steps import need_step
from lapwright.errors import LapwrightError, OutOfValidRange
from lapwright.library import load
from lapwright.reports.words.german import GERMAN
from lapwright.reports.words.quotation import QUOTATION_GERMAN
from lapwright.testing import messages
from lapwright.testing.sentences import in_source
from lapwright.web.sentences import said

PLACES = re.compile(r"%%|%\(\w+\)[-.0-9]*[a-z]|%[sd]|\{\w+\}")
LANGUAGES = ("de",)


@pytest.fixture(scope="module", params=LANGUAGES)
def language(request, started_records):  # noqa: ARG001  templates are read by a configured program
    """A language and its catalogue as it stands."""
    return request.param, messages.catalogue(request.param)


def test_every_text_of_the_pages_is_translated(language):
    """`python -m lapwright.testing.messages de --missing` lists what is not."""
    name, kept = language
    wanted = {(message.one, message.context or None) for message in messages.messages()}
    held = {((one.id if isinstance(one.id, str) else one.id[0]), one.context or None) for one in kept if one.id}
    assert wanted - held == set(), f"run python -m lapwright.testing.messages {name}"
    assert held - wanted == set(), f"run python -m lapwright.testing.messages {name}"
    assert messages.missing(kept) == ()


def test_every_place_of_a_sentence_is_kept(language):
    """Names in brackets, per cents, blanks at the ends."""
    _name, kept = language
    for one in kept:
        if not one.id:
            continue
        ids = (one.id,) if isinstance(one.id, str) else one.id
        texts = (one.string,) if isinstance(one.string, str) else one.string
        allowed = [sorted(PLACES.findall(text)) for text in ids]
        for text in texts:
            assert sorted(PLACES.findall(text)) in allowed, (one.id, text)
            assert (text[:1] == " ", text[-1:] == " ") == (ids[0][:1] == " ", ids[0][-1:] == " "), one.id


def test_the_compiled_file_is_that_of_the_catalogue(language):
    """Otherwise the pages would show older words."""
    name, kept = language
    assert (messages.LOCALE / name / "LC_MESSAGES" / "django.mo").read_bytes() == messages.compiled(kept)


def test_the_pages_speak_german_when_the_laboratory_does(client):
    """Head and words of each page that needs no record."""
    with translation.override("de"):
        for address, word in (("/", "Was jetzt einen Handgriff braucht"), ("/orders", "Was wir versprochen haben"),
                              ("/help", "Hilfe"), ("/shelf", "Was haben wir"), ("/waste", "Abfall und Vorsicht")):  # fmt: skip
            text = html.unescape(client.get(address).content.decode())
            assert 'lang="de"' in text
            assert word in text
            assert ">Handgriffe<" in text


# What the layers below say ---------------------------------------------------------------------------------------------

SAID = (
    (lambda: units.parse("12", "length"), "hat keine Einheit; erwartet eines von m, mm, µm"),
    (lambda: units.parse("zwölf", "length"), "'zwölf' ist keine Zahl mit Einheit; schreiben Sie wie '12,5 µm'."),
    (lambda: load().material("unobtainium"), "Die Bibliothek enthält"),
    (lambda: need_step(_wafer("judged"), "in_work"), "der Schritt zu 'in Arbeit' folgt nicht darauf."),
    (lambda: _raise(OutOfValidRange("thickness", -0.5, "more than zero")), "Dicke ist -0,5; erwartet mehr als null."),
)  # fmt: skip
ENGLISH = re.compile(r"\b(the|is|are|not|was|has|been|this|read|yet)\b", re.IGNORECASE)


def _raise(error):
    raise error


def _broken(text):
    """A text with blanks that a line may break at, as it is typed in tests."""
    return text.replace("\u00a0", " ")


def _wafer(state):
    return SimpleNamespace(state=state, wafer=SimpleNamespace(wafer_id="AP-2407-03"))


@pytest.mark.parametrize(("deed", "german"), SAID)
def test_a_refusal_from_below_is_said_in_german(deed, german, language):  # noqa: ARG001  a configured program
    """The sentence of a real error; in English it is the very same text."""
    with pytest.raises(LapwrightError) as caught:
        deed()
    sentence = caught.value.sentence
    assert said(sentence) is sentence
    with translation.override("de"):
        assert german in _broken(said(sentence))


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("now 412.0\u00a0µm, after this stage 391.5\u00a0µm; it is past this stage already: leave it out",
         "jetzt 412,0\u00a0µm, nach dieser Stufe 391,5\u00a0µm; er ist über diese Stufe schon hinaus: Lassen Sie sie aus"),
        ("again: wash before the next abrasive, and look", "nochmals: vor nächstem Läppmittel waschen und ansehen"),
        ("Read again first: site 12 reads 3.2 µm above what the other sites say (explained: 1.0 µm).",
         "Zuerst nochmals messen: Stelle 12 zeigt 3,2 µm oberhalb dessen, was die anderen Stellen sagen (erklärt: 1,0 µm)."),
        ("AP-2411-07, coarse lap: waits 20 h 25 min for L1: AP-2411 runs there until Mon 23.11. 15:45.",
         "AP-2411-07, Grobläppen: wartet 20 h 25 min für L1: AP-2411 läuft dort bis Mo 23.11. 15:45."),
        ("Green silicon carbide #1000 (JIS) takes 329.4 µm, all that the later stages leave; it needs 3.2 µm: it.",
         "Grünes Siliciumcarbid #1000 (JIS) trägt 329,4 µm ab, alles, was die späteren Stufen lassen; sie braucht 3,2 µm: it."),
        ("Point 17 (wafer AP-2407-06) lies below the limit.", "Punkt 17 (Wafer AP-2407-06) liegt unterhalb der Grenze."),
        ("Point 8 lies above the limit.", "Punkt 8 liegt oberhalb der Grenze."),
        ("not clean: a grain at the rim", "nicht sauber: a grain at the rim"),
        ("gauge AB-1.5: have it calibrated", "Messgerät AB-1.5: kalibrieren lassen"),
        ("Spilled coffee, sorry: 1.5 cups.", "Spilled coffee, sorry: 1.5 cups."),
        (
            "LW-1, coarse lap: waits 14 h: nobody is there until Wed 25.11. 08:00, then AP-2409 runs there until 17:00.",
            "LW-1, Grobläppen: wartet 14 h: niemand ist da bis Mi 25.11. 08:00, dann AP-2409 läuft dort bis 17:00.",
        ),
    ],
)  # fmt: skip
def test_pieces_are_said_and_what_people_wrote_stays(english, german, language):  # noqa: ARG001  a configured program
    """A sentence of several pieces; names, notes of people and their numbers are left alone."""
    with translation.override("de"):
        assert _broken(said(english)) == _broken(german)
    assert said(english) is english


def test_places_and_conditions_become_a_sentence_each():
    """What the catalogue is made from: f-strings with their places, and what a condition puts into them."""
    source = (
        '"""No sentence here."""\n'
        "def f(n, far):\n"
        '    """Nor here at all."""\n'
        '    LOG.info("not heard by anybody")\n'
        '    cursor.execute("SELECT all of it")\n'
        "    raise BadInput(f\"Wafer {n!r} is {f'far too thick by {far}' if far else 'thin enough'}; look.\")\n"
    )
    assert set(in_source(source)) == {"Wafer {0} is {1}; look.", "far too thick by {0}", "thin enough"}


def test_a_page_with_tasks_and_a_refused_form_hold_no_english_sentence(client, lot):  # noqa: ARG001  wafers that wait
    """Hands with its tasks, the wafer's page with its cautions, and a form refused by a layer below."""
    with translation.override("de"):
        hands = html.unescape(client.get("/").content.decode())
        assert ENGLISH.findall(" ".join(re.findall(r'class="(?:verb|about)">([^<]*)<', hands))) == []
        assert "Einmessen" in hands
        order = client.get("/orders").content.decode()
        address = re.search(r'href="(/orders/(?!new)[^"/]+)"', order)[1]
        wafer = html.unescape(client.get(address).content.decode())
        cautions = re.findall(r'<div class="caution">(.*?)</div>', wafer, re.DOTALL)
        assert cautions
        assert ENGLISH.findall(re.sub(r"<[^>]+>", " ", " ".join(cautions))) == []
        refused = client.post("/orders/new", {"order_id": "AP-2500", "target_thickness": "100"})
        assert "hat keine Einheit; erwartet" in html.unescape(refused.content.decode())


def test_what_a_page_refuses_with_is_said_in_german(client, lot):  # noqa: ARG001  the shop
    """A set of another order, a study of another gauge, an explanation that is none."""
    with translation.override("de"):
        text = html.unescape(client.get("/help/why/nothing").content.decode())
        assert "Keine Zahl heißt 'nothing'." in text
        assert ENGLISH.findall(re.sub(r"<[^>]+>", " ", text[text.index("<main") : text.index("</main")])) == []
        assert "Niemand hier zeichnet als" in html.unescape(client.post("/who", {"name": "nobody"}).content.decode())


def test_numbers_and_dates_are_written_as_the_language_writes_them(django):  # noqa: ARG001  templates need settings
    """DIN 1333: decimal comma. DIN 5008: a point behind the day, before the name of the month (both from memory)."""
    template = Template("{% load lapwright %}{{ m|um:2 }} {{ w|mm }} {{ r|floatformat:2 }} {{ d|date:'j M Y' }}")
    context = Context({"m": 12.34e-6, "w": 50.8e-3, "r": 0.5, "d": datetime(2026, 5, 18, tzinfo=UTC)})
    assert template.render(context) == "12.34\u00a0µm 50.8\u00a0mm 0.50 18 May 2026"
    with translation.override("de"):
        assert template.render(context) == "12,34\u00a0µm 50,8\u00a0mm 0,50 18. Mai 2026"


#: One word of German for each concept: words that are not used -> the one that is.
ONE_WORD = {
    "Verwindung": "Verwerfung (warp)", "Hohlraum": "Lunker (void)", "Hohlräume": "Lunker (voids)",
    "Schutzband": "Schutzabstand (guard band)", "Sicherheitsabstand (JCGM": "Schutzabstand (guard band)",
    "Kennwort": "Passwort", "Bildpunkt": "Pixel", "Genauigkeitsgrenze": "Fehlergrenze (accuracy limit)",
    "Rauschgrund": "Grundrauschen (noise floor)", "Wiederholbarkeit": "Wiederholpräzision (repeatability)",
    "Läppfläche": "Arbeitsfläche (land of a plate)", "Lauffläche": "Arbeitsfläche (land of a plate)",
    "Referenzplan": "Planglas (reference flat)", "Zernike-Glied": "Zernike-Term", "Prüfschein": "Zertifikat",
    "Voreinstellung": "Vorwahl (preset)", "Dickenschwankung": "Dickenvariation", "Keilschliff": "Schrägschliff",
    "Halteausgang": "Stopp-Ausgabe (stop output)", "Fehlstelle ": "Lunker (void)", "Stellschrauben der Aufnahme": "Halter (jig)",
}  # fmt: skip
ADDRESSED = re.compile(r"\b([Dd]u|[Dd]ein\w*|[Dd]ir|[Dd]ich|[Ee]uch|[Ee]uer\w*)\b")


def german():
    """Every German text of pages and documents."""
    kept = messages.catalogue("de")
    yield from (
        text for one in kept if one.id for text in ([one.string] if isinstance(one.string, str) else one.string)
    )
    yield from GERMAN.values()
    yield from QUOTATION_GERMAN.values()


def test_german_has_one_word_for_each_concept_and_one_way_to_address():
    """The words as DIN, VDI and the trade use them; readers are addressed with Sie."""
    found = [f"{used} for {word}: {text}" for text in german() for word, used in ONE_WORD.items() if word in text]
    assert found == []
    assert [text for text in german() if ADDRESSED.search(text)] == []


def test_a_second_run_waits_for_the_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A catalogue that one run reads to write it is not open to another run until it is written (POSIX flock)."""
    monkeypatch.setattr(messages, "LOCALE", tmp_path)
    with messages.alone("de"):
        other = os.open(tmp_path / "de" / "LC_MESSAGES", os.O_RDONLY)
        with pytest.raises(BlockingIOError):
            fcntl.flock(other, fcntl.LOCK_EX | fcntl.LOCK_NB)
    fcntl.flock(other, fcntl.LOCK_EX | fcntl.LOCK_NB)
    os.close(other)
