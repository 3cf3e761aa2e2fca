"""Bond line, Tilt and Damage: what they say at each point of the job, and what they refuse.

Bringing a wafer so far takes seconds, so each test asks all its questions of one wafer.
"""

import re
from dataclasses import replace

import pytest

from lapwright.app import bench_advice, shelf
from lapwright.app.wafer_damage import damage_view
from lapwright.process.ledger import ClearTime
from lapwright.testing.live import ready_lot
from lapwright.testing.lot import ORDER, flat
from lapwright.web.templatetags.damage import polish_words

WAFER = f"{ORDER.order_id}-01"
AT = f"/orders/{ORDER.order_id}/wafers/{WAFER}"
ROWS = "\n".join(f"{10 * i},{115 if i > 20 else 21 + i},{130 if i > 20 else 21 + i}" for i in range(120))
TRACE = f"time_s,temperature_c,set_c\n{ROWS}\n".encode()
QUERIES = ("film=much", "film=-3", "film=5000 µm", "film=<b>", "rebond_cost=dear", "rebond_cost=-1")
NO_TRACES = (b"", b"\xff\xfe\x00", b"time_s,temperature_c\n0,x\n", b"%PDF-1.4 not a table")
NO_DIRECTIONS = ({}, {"clockwise": "left"}, {"clockwise": "near"}, {"clockwise": "near", "version": "99"})


def text_of(answer):
    """The page as one line of text without tags."""
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).replace("\u00a0", " ").split())


def send(client, content, folder):
    """Send a heating trace by the form."""
    file = folder / "heat.csv"
    file.write_bytes(content)
    with file.open("rb") as sent:
        return client.post(f"{AT}/bond", {"trace": sent})


def jig():
    """The jig as recorded."""
    return next(one for one in shelf.list_jigs() if one.jig.jig_id == "J1")


def turn(client, way):
    """Record what a test turn has shown; gives the ways and effects that the page then tells."""
    sent = {"jig": "J1", "clockwise": way, "version": str(jig().version)}
    assert client.post(f"{AT}/tilt", sent).status_code == 302
    return re.findall(r"(counter-clockwise|clockwise) wafer (nearer|away)", text_of(client.get(f"{AT}/tilt")))


def test_before_bonding_each_page_says_what_is_missing(lot, client):
    """No bond, no reading, no stages: sentences, no empty page; a wafer that is not there is told with those that are."""
    lot.why()
    assert "never bonded" in text_of(client.get(f"{AT}/bond"))
    assert client.get(f"{AT}/tilt").status_code == 200
    assert "Choose a route first" in text_of(client.get(f"{AT}/damage"))
    page = client.get(AT).content.decode()
    assert all(f'href="{AT}/{name}"' in page for name in ("bond", "tilt", "damage"))
    for name in ("bond", "tilt", "damage"):
        answer = client.get(f"/orders/{ORDER.order_id}/wafers/W9/{name}")
        assert (answer.status_code, WAFER in answer.content.decode()) == (404, True)


def test_a_wedge_is_told_with_both_prices_and_the_model(records, client, tmp_path):  # noqa: ARG001  the database
    """Bond again, weighed at break-even; a programme, a trace, cautions; what cannot be meant is refused, 422."""
    from lapwright.testing.lot import Lot

    lot = Lot()
    lot.furnish()
    lot.receive(replace(ORDER, value_per_wafer=640.0))
    lot.read("C1", "carrier", "carrier", flat(6000e-6))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.bond(WAFER, flat(500e-6), wedge=6e-6)
    said = text_of(client.get(f"{AT}/bond"))
    for word in (
        "bond again",
        "Going on",
        "Bonding again",
        "A programme for 5.0",
        "Hot wax",
        "Order of magnitude only",
    ):
        assert word in said
    order, story = bench_advice.wafer_story(ORDER.order_id, WAFER)
    outlook = bench_advice.bond_outlook(story, order)
    loss = outlook.expected_loss
    assert loss == pytest.approx(640.0 * outlook.chance_of_scrap)
    assert bench_advice.priced(outlook, 0.99 * loss).advice == "rebond"
    assert bench_advice.priced(outlook, 1.01 * loss).advice == "keep"
    assert "A programme for 3.0" in text_of(client.get(f"{AT}/bond", {"film": "3,0"}))
    judged = send(client, TRACE, tmp_path)
    assert judged.status_code == 200
    assert "15.0 K colder" in text_of(judged)
    refused = [client.get(f"{AT}/bond?{query}") for query in QUERIES]
    refused += [send(client, content, tmp_path) for content in NO_TRACES] + [client.post(f"{AT}/bond")]
    for answer in refused:
        assert (answer.status_code, "Not taken" in text_of(answer)) == (422, True)
        assert "<b>" not in answer.content.decode().partition("<main")[2].partition("</ul>")[0]
        assert "Traceback" not in answer.content.decode()


