"""The certificate: page and file say the same, in both languages; nothing of others becomes markup."""

import csv
import dataclasses
import html
import io
import json
import math
import re
from datetime import UTC, datetime
from decimal import Decimal

import numpy as np
import pypdf
import pytest

from lapwright.errors import BadInput, OutOfValidRange
from lapwright.metrology.thickness import thickness_statistics
from lapwright.model.order import DecisionRule
from lapwright.model.readings import Conditions, Gauge, ThicknessSet
from lapwright.model.wafer import Polygon, Rectangle, Round, ThicknessMap
from lapwright.reports.certificate import certificate_csv, certificate_html, certificate_json, certificate_pdf
from lapwright.reports.certificate_budgets import contribution_word
from lapwright.reports.certificate_data import CertifiedSet, Measured
from lapwright.reports.words import LANGUAGES
from lapwright.testing.certificates import invented_certificate

NUMBER = re.compile(r"−?\d+(?:[.,]\d+)?")
#: Typed by hand: it must not be taken from the program. Page numbers are no facts.
FOOT = re.compile(r"(?:page|Seite) \d+ / \d+")
LANGUAGE_CODES = ("en", "de")


def numbers_of_text(text):
    """Every number in a text, with point or comma."""
    return {Decimal(found.replace("−", "-").replace(",", ".")) for found in NUMBER.findall(text)}


def leaves(told):
    """Everything in nested data that holds nothing else."""
    if isinstance(told, dict):
        for inner in told.values():
            yield from leaves(inner)
    elif isinstance(told, list):
        for inner in told:
            yield from leaves(inner)
    else:
        yield told


def numbers_of_file(text, number=Decimal):
    """Numbers of a JSON file, and those that stand in its texts (dates, names, definitions)."""
    counted, spoken = set(), set()
    for leaf in leaves(json.loads(text, parse_float=number, parse_int=number)):
        if isinstance(leaf, str):
            spoken |= numbers_of_text(leaf)
        elif isinstance(leaf, Decimal):
            counted.add(leaf)
    return counted, spoken


def text_of_html(page):
    """What a reader of the page sees."""
    return html.unescape(re.sub(r"<[^>]*>", " ", re.sub(r"(?s)<style>.*?</style>", " ", page)))


def text_of_pdf(pdf):
    """Text of all pages. In drawings each letter stands alone: letters close together on one line are one word."""
    pieces = []
    last_x, last_y = 0.0, 0.0

    def visit(text, matrix, _text_matrix, _font, size):
        nonlocal last_x, last_y
        if not text.strip():
            return
        x, y, em = matrix[4], matrix[5], abs(matrix[0]) * (size or 0.0)
        goes_on = len(text) == 1 and abs(y - last_y) < 0.01 and 0.0 < x - last_x < 0.9 * em
        pieces.append(text if goes_on else f"\n{text}")
        last_x, last_y = x, y

    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        page.extract_text(visitor_text=visit)
    return FOOT.sub("", "".join(pieces))


def page_text(data, form, language):
    """The text of a certificate in one of its forms."""
    if form == "html":
        return text_of_html(certificate_html(data, language))
    return text_of_pdf(certificate_pdf(data, language))


OUTLINES = {
    "flat": Round(diameter=50.8e-3, mark="flat", flat_length=16e-3),
    "notch": Round(diameter=50.8e-3, mark="notch"),
    "rectangle": Rectangle(width=51.3e-3, height=48.7e-3),
    "polygon": Polygon(corners=((-31.7e-3, -27.9e-3), (33.6e-3, -26.3e-3), (0.4e-3, 37.1e-3))),
}


@pytest.mark.parametrize("language", LANGUAGE_CODES)
@pytest.mark.parametrize("form", ["html", "pdf"])
@pytest.mark.parametrize("seed", [1, 2407])
def test_every_number_of_the_file_is_on_the_page_and_the_reverse(seed, form, language):
    """Job map row 73: the twin and the page hold the same numbers."""
    data = invented_certificate(seed=seed)
    counted, spoken = numbers_of_file(certificate_json(data))
    on_page = numbers_of_text(page_text(data, form, language))
    assert len(counted) > 120
    assert not counted - on_page
    assert not spoken - on_page
    assert not on_page - counted - spoken


