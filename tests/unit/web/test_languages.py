"""Languages: every text of the pages is in the catalogue and translated, and nothing in a sentence is lost by it.

Placeholders must be the same on both sides; the compiled file is the one Django reads.
"""

import html
import re

import pytest

from lapwright.testing import messages

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
    from django.utils import translation

    with translation.override("de"):
        for address, word in (("/", "Was jetzt einen Handgriff braucht"), ("/orders", "Was wir versprochen haben"),
                              ("/help", "Hilfe"), ("/shelf", "Was haben wir"), ("/waste", "Abfall und Vorsicht")):  # fmt: skip
            text = html.unescape(client.get(address).content.decode())
            assert 'lang="de"' in text
            assert word in text
            assert ">Handgriffe<" in text