def test_a_test_turn_gives_the_screws_their_way(lot, client):
    """Until then there is no way and no arrow; afterwards each screw has one. Zeros stay; a stale word changes nothing."""
    lot.read("C1", "carrier", "carrier", flat(6000e-6))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.route()
    lot.bond(WAFER, flat(500e-6), wedge=0.62e-6)
    assert "which way: not known" in text_of(client.get(f"{AT}/tilt"))
    for sent in NO_DIRECTIONS:
        assert client.post(f"{AT}/tilt", {"jig": "J1", **sent}).status_code == 302
        assert jig().jig.clockwise_brings_near is None
    near = turn(client, "near")
    assert near
    assert all((way == "clockwise") == (effect == "nearer") for way, effect in near)
    away = turn(client, "away")
    assert [effect for _, effect in away] == [effect for _, effect in near]
    assert all((way == "clockwise") == (effect == "away") for way, effect in away)


def test_damage_shrinks_and_the_minutes_have_their_interval(records, client):
    """Planned stages in outline; a finished polish is held against what it needed; zeros survive a test turn."""
    from lapwright.records import queries

    lot = ready_lot(records)
    zeros = len(queries.holding_zeros(jig_id="J1"))
    turn(client, "near")
    assert len(queries.holding_zeros(jig_id="J1")) == zeros > 0
    planned = text_of(client.get(f"{AT}/damage"))
    assert "(to come)" in planned
    assert "of polishing (90 %)" in planned
    lot.work(WAFER)
    done = text_of(client.get(f"{AT}/damage"))
    assert "(to come)" not in done
    view = damage_view(bench_advice.wafer_story(ORDER.order_id, WAFER)[1])
    assert view.is_over
    assert view.shortfall == pytest.approx(max(0.0, view.clear.time - view.ran))
    assert view.steps[-1].line.median < view.steps[0].line.median
    by_stage, answer = text_of(client.get(AT)), client.get(f"/api{AT}/damage").json()["result"]
    sentence = {"too_short": "early: it ran", "long_enough": "Nothing more needed: it ran"}[view.polished]
    for told in (done, by_stage):
        assert told.count(sentence) == 1
        assert "of polishing (90 %). Chance that damage remains now:" in told
    assert (answer["polished"], answer["rate_by"]) == (view.polished, "runs")
    assert answer["chance_left"] == pytest.approx(view.chance_left, rel=1e-5)
    early = ClearTime(time=108 * 60.0, low=90 * 60.0, high=100 * 60.0, chance=0.01)
    view = replace(view, clear=early, ran=96 * 60.0, shortfall=12 * 60.0, chance_left=0.12)
    band = "The last damage goes between 1 h 30 min and 1 h 40 min of polishing (90 %)."
    for changed, begins, chance in (
        (view, "Stopped 12 min early: it ran 1 h 36 min of 1 h 48 min.", "12 %"),
        (replace(view, shortfall=4.0), "Stopped less than 1 min early: it ran 1 h 36 min of 1 h 48 min.", "12 %"),
        (
            replace(view, ran=109 * 60.0, shortfall=0.0, chance_left=0.009),
            "Nothing more needed: it ran 1 h 49 min, 1 h 48 min were needed.",
            "< 1 %",
        ),
        (replace(view, is_over=False), "", ""),
    ):
        words = f"{begins} {band} Chance that damage remains now: {chance}." if begins else ""
        assert polish_words(changed).replace("\u00a0", " ") == words


def test_what_was_turned_is_recorded_on_tilt(lot, client):
    """As shown, by one press; then nothing is asked for again; a page made before it records nothing; taken back it is."""
    from lapwright.app import jig_moves

    lot.read("C1", "carrier", "carrier", flat(6000e-6))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.route()
    lot.bond(WAFER, flat(500e-6), wedge=0.62e-6)
    shown = dict(re.findall(r'name="(far_\d)" value="([^"]*)"', client.get(f"{AT}/tilt").content.decode()))
    ways = re.findall(r'<option value="(near|away)" selected>', client.get(f"{AT}/tilt").content.decode())
    assert len(ways) == sum(bool(far) for far in shown.values()) >= 2
    effects = iter(ways)
    sent = {"deed": "turned", "jig": "J1", "last": "0", **shown}
    sent |= {f"effect_{n}": next(effects) if shown[f"far_{n}"] else "" for n in (1, 2, 3)}
    for wrong in ({"far_1": "-2"}, {"far_1": "x"}, {"far_1": "3", "effect_1": ""}, {"last": "7"}, {"last": ""}):
        answer = client.post(f"{AT}/tilt", sent | wrong)
        assert (answer.status_code, "Nothing was recorded" in answer.content.decode()) == (422, True)
    assert jig_moves.list_moves("J1") == ()
    assert client.post(f"{AT}/tilt", sent).status_code == 302
    (move,) = jig_moves.list_moves("J1")
    assert (move.signature.by, move.move.wafer_id) == ("local", WAFER)
    page = text_of(client.get(f"{AT}/tilt"))
    assert "Turned. Do not turn again before it was cut and read." in page
    assert "teaches nothing yet" in page
    assert client.get(f"/api{AT}/tilt").json()["result"]["turned_since"][0]["move"] == move.move_id
    assert client.post(f"{AT}/tilt", {"deed": "take", "jig": "J1", "version": "1"}).status_code == 422
    taken_back = {"deed": "correct", "jig": "J1", "move": str(move.move_id)}
    assert client.post(f"{AT}/tilt", taken_back).status_code == 302
    assert client.post(f"{AT}/tilt", taken_back).status_code == 422
    assert "Turned. Do not turn again" not in text_of(client.get(f"{AT}/tilt"))