@pytest.mark.parametrize("outline", OUTLINES.values(), ids=OUTLINES.keys())
def test_page_and_file_agree_for_every_outline(outline):
    """Flat, notch, rectangle and polygon are described alike in both."""
    data = invented_certificate(outline=outline)
    counted, spoken = numbers_of_file(certificate_json(data))
    on_page = numbers_of_text(page_text(data, "pdf", "de"))
    assert on_page == counted | spoken


def test_page_and_file_agree_with_the_simple_rule():
    """The simple rule has no share of false acceptances, on neither side."""
    data = invented_certificate(rule=DecisionRule(kind="simple"))
    counted, spoken = numbers_of_file(certificate_json(data))
    assert numbers_of_text(page_text(data, "html", "en")) == counted | spoken
    assert "2.0 %" not in page_text(data, "html", "en")


def test_a_number_left_off_the_page_would_be_seen():
    """The comparison itself can fail: a value changed in the file alone is found missing."""
    data = invented_certificate(wafers=1)
    told = json.loads(certificate_json(data))
    told["wafers"][0]["after"]["ttv_um"] = 7.7731
    counted, _ = numbers_of_file(json.dumps(told))
    assert counted - numbers_of_text(page_text(data, "html", "en")) == {Decimal("7.7731")}


def test_the_table_file_holds_the_same_numbers():
    """CSV and JSON are the same facts."""
    data = invented_certificate(wafers=1)
    counted, _ = numbers_of_file(certificate_json(data))
    values = [row["value"] for row in csv.DictReader(io.StringIO(certificate_csv(data)))]
    assert counted <= {Decimal(value) for value in values if re.fullmatch(r"-?\d+(\.\d+)?", value)}


@pytest.mark.parametrize("language", LANGUAGE_CODES)
def test_pdf_is_the_same_bytes_again(language):
    """A certificate can be made again and compared byte by byte."""
    data = invented_certificate(wafers=1)
    assert certificate_pdf(data, language) == certificate_pdf(data, language)


@pytest.mark.parametrize(("language", "title"), [("en", "Certificate of measurement"), ("de", "Messzertifikat")])
def test_pdf_says_what_it_is(language, title):
    """Title, language and tags are set, and the twin travels inside."""
    data = invented_certificate(wafers=1)
    reader = pypdf.PdfReader(io.BytesIO(certificate_pdf(data, language)))
    assert f"{title} AP-2407-C1" == reader.metadata.title
    assert language == reader.trailer["/Root"]["/Lang"]
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert certificate_json(data) == reader.attachments["certificate.json"][0].decode()


def test_german_numbers_have_a_comma():
    """50.8 mm is 50,8 mm in German, and the file keeps the point."""
    data = invented_certificate(wafers=1)
    assert "50,8" in page_text(data, "pdf", "de")
    assert "50.8" not in page_text(data, "pdf", "de")
    assert '"diameter_mm": 50.8' in certificate_json(data)


def test_unmeasured_site_is_null_in_the_file_and_said_on_the_page():
    """NaN is written null, shown as 'not measured', and drawn as an open ring."""
    data = invented_certificate(wafers=2)
    site = json.loads(certificate_json(data))["wafers"][1]["sites"][4]
    assert site["after_um"] is None
    assert site["before_um"] > 490.0
    page = certificate_html(data)
    assert '<td class="number">not measured</td>' in page
    assert 'class="not-measured"' in page
    assert "NaN" not in certificate_json(data)
    assert "nan" not in text_of_html(page).lower().replace("tenant", "").split()


