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
        name for path in TEMPLATES.rglob("*.html") for name in re.findall(r'{% why "([a-z_]+)"[^%]* %}', path.read_text())
    } | {"budget"}  # a table of contributions names its own


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


def test_the_glossary_holds_the_words_of_pages_and_finds_them(page):
    """As many terms as the page of the documentation has rows with a word of the pages; found by name and meaning."""
    rows = [line for line in (DOCS / "vocabulary.md").read_text().splitlines() if line.startswith("| `")]
    said = [line for line in rows if len(line.strip(" |").split(" |")) == 6]
    assert len(glossary.terms()) == len(said) > 300
    assert "thickest edge" in {one.word for one in glossary.found("azimuth")}
    assert glossary.found("TTV_corrected") == glossary.found("noise removed")
    text = page("/help?find=azimuth").content.decode()
    assert "counter-clockwise" in text
    assert "No word holds" in page("/help?find=%3Cscript%3E").content.decode()


def test_names_of_the_insides_are_not_in_the_glossary():
    """What only the program calls so needs nobody at a bench: the first words of its rows say nothing to them."""
    assert {one.name for one in glossary.terms()}.isdisjoint({"p11", "in place", "is whole", "row id", "at"})


def test_the_glossary_is_german_in_german(page):
    """Every word and meaning, found by either language, with ä beside a; what is the same in both is a word of both."""
    with translation.override("de"):
        told = glossary.found("")
        same = {one.word for one in told if not one.english}
        assert same <= {"Wafer", "Phase", "Film", "Trend", "Station", "Rate", "Radius"}
        english = {one.meaning for one in glossary.terms()}
        assert [one.word for one in told if one.meaning in english] == []
        words = [one.word for one in told]
        assert words.index("Abtrag") < words.index("Ätzen") < words.index("Aufmaß")
        for wanted in ("Verwerfung", "warp", "Mittelfläche eines freien Wafers"):
            assert "Verwerfung" in {one.word for one in glossary.found(wanted)}
        text = page("/help?find=warp").content.decode()
    assert 'Verwerfung <small class="soft" lang="en">warp</small>' in text


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
