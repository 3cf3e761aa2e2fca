"""Help: every computed number that pages show says why, the glossary finds words, the tour goes round."""

import html
import re
from pathlib import Path
from statistics import fmean

import pytest
from django.utils import translation

from lapwright.errors import NotFound
from lapwright.testing.lot import flat
from lapwright.web import glossary, tour
from lapwright.web.templatetags.why import typeset
from lapwright.web.why import WHY
from lapwright.web.why.place import place_of

TEMPLATES = Path(__file__).parents[3] / "src" / "lapwright" / "web" / "templates"
DOCS = Path(__file__).parents[3] / "docs" / "reference"


@pytest.fixture
def page(client):
    """Asks for a page."""
    return client.get


def used():
    """Names that templates ask why of."""
    return {
        name
        for path in TEMPLATES.rglob("*.html")
        for name in re.findall(r'{% why "([a-z_]+)"[^%]* %}', path.read_text())
    } | {"budget"}  # a table of contributions names its own


def test_every_why_of_a_template_is_explained_and_every_explanation_is_asked_for():
    """No dead link, and no text that nobody reaches from a number."""
    assert used() == set(WHY)


def test_an_explanation_has_formula_inputs_source_and_doubt(page):
    """On a page of its own that leads back to the number, and names a page of formulas that exists."""
    for name, one in WHY.items():
        text = page(f"/help/why/{name}?from=/plates").content.decode()
        for part in (one.title, one.says, one.inputs, one.doubt):
            assert str(part), name
        assert 'class="formula"' in text, name
        assert 'href="/plates"' in text, name
        assert (DOCS / f"formulas-{one.page}.md").is_file(), name


@pytest.mark.usefixtures("django")
def test_each_kind_of_number_is_worked_out():
    """Not only told: for each there is a way from the page it stands on to its own inputs."""
    from lapwright.web.why.cases import CASES

    assert set(CASES) == set(WHY)


@pytest.mark.parametrize(
    ("formula", "set_as"),
    [
        ("a_i", "a<sub>i</sub>"),
        ("t_{97.5 %}(⌊ν⌋)", "t<sub>97.5 %</sub>(⌊ν⌋)"),
        ("u^4/Σ((c_i·u_i)^4)", "u<sup>4</sup>/Σ((c<sub>i</sub>·u<sub>i</sub>)<sup>4</sup>)"),
        ("e^{−x}", "e<sup>−x</sup>"),
        ("a<b & c_1", "a&lt;b &amp; c<sub>1</sub>"),
        ("<script>", "&lt;script&gt;"),
    ],
)
def test_a_formula_is_set_with_indices_below_and_powers_above(formula, set_as):
    """As they are written by hand (ISO 80000-2, 7); what is no formula stays text."""
    assert typeset(formula) == set_as


@pytest.fixture
def read_set(lot):
    """A wafer read at its sites, tilted by 2 µm over its diameter."""
    from lapwright.model.readings import Signature
    from lapwright.records import writer

    for state in ("debonded", "read_free"):
        writer.move_wafer("AP-1-01", state, Signature(**lot.why()))
    return lot.read("AP-1-01", "wafer", "final", lambda x, _y: 100e-6 + 4e-5 * x, repeats=2)


def worked_out(page, name, address, **more):
    """The steps of an explanation, its result, and its tables as rows of cells, all as text."""
    answer = page(f"/help/why/{name}", {"from": address, **more})
    assert answer.status_code == 200
    text = answer.content.decode()
    steps = [plain(one) for one in re.findall(r"<li>(.*?)</li>", re.search(r'(?s)<ol class="worked".*?</ol>', text)[0])]
    result = plain(re.search(r'<p class="value">(.*?)</p>', text)[1])
    rows = [[plain(cell) for cell in re.findall(r"(?s)<t[hd][^>]*>(.*?)</t[hd]>", row)] for row in text.split("<tr")]
    return steps, result, [row for row in rows if row]


def plain(text):
    """What is read of a piece of a page."""
    return html.unescape(re.sub(r"<[^>]+>", "", text)).replace("\xa0", " ").strip()


