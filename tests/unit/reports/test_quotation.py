"""The quotation on paper, in both languages."""

from dataclasses import replace
from datetime import date

import pytest

from lapwright.library import load
from lapwright.model.order import Limit, Order
from lapwright.model.plan import Plan
from lapwright.model.prices import PriceList
from lapwright.model.quotation import Delivery, Quotation, QuotedLine, YieldTold
from lapwright.model.wafer import Round
from lapwright.process.workplaces import FURTHER_WORKPLACES, USUAL_WORKPLACES
from lapwright.reports.blocks import Table, Text
from lapwright.reports.quotation import QUOTATION_WORDS, quotation_paper, quotation_pdf

ORDER = Order(
    order_id="A-1", customer="Fennbach Filters (invented)", material="LiTaO3", outline=Round(diameter=0.0508), quantity=6,
    start_thickness=500e-6, target_thickness=100e-6, edge_exclusion=2e-3, hold="free",
    limits=(Limit(quantity="ttv", upper=2e-6),),
)  # fmt: skip
QUOTATION = Quotation(
    order_id="A-1", version=2, issued=date(2026, 5, 4), valid_until=date(2026, 6, 3), quantity=6, started=7,
    chance_of_enough=0.94, chance_with_fewer=0.71, told=YieldTold(chance=0.95, good=20, lost=1, expected=0.95),
    lines=(
        QuotedLine(name="Polish", cost=900.0, low=700.0, high=1200.0, person=3600.0, machine=7200.0),
        QuotedLine(name="Coarse lap", cost=1500.0, low=1400.0, high=1700.0),
    ),
    expected=2400.0, even=2350.0, sure=2700.0, low=2100.0, high=2900.0, time=10800.0, time_even=10000.0,
    time_sure=12000.0, delivery=Delivery(even=date(2026, 5, 14), sure=date(2026, 5, 19), basis="hours"),
    plan=Plan(name="lap and polish", stages=(), start_thickness=500e-6, target_thickness=100e-6, total_time=1.0,
              chance_in_tolerance=0.95, damage_left=0.0),
    prices=PriceList(currency="EUR", labour=60.0, station_hour=20.0, pad=60.0, pad_life=144e3, measuring_time=600.0,
                     cleaning_time=600.0),
    price_version=3, wafer_price=640.0,
)  # fmt: skip


def _paper(language):
    return quotation_paper(
        QUOTATION, ORDER, laboratory="Auwald Photonics (invented)", simulated=True, language=language
    )


def test_the_paper_names_prices_wafers_and_the_dearest_stage_first():
    """Price of a piece by hand: 2700 / 6 = 450; lines and sum; what the price holds on top, 300."""
    prices, stages = (block for block in _paper("en").blocks if isinstance(block, Table))
    assert prices.rows[1] == ("90\u00a0%", "450.00\u00a0EUR", "2700.00\u00a0EUR", "2026-05-19")
    assert [row[0] for row in stages.rows] == ["Coarse lap", "Polish", "Expected cost of the order"]
    assert stages.rows[-1][1] == "2400.00\u00a0EUR"
    assert stages.bars == pytest.approx((1.0, 0.6, 0.0))
    told = " ".join(block.text for block in _paper("en").blocks if isinstance(block, Text))
    assert "Start 7 to deliver 6: they suffice with 94 %; with 6 only 71 %." in told
    assert "\u221250.00\u00a0EUR at even odds, 300.00\u00a0EUR at nine in ten" in told


def test_german_has_every_word_and_its_own_decimal_sign():
    """The same keys, and a comma."""
    assert set(QUOTATION_WORDS["de"]) == set(QUOTATION_WORDS["en"])
    prices = next(block for block in _paper("de").blocks if isinstance(block, Table))
    assert prices.rows[1][1] == "450,00\u00a0EUR"


def test_a_route_is_told_in_german_for_every_tool_of_the_library():
    """No English word of an abrasive or of a usual place is left in the line."""
    places = (*USUAL_WORKPLACES, *FURTHER_WORKPLACES)
    tools = [f"{one.name} on {place.name} at 15 kPa" for one in load().abrasives for place in places]
    quotation = replace(QUOTATION, plan=replace(QUOTATION.plan, name=", then ".join(tools)))
    paper = quotation_paper(quotation, ORDER, laboratory="A (invented)", simulated=True, language="de")
    told = next(block.text for block in paper.blocks if isinstance(block, Text) and block.text.startswith("Ablauf: "))
    english = "on at then about plate pad soft tin iron glass alumina silicon boron diamond"
    assert not set(english.split()) & set(told.replace(",", " ").split())
    assert "Aluminiumoxid 9 µm auf Eisenscheibe bei 15 kPa, dann " in told


def test_the_same_quotation_gives_the_same_pdf():
    """A PDF, byte by byte."""
    first, second = (
        quotation_pdf(QUOTATION, ORDER, laboratory="Auwald Photonics (invented)", language="de") for _ in range(2)
    )
    assert first.startswith(b"%PDF")
    assert first == second