def test_unknown_uncertainty_is_said_not_zero():
    """A value without a known uncertainty says 'not known' on the page and null in the file."""
    data = invented_certificate(wafers=1)
    wafer = data.wafers[0]
    figures = dataclasses.replace(wafer.after.figures, mean=Measured(value=100.4e-6))
    after = dataclasses.replace(wafer.after, figures=figures)
    data = dataclasses.replace(data, wafers=(dataclasses.replace(wafer, after=after),))
    told = json.loads(certificate_json(data))["wafers"][0]["after"]
    assert (told["mean_um"], told["mean_expanded_uncertainty_um"]) == (100.4, None)
    assert "not known" in certificate_html(data)


HOSTILE = (
    "<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "#panic()", "*bold* _x_ $1/2$ @ref <label>",
    "]]>&amp;\\u{41}", "Ä Ω Я ≤ é", "line\nbreak", "\x00\x07\ud800",
)  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_a_customer_name_is_never_markup(name):
    """Names of others are shown as they are: no tag, no typesetting command comes of them."""
    data = invented_certificate(wafers=1, customer=f"A {name}")
    page = certificate_html(data)
    assert "<script" not in page
    assert "<img" not in page
    pdf_text = text_of_pdf(certificate_pdf(data))
    for piece in re.findall(r"[A-Za-z#*$@]{2,}", name):
        assert piece in text_of_html(page)
        assert piece in pdf_text


def test_a_name_in_another_script_is_set_with_a_font_of_the_system():
    """A letter that the own fonts lack does not stop the certificate."""
    assert certificate_pdf(invented_certificate(wafers=1, customer="山田")).startswith(b"%PDF")


def test_a_formula_in_a_name_is_disarmed_in_the_table():
    """A text that a spreadsheet would compute gets an apostrophe."""
    text = certificate_csv(invented_certificate(wafers=1, customer="=HYPERLINK(1)"))
    assert ",customer,'=HYPERLINK(1)" in text


def test_html_stands_alone():
    """Nothing is fetched, nothing runs."""
    page = certificate_html(invented_certificate(wafers=1))
    assert not re.search(r"<script|<link|@import|url\((?!#)|src=", page)
    assert page.count("http") == page.count("http://www.w3.org/2000/svg")


def test_simulated_data_say_so_first():
    """The notice stands before anything measured."""
    text = text_of_html(certificate_html(invented_certificate(wafers=1)))
    assert text.index("made by our own simulator") < text.index("Results")
    assert "simulator" not in certificate_html(dataclasses.replace(invented_certificate(wafers=1), simulated=False))


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_signed_stands_together_before_the_data_sheets(language):
    """Results, gauges and signatures first; method and words after the last sheet, where no page is begun for them."""
    text = text_of_html(certificate_html(invented_certificate(wafers=2), language=language))
    words = LANGUAGES[language]
    sheets = [
        text.index(words["data_sheet"].format(wafer=one.wafer_id)) for one in invented_certificate(wafers=2).wafers
    ]
    signed = text.index(words["signatures"])
    assert text.index(words["results"]) < text.index(words["gauges"]) < signed < min(sheets)
    assert max(sheets) < text.rindex(words["method"]) < text.index(words["meanings"])


def test_the_worst_limit_is_the_outcome_of_the_wafer():
    """One doubtful limit makes the wafer doubtful; one failed limit makes it fail."""
    data = invented_certificate(wafers=5)
    outcomes = [wafer["outcome"] for wafer in json.loads(certificate_json(data))["wafers"]]
    assert outcomes == ["conforms", "cannot_be_decided", "conforms", "conforms", "does_not_conform"]
    assert "nicht erfüllt" in page_text(data, "html", "de")


def test_wedge_is_told_in_arc_seconds():
    """3.2 µm over 50.8 mm: atan(3.2e-6/0.0508) = 62.99 µrad = 12.99 arc seconds."""
    before = json.loads(certificate_json(invented_certificate(wafers=1)))["wafers"][0]["before"]
    assert before["wedge_arcsec"] == 13.0


