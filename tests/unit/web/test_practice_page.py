"""Practice in the pages: its frame on each of them, and nothing of it in the records."""

import html
import json
import re
import shutil

import pytest

from lapwright.app import orders, practice
from lapwright.sim.practice import practice_run

BAND = "nothing here is real and nothing is recorded"


def begun(client, view="countdown"):
    """The address of a new round."""
    answer = client.post("/practice", {"view": view})
    assert answer.status_code == 302
    return answer.headers["Location"]


def text(answer):
    """An answer as text."""
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode())))


@pytest.fixture
def at(monkeypatch, records):
    """The time as the pages see it, moved by hand; no round is kept yet."""
    from lapwright.web.pages import practice as page
    from lapwright.web.surroundings import now

    class Clock:
        began = now()
        passed = 0.0

        def __call__(self):
            from datetime import timedelta

            return self.began + timedelta(seconds=self.passed)

    shutil.rmtree(records.data / "practice", ignore_errors=True)
    clock = Clock()
    monkeypatch.setattr(page, "now", clock)
    return clock


def test_a_round_is_begun_watched_stopped_answered_and_scored(client, lot, at):  # noqa: ARG001
    """The whole round; each page wears the frame; the records are what they were."""
    from lapwright.records.models import ChainLink

    before = ChainLink.objects.count()
    address = begun(client)
    held = practice.rounds_of("local")[0]
    task, run = practice_run(held.seed, held.number)
    at.passed = 0.5 * task.target / task.rate / practice.SPEED
    fields = json.loads(client.get(f"{address}/live?since=5").content)
    told = fields["points"][0][0]
    assert told > 5.0
    assert json.loads(client.get(f"{address}/live?since={told}").content)["points"][0][0] > told
    assert fields["over"] is False
    assert fields["target_um"] == pytest.approx(task.target * 1e6, abs=0.01)
    watching = client.get(address)
    assert 'class="wet practice"' in watching.content.decode()
    assert text(watching).count(BAND) == 2
    assert "refresh" in watching.content.decode()
    assert client.post(f"{address}/stop").status_code == 302
    at.passed += 60.0
    assert client.post(f"{address}/stop").status_code == 302
    asking = text(client.get(address))
    assert "what was wrong?" in asking
    assert BAND in asking
    refused = client.post(f"{address}/answer", {"said": "<b>bored</b>"})
    assert refused.status_code == 422
    assert "<b>bored" not in refused.content.decode()
    assert client.post(f"{address}/answer", {"said": "none"}).status_code == 302
    scored = text(client.get(address))
    truth = (run.removal_at(practice.rounds_of("local")[0].stopped_after + 1.0) - task.target) * 1e6
    assert f"{abs(truth):.2f}" in scored
    assert "left on" in scored
    assert "nothing was planted; as you said" in scored
    assert "Round 1" in text(client.get("/practice"))
    assert ChainLink.objects.count() == before
    assert [one.order_id for one in orders.list_orders()] == ["AP-1"]


def test_a_round_that_nobody_stops_costs_the_wafer(client, lot, at):  # noqa: ARG001
    """Twice the expected time and a minute: over by far, one wafer lost."""
    address = begun(client)
    at.passed = 3600.0
    assert json.loads(client.get(f"{address}/live").content)["over"] is True
    assert "Nobody stopped it" in text(client.get(address))
    client.post(f"{address}/answer", {"said": "none"})
    said = text(client.get(address))
    assert "wafer lost" in said
    assert "cannot be put back" in said


def test_with_the_gauge_alone_no_estimate_is_shown(client, lot, at):  # noqa: ARG001
    """Neither on the page nor in what it is sent."""
    address = begun(client, "gauge")
    at.passed = 10.0
    fields = json.loads(client.get(f"{address}/live?since=nonsense").content)
    assert (fields["left_um"], fields["rate_um_per_min"], fields["fault"]) == (None, None, "")
    assert fields["unit"] == "µm on the gauge"
    assert "Left on for certainty" not in text(client.get(address))


def test_odd_questions_get_a_sentence(client, lot, at):  # noqa: ARG001
    """An unknown view, a round that is not there, an answer before the stop."""
    assert client.post("/practice", {"view": "radio"}).status_code == 422
    assert client.get("/practice/99").status_code == 404
    assert client.post("/practice/99/stop").status_code == 404
    assert client.post(f"{begun(client)}/answer", {"said": "none"}).status_code == 409
