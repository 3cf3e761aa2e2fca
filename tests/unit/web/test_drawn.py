"""Parts of a page that are drawn once."""

from datetime import date

import pytest
from django.utils import translation

from lapwright.model.supply import SupplyLot
from lapwright.web.templatetags.drawn import drawn_once

LOT = SupplyLot(lot_id="A<1>", kind="abrasive", item="al2o3-9um", measure="mass", amount=2.5, received=date(2026, 5, 4))
pytestmark = pytest.mark.usefixtures("django")
STANDS = {"may": "yes", "left": 1.25, "is_overdrawn": False, "expires_soon": False, "stations": ("L1",)}


def row(**given):
    """The line of a lot on Shelf."""
    return drawn_once("lapwright/parts/shelf_lot.html", lot=LOT, **{**STANDS, **given})


def test_a_line_is_drawn_anew_where_what_it_tells_is_another():
    """Half is left, then a quarter; a name cannot become markup."""
    assert 'width="50.0"' in row()
    assert 'width="25.0"' in row(left=0.625)
    assert 'width="50.0"' in row()
    assert "A&lt;1&gt;" in row()


@pytest.mark.parametrize(("language", "said"), [("en", "Good until"), ("de", "Gut bis")])
def test_a_line_is_drawn_in_the_language_of_the_page(language, said):
    """Each language has its own."""
    with translation.override(language):
        assert said in row()