def test_a_number_can_be_computed_again_from_what_its_explanation_shows(page, read_set):
    """Mean and TTV of a set, from the site means listed there; each site mean from the readings as typed."""
    address = f"/orders/AP-1/readings/{read_set.set_id}"
    _steps, mean, rows = worked_out(page, "mean", address)
    typed = [(row[1], float(row[2])) for row in rows if row[0].isdigit()]
    sites = {row[0]: float(row[4]) for row in rows if len(row) == 5 and row[0] in dict(typed)}
    assert len(sites) == len(typed) / 2 == 9
    for site, found in sites.items():
        assert found == pytest.approx(fmean(value for where, value in typed if where == site), abs=5e-5)
    assert float(mean.split()[0]) == pytest.approx(fmean(sites.values()), abs=0.006)
    steps, ttv, _rows = worked_out(page, "ttv", address)
    assert float(ttv.split()[0]) == pytest.approx(max(sites.values()) - min(sites.values()), abs=0.006)
    assert steps[-1].startswith("TTV = ")


def test_the_explanation_of_another_set_is_of_that_one(page, lot, read_set):
    """The key behind the link says which; another one, another result."""
    other = lot.read("AP-1-01", "wafer", "final", flat(101e-6), repeats=1)
    address = "/orders/AP-1/wafers/AP-1-01"
    results = {worked_out(page, "mean", address, of=str(one.set_id))[1] for one in (read_set, other)}
    assert len(results) == 2
    assert worked_out(page, "mean", address)[1] == worked_out(page, "mean", address, of=str(other.set_id))[1]


@pytest.mark.parametrize("address", ["/orders/AP-9", "/orders/AP-1/readings/9", "/orders/AP-1", "/gauges/G9"])
@pytest.mark.parametrize("of", ["", "²", "9" * 30])
@pytest.mark.usefixtures("lot")
def test_where_there_is_nothing_to_compute_from_a_sentence_says_so(page, address, of):
    """The kind of number is explained all the same; nothing is made up for it."""
    answer = page("/help/why/mean", {"from": address, "of": of})
    assert answer.status_code == 200
    assert 'class="value"' not in answer.content.decode()
    assert 'class="formula"' in answer.content.decode()


@pytest.mark.parametrize("address", ["//elsewhere.example/", "/nowhere", "orders", "http://[/"])
@pytest.mark.usefixtures("django")
def test_an_address_of_no_page_is_no_place(address):
    """Nothing is worked out for it."""
    assert place_of(address) is None


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
    assert f"Tour, 2 of {len(tour.STOPS)}" in text
    assert 'href="/help/tour/3"' in text
    assert 'href="/help/tour/1"' in text
    assert "Tour," not in page("/?tour=99").content.decode()
    assert "Tour," not in page("/?tour=²").content.decode()


@pytest.fixture
def invented(lot, monkeypatch):
    """An order of the demonstration's kind, in a data folder that says that all in it is invented."""
    from lapwright.app import wiring

    monkeypatch.setattr(wiring, "is_invented", lambda: True)
    monkeypatch.setattr(tour, "first_address", lambda: "/help/tour/1")
    return lot


@pytest.mark.usefixtures("lot")
def test_over_a_laboratory_of_ones_own_no_tour_is_offered(page):
    """Somebody's work is nothing to be shown round."""
    assert "/help/tour/" not in page("/").content.decode()


@pytest.mark.usefixtures("invented")
def test_the_tour_offers_itself_once_and_is_taken_up_where_it_was_left(client):
    """On the first page; left at the second stop it goes on there, and once ended it asks no more."""
    assert "Begin the tour" in client.get("/").content.decode()
    assert "Begin the tour" not in client.get("/orders").content.decode()
    client.get("/orders?tour=2")
    text = client.get("/").content.decode()
    assert f"You left the tour at 2 of {len(tour.STOPS)}" in text
    assert 'href="/help/tour/2"' in text
    answer = client.get("/help/tour/end", {"from": "/orders"})
    assert (answer.status_code, answer["Location"]) == (302, "/orders")
    assert "/help/tour/" not in client.get("/").content.decode()


@pytest.mark.usefixtures("invented")
def test_whoever_saw_the_last_stop_is_not_asked_again(client):
    """It is over then, and Help begins it anew."""
    client.get(f"/?tour={len(tour.STOPS)}")
    assert "Begin the tour" not in client.get("/").content.decode()


@pytest.mark.usefixtures("invented")
@pytest.mark.parametrize("kept", ["0", "99", "²", "x", "-1"])
def test_a_cookie_that_is_no_stop_begins_at_the_first(client, kept):
    """It is somebody's text."""
    client.cookies["lapwright_tour"] = kept
    assert "Begin the tour" in client.get("/").content.decode()


@pytest.mark.usefixtures("invented")
def test_the_end_of_the_tour_leads_nowhere_else(client):
    """The address to go back to is somebody's text."""
    assert client.get("/help/tour/end", {"from": "https://elsewhere.example/"})["Location"] == "/"