def test_wedge_angle_of_a_rectangle_follows_its_direction():
    """3.2 µm along a 40 mm side: atan(3.2e-6/0.040) = 80 µrad = 16.5 arc seconds; unknown without a direction."""
    data = invented_certificate(wafers=1, outline=Rectangle(width=55e-3, height=40e-3))
    wafer = data.wafers[0]

    def arcsec(azimuth):
        before = dataclasses.replace(
            wafer.before, figures=dataclasses.replace(wafer.before.figures, wedge_azimuth=azimuth)
        )
        told = dataclasses.replace(data, wafers=(dataclasses.replace(wafer, before=before),))
        return json.loads(certificate_json(told))["wafers"][0]["before"]["wedge_arcsec"]

    assert arcsec(math.pi / 2.0) == 16.5
    assert arcsec(None) is None


def test_289_sites_make_a_certificate():
    """Eight rings of 8k sites and the centre: all in the table, those that fit on the map."""
    data = invented_certificate(wafers=1, rings=8)
    assert len(json.loads(certificate_json(data))["wafers"][0]["sites"]) == 289
    counted, spoken = numbers_of_file(certificate_json(data))
    assert numbers_of_text(page_text(data, "pdf", "en")) == counted | spoken


def test_a_site_of_one_set_only_is_told_apart_from_one_not_measured():
    """A site outside a set's pattern has no field for it in the file."""
    data = invented_certificate(wafers=1)
    wafer = data.wafers[0]
    shorter = ThicknessMap(
        x=wafer.after.map.x[:9].copy(), y=wafer.after.map.y[:9].copy(),
        thickness=wafer.after.map.thickness[:9].copy(), labels=wafer.after.map.labels[:9],
    )  # fmt: skip
    after = dataclasses.replace(wafer.after, map=shorter)
    data = dataclasses.replace(data, wafers=(dataclasses.replace(wafer, after=after),))
    assert "after_um" not in json.loads(certificate_json(data))["wafers"][0]["sites"][10]
    assert "not in the pattern" in certificate_html(data)


def test_a_place_that_two_patterns_name_otherwise_stands_once():
    """Under both names, with both values; a limit judged by an instrument that nobody named says so."""
    data = invented_certificate(wafers=1)
    wafer = data.wafers[0]
    renamed = dataclasses.replace(wafer.after.map, labels=tuple(f"B{i}" for i in range(wafer.after.map.x.size)))
    nameless = tuple(dataclasses.replace(one, gauge_id=None) for one in wafer.limits)
    one = dataclasses.replace(wafer, after=dataclasses.replace(wafer.after, map=renamed), limits=nameless)
    data = dataclasses.replace(data, wafers=(one,))
    sites = json.loads(certificate_json(data))["wafers"][0]["sites"]
    assert len(sites) == wafer.after.map.x.size
    assert sites[0]["site"] == f"{wafer.before.map.labels[0]} / B0"
    assert {"before_um", "after_um"} < set(sites[0])
    assert certificate_html(data).count("<td>not named</td>") == len(nameless)


def test_languages_have_the_same_words_and_the_same_numbers():
    """No word is missing in a language, none holds a number that another lacks."""
    english, german = LANGUAGES["en"], LANGUAGES["de"]
    assert english.keys() == german.keys()
    for key in english:
        assert numbers_of_text(english[key]) == numbers_of_text(german[key]), key
        assert re.findall(r"\{\w+\}", english[key]) == re.findall(r"\{\w+\}", german[key]), key


def test_faults_of_the_data_are_told_together():
    """Missing names, doubled wafers and an unlisted gauge come in one answer."""
    good = invented_certificate(wafers=1)
    with pytest.raises(BadInput) as caught:
        dataclasses.replace(good, customer=" ", wafers=good.wafers * 2, gauges=good.gauges[:1])
    assert len(caught.value.faults) == 3


def test_another_rule_than_the_stated_one_is_refused():
    """The rule on the page is the one by which every limit was judged."""
    with pytest.raises(BadInput, match="another rule"):
        dataclasses.replace(invented_certificate(wafers=1), rule=DecisionRule(kind="simple"))


