"""Shelf: what is left of a lot follows from the runs on record, and the page says whether it may be used."""

import html
import re
from dataclasses import replace
from datetime import timedelta

import pytest
from django.utils import translation

from lapwright.app import runs, shelf, station_setup, supplies
from lapwright.errors import BadInput, UnitError
from lapwright.model.supply import SupplyLot
from lapwright.testing.lot import CARRIER_THICKNESS, flat
from lapwright.web.supply_forms import amount_of, amount_text

WAFER = "AP-1-01"
FEED = 2e-6 / 60.0  # 2 ml/min


def text_of(answer):
    """A page as text."""
    return html.unescape(re.sub(r"\s+", " ", answer.content.decode()))


@pytest.fixture
def used(lot):
    """A wafer lapped once with slurry of a recorded lot; the lot, its name, and the minutes that the run cut."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6), repeats=1)
    lot.route()
    lot.bond(WAFER, flat(500e-6))
    planned = runs.next_stage(WAFER, jig_id="J1").planned
    station = next(one.station for one in shelf.list_stations() if one.station.plate == planned.plate)
    ready = replace(station, abrasive=planned.abrasive, abrasive_lot="S-1")
    shelf.set_up_station(ready, **lot.why())
    supply = SupplyLot(
        lot_id="S-1", kind="slurry", item=planned.abrasive, measure="volume", amount=1e-3, feed=FEED,
        received=lot.now.date() - timedelta(days=20), lead_time=14 * 86_400.0,
    )  # fmt: skip
    supplies.record_lot(supply, **lot.why())
    lot.run(WAFER, station.station_id, planned.removal)
    return lot


def test_a_run_takes_its_feed_times_its_time(used):
    """2 ml/min over the minutes between start and end, and the wafer stands on the lot."""
    card = supplies.lot_card("S-1", on=used.now.date())
    (run,) = card.runs
    from lapwright.records import supply_queries

    (facts,) = supply_queries.runs_of_lot("S-1")
    assert run.amount == pytest.approx(FEED * facts.cut_time)
    assert card.left == pytest.approx(1e-3 - run.amount)
    assert card.wafers == (("AP-1", WAFER),)
    assert len(card.stations) == 1
    (stock,) = supplies.item_stocks([card], on=used.now.date())
    assert stock.outlook.use == pytest.approx(run.amount / 20)
    assert stock.order_by is not None


def test_a_count_replaces_what_was_reckoned(used):
    """Counted 300 ml, then 100 thrown away."""
    supplies.take_of_lot("S-1", "counted", 3e-4, **used.why("looked"))
    card = supplies.lot_card("S-1", on=used.now.date())
    assert card.left == pytest.approx(3e-4)
    supplies.take_of_lot("S-1", "discarded", 1e-4, **used.why("dried out"))
    supplies.take_of_lot("S-1", "used", 3e-4, **used.why("second drip"))
    card = supplies.lot_card("S-1", on=used.now.date())
    assert (card.left, card.is_overdrawn, card.may) == (0.0, True, "empty")
    with pytest.raises(BadInput, match="more than nothing"):
        supplies.take_of_lot("S-1", "used", 0.0, **used.why())


def test_past_its_date_or_held_it_may_not_be_used(used):
    """On the day after its date; the day itself still counts. Held wins."""
    lot = supplies.lot_card("S-1", on=used.now.date()).recorded.lot
    today = used.now.date()
    supplies.record_lot(replace(lot, expires=today), **used.why())
    assert supplies.lot_card("S-1", on=today).may == "yes"
    assert supplies.lot_card("S-1", on=today + timedelta(days=1)).may == "expired"
    supplies.record_lot(replace(lot, held="clumped"), **used.why())
    assert supplies.lot_card("S-1", on=today).may == "held"


def test_the_station_says_when_its_lot_may_not_be_used(client, used):
    """Offered while it is good; named as held once it is."""
    station_id = supplies.lot_card("S-1", on=used.now.date()).stations[0]
    page = client.get(f"/stations/{station_id}").content.decode()
    assert 'name="lot_choice" value="S-1" checked' in page
    lot = supplies.lot_card("S-1", on=used.now.date()).recorded.lot
    supplies.record_lot(replace(lot, held="clumped"), **used.why())
    page = text_of(client.get(f"/stations/{station_id}"))
    assert "Lot S-1 is held: it may not be used." in page
    station_setup.note_setup(station_id, station_setup.SetupNote(abrasive_lot="from the cupboard"), **used.why())
    page = text_of(client.get(f"/stations/{station_id}"))
    assert "lot from the cupboard" in page
    assert "on it now, not on the shelf" in page


def test_the_pages_record_lots_and_uses_and_refuse_in_sentences(client, used):
    """A lot that came, one of the same name, nonsense; a use in another measure; a stale change."""
    good = {"lot_id": "W-7", "kind": "adhesive", "item": "mounting-wax", "amount": "500 g", "received": "2026-11-01"}
    own = client.post("/shelf", {**good, "lot_id": "W-OWN", "item": "our <own> mix"}, follow=True).content.decode()
    assert "“our &lt;own&gt; mix” is kept as a name of your own" in own
    assert '<option value="al2o3-15">alumina 15 µm</option>' in own
    assert client.post("/shelf", good).status_code == 302
    assert client.post("/shelf", good).status_code == 422
    bad = client.post(
        "/shelf", {**good, "lot_id": "W-8", "amount": "much", "feed": "2 ml/min", "expires": "2020-01-01"}
    )
    assert bad.status_code == 422
    assert "'much' is no amount" in text_of(bad)
    early = client.post("/shelf", {**good, "lot_id": "W-8", "expires": "2020-01-01"})
    assert "before it came" in text_of(early)
    page = text_of(client.get("/shelf"))
    assert "500 g" in page
    assert f'href="/orders/AP-1/wafers/{WAFER}"' in client.get("/shelf/S-1").content.decode()
    assert client.post("/shelf/W-7/take", {"kind": "used", "amount": "5 ml"}).status_code == 422
    assert (
        client.post("/shelf/W-7/take", {"kind": "used", "amount": "50 g", "reason": "<i>spilt</i>"}).status_code == 302
    )
    assert "&lt;i&gt;spilt" in client.get("/shelf/W-7").content.decode()
    assert client.post("/shelf/W-7", {**good, "version": "1", "held": "smells"}).status_code == 302
    stale = client.post("/shelf/W-7", {**good, "version": "1", "held": "no more"})
    assert stale.status_code == 409
    assert client.post("/shelf/S-1/name", {"name": "W-7"}).status_code == 409
    assert client.post("/shelf/S-1/name", {"name": "S/1"}).status_code == 422
    assert client.post("/shelf/S-1/name", {"name": "S-1A"})["Location"] == "/shelf/S-1A"
    assert "It was called S-1 before." in client.get("/shelf/S-1").content.decode()
    assert '<a href="/shelf/S-1A">S-1A</a>' in client.get(f"/orders/AP-1/wafers/{WAFER}").content.decode()
    assert client.get("/shelf/nothing").status_code == 404
    del used


@pytest.mark.parametrize(
    ("text", "amount", "measure"),
    [("5 l", 5e-3, "volume"), ("800 g", 0.8, "mass"), ("12 pieces", 12.0, "count"), ("0,5 l", 5e-4, "volume")],
)
@pytest.mark.parametrize("language", ["en", "de"])
def test_amounts_are_read_with_their_unit(text, amount, measure, language, django):  # noqa: ARG001  texts need settings
    """And written so that they can be read again, with the word that the language of the page has for pieces."""
    with translation.override(language):
        found, kind = amount_of(text)
        assert (found, kind) == (pytest.approx(amount), measure)
        assert amount_of(amount_text(found, kind).replace("\u00a0", " ")) == (pytest.approx(amount), measure)


def test_a_large_amount_is_written_without_powers_of_ten(django):  # noqa: ARG001  texts need settings
    """With three digits that count, as anybody would write it."""
    told = {amount_text(23.3, "volume"), amount_text(1234.5, "mass"), amount_text(1234567.0, "count")}
    assert told == {"23300\u00a0l", "1230\u00a0kg", "1234567\u00a0pieces"}


def test_a_bare_number_is_no_amount(django):  # noqa: ARG001  texts need settings
    """Nobody knows of what."""
    with pytest.raises(UnitError, match="no amount"):
        amount_of("5")
