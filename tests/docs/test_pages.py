"""Every page and every question of the API is documented."""

import re
from pathlib import Path

DOCS = Path(__file__).parents[2] / "docs"


def documented(name):
    """A page of the reference."""
    return (DOCS / "reference" / name).read_text(encoding="utf-8")


def addresses():
    """The addresses of all pages, as the reference writes them: {order_id} for a name."""
    from lapwright.web.urls import urlpatterns

    return ["/" + re.sub(r"<\w+:(\w+)>", r"{\1}", str(one.pattern)) for one in urlpatterns]


def test_every_page_has_a_heading_with_its_address(started_records):  # noqa: ARG001  Django must be set up
    """docs/reference/pages.md has a heading for each page, and below it the page's address."""
    headed = re.findall(r"^##+ .+\n\n`(/[^`]*)`$", documented("pages.md"), flags=re.MULTILINE)
    assert sorted(addresses()) == sorted(headed)


def test_every_deed_is_in_the_table(started_records):  # noqa: ARG001  Django must be set up
    """What can be done to a wafer stands in the table of pages.md."""
    from lapwright.web.deeds import DEEDS

    page = documented("pages.md")
    assert [name for name in DEEDS if f"`{name}`" not in page] == []


def test_every_question_of_the_api_has_a_heading(started_records):  # noqa: ARG001  Django must be set up
    """docs/reference/api.md has a heading for each method and address."""
    from lapwright.web.api import api

    described = api.get_openapi_schema(path_prefix="/api/")
    asked = {f"{method.upper()} {path}" for path, methods in described["paths"].items() for method in methods}
    assert asked == set(re.findall(r"^## ((?:GET|POST) /api/\S+)$", documented("api.md"), flags=re.MULTILINE))


def test_every_field_of_a_question_is_named(started_records):  # noqa: ARG001  Django must be set up
    """Each field of each question stands in api.md."""
    from lapwright.web import questions

    fields = {
        name
        for question in (
            questions.ThicknessQuestion, questions.BondQuestion, questions.JigQuestion, questions.RouteQuestion
        )
        for name in question.model_fields
    }  # fmt: skip
    page = documented("api.md")
    assert [name for name in sorted(fields) if f"`{name}`" not in page] == []


def test_every_page_of_the_navigation_has_its_reasons(started_records):  # noqa: ARG001  Django must be set up
    """docs/explanation/pages.md says why each page looks as it does."""
    reasons = (DOCS / "explanation" / "pages.md").read_text(encoding="utf-8")
    headings = set(re.findall(r"^## (.+)$", reasons, flags=re.MULTILINE))
    assert {"Hands", "Orders", "New order", "Traveller", "Wafer", "Readings", "Route", "Fringes", "Finish",
            "Gauges", "Drift"} <= headings  # fmt: skip