def test_unknown_language_is_refused():
    """The sentence names the languages there are."""
    with pytest.raises(BadInput, match="'en' or 'de'"):
        certificate_html(invented_certificate(wafers=1), "fr")


def test_values_that_cannot_be_are_refused():
    """A negative uncertainty, no repeat, a time without a zone."""
    taken = invented_certificate(wafers=1).wafers[0].after
    with pytest.raises(OutOfValidRange):
        Measured(value=1.0, expanded_uncertainty=-0.1)
    with pytest.raises(OutOfValidRange):
        dataclasses.replace(taken, repeats=0)
    with pytest.raises(BadInput, match="time zone"):
        dataclasses.replace(taken, taken=datetime(2026, 3, 15, 9, 41, tzinfo=UTC).replace(tzinfo=None))


def test_a_wafer_without_sets_or_limits_still_has_its_sheet():
    """Nothing measured: the wafer is named and cannot be decided."""
    data = invented_certificate(wafers=1)
    bare = dataclasses.replace(data.wafers[0], limits=(), before=None, after=None, bond=None)
    data = dataclasses.replace(data, wafers=(bare,))
    assert "cannot be decided" in certificate_html(data)
    assert certificate_pdf(data).startswith(b"%PDF")


def test_a_set_with_no_measured_site_has_a_map_without_scale():
    """An empty map is drawn with open rings and no colours."""
    data = invented_certificate(wafers=1)
    taken = data.wafers[0].after
    empty = ThicknessMap(x=taken.map.x.copy(), y=taken.map.y.copy(), thickness=np.full(len(taken.map.x), np.nan))
    assert isinstance(taken, CertifiedSet)
    wafer = dataclasses.replace(data.wafers[0], before=None, after=dataclasses.replace(taken, map=empty))
    page = certificate_html(dataclasses.replace(data, wafers=(wafer,)))
    assert 'class="scale"' not in page
    assert page.count('class="not-measured"') == len(taken.map.x)


def test_the_uncertainty_of_the_finished_wafer_is_taken_apart():
    """0.144² : 0.073² : 0.04² µm² are 75.0, 19.3 and 5.8 % of their sum, in four forms and two languages."""
    data = invented_certificate(wafers=1)
    wafer = json.loads(certificate_json(data))["wafers"][0]
    lines = wafer["after"]["budgets"][0]["contributions"]
    assert [line["share_percent"] for line in lines] == [75.0, 19.3, 5.8]
    assert [line["adds_um"] for line in lines] == [0.144, 0.073, 0.04]
    assert wafer["before"]["budgets"] == []
    page = certificate_html(data)
    assert re.findall(r'class="bar" width="([\d.]+)"', page)[:3] == ["75.0", "19.3", "5.8"]
    assert "Fehlergrenze des Messgeräts" in page_text(data, "pdf", "de")
    assert "Korrekturkurve, Kalibrierschein K-7" in page_text(data, "html", "de")
    assert "after/budgets/mean/contributions/repeat scatter,share_percent,19.3" in certificate_csv(data)


def test_every_contribution_to_a_thickness_has_a_word():
    """What the metrology of thickness can name is in the table of words, so that no language shows English."""
    x, y = np.array([0.0, 0.01, 0.0, -0.01]), np.array([0.0, 0.0, 0.01, 0.0])
    taken = ThicknessSet(
        piece="w", labels=("a", "b", "c", "d"), x=x, y=y, site=np.tile(np.arange(4), 2),
        thickness=np.full(8, 5e-4), conditions=Conditions(zero_before=0.0, zero_after=2e-7),
    )  # fmt: skip
    gauge = Gauge(gauge_id="g", name="g", limit=1e-6, local=1e-7, resolution=1e-6)
    budget = thickness_statistics(taken, outline=Round(diameter=0.05), gauge=gauge).mean_budget
    named = {line.name for line in budget.contributions}
    assert len(named) == 5
    assert all(contribution_word(name, LANGUAGES["de"]) != name for name in named)
