"""Help: every computed number that pages show says why, the glossary finds words, the tour goes round."""

import re
from pathlib import Path

import pytest
from django.utils import translation

from lapwright.errors import NotFound
from lapwright.web import glossary, tour
from lapwright.web.why import WHY

TEMPLATES = Path(__file__).parents[3] / "src" / "lapwright" / "web" / "templates"
DOCS = Path(__file__).parents[3] / "docs" / "reference"


@pytest.fixture
def page(client):
    """Asks for a page."""
    return client.get


def used():
    """Names that templates ask why of."""
    return {
        name for path in TEMPLATES.rglob("*.html") for name in re.findall(r'{% why "([a-z_]+)" %}', path.read_text())
    }


def test_every_why_of_a_template_is_explained_and_every_explanation_is_asked_for():
    """No dead link, and no text that nobody reaches from a number."""
    assert used() == set(WHY)


@pytest.mark.parametrize("name", sorted(WHY))
def test_an_explanation_has_formula_inputs_source_and_doubt(page, name):
    """On a page of its own that leads back to the number, and names a page of formulas that exists."""
    answer = page(f"/help/why/{name}?from=/plates")
    text = answer.content.decode()
    one = WHY[name]
    for part in (one.title, one.says, one.inputs, one.doubt):
        assert str(part)
    assert 'class="formula"' in text
    assert 'href="/plates"' in text
    assert (DOCS / f"formulas-{one.page}.md").is_file()


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"])
def test_a_way_back_to_elsewhere_is_not_offered(page, back):
    """The address is somebody's text."""
    text = page("/help/why/ttv", {"from": back}).content.decode()
    assert "elsewhere" not in text
    assert "javascript:" not in text


def test_an_unknown_number_is_told(page):
    """With where all of them stand."""
    assert page("/help/why/nothing").status_code == 404


def test_the_glossary_holds_the_vocabulary_and_finds_words(page):
    """As many terms as the page of the documentation has rows; a search finds by name and by meaning."""
    rows = [line for line in (DOCS / "vocabulary.md").read_text().splitlines() if line.startswith("| `")]
    assert len(glossary.terms()) == len(rows)
    assert "azimuth" in {one.name for one in glossary.found("thickest edge")}
    text = page("/help?find=azimuth").content.decode()
    assert "counter-clockwise" in text
    assert "No word holds" in page("/help?find=%3Cscript%3E").content.decode()


def test_the_words_of_formulas_are_explained_in_german(page):
    """Words with a symbol, found by their German meaning, too; the insides of the program stay English and say so."""
    with translation.override("de"):
        assert [one.name for one in glossary.found("") if one.is_english] == []
        assert "wedge" in {one.name for one in glossary.found("zum dicksten Rand gerichtet")}
        assert 'lang="en">abrasive as used' in page("/help?find=abrasive").content.decode()


def test_without_a_demonstration_there_is_no_tour(page):
    """And the page says how to get one."""
    assert tour.first_address() is None
    with pytest.raises(NotFound, match="lapwright demo"):
        tour.address(1)
    assert page("/help/tour/1").status_code == 404


def test_the_strip_of_a_stop_leads_on_and_back(page):
    """Over the page itself; a number that is none shows nothing."""
    text = page("/?tour=2").content.decode()
    assert "Tour, 2 of 13" in text
    assert 'href="/help/tour/3"' in text
    assert 'href="/help/tour/1"' in text
    assert "Tour," not in page("/?tour=99").content.decode()
    assert "Tour," not in page("/?tour=²").content.decode()
