"""Health, metrics and the log: read by the parser of a general library, and by nobody who may not.

The text format is OpenMetrics 1.0; `prometheus_client` parses it strictly, as its specification asks.
"""

import io
import json
import logging

import pytest

from lapwright.app import accounts, orders
from lapwright.records.log_lines import JsonLines, Sentences, logging_of
from lapwright.testing.live import now_why
from lapwright.web.measures import Answers, exposition, gauge

parser = pytest.importorskip("prometheus_client.openmetrics.parser")


def families(text):
    """Name -> samples as (labels, value), by the strict parser."""
    found = parser.text_string_to_metric_families(text)
    return {one.name: [(sample.name, sample.labels, sample.value) for sample in one.samples] for one in found}


def test_the_metrics_are_openmetrics_and_count_what_there_is(client, lot, records):
    """Wafers, links and requests as they were made; nothing of an order, a wafer or a person is told."""
    from lapwright.app.verification import verify_records

    orders.add_note("AP-1", "on the phone", **lot.why())
    client.get("/orders/AP-1")
    answer = client.get("/metrics")
    assert answer["Content-Type"] == "application/openmetrics-text; version=1.0.0; charset=utf-8"
    found = families(answer.text)
    assert found["lapwright_wafers"] == [("lapwright_wafers", {"state": "received"}, 1.0)]
    assert found["lapwright_links"] == [("lapwright_links_total", {}, float(verify_records().links))]
    asked = {(labels["page"], labels["status"]): count for _, labels, count in found["lapwright_requests"]}
    assert asked["traveller", "200"] >= 1.0
    assert found["lapwright_build"][0][1]["schema"].startswith("00")
    assert found["lapwright_database_bytes"][0][2] == pytest.approx(_size(records), rel=0.5)
    assert not any(name in answer.text for name in ("AP-1", "Fennbach", "local", "phone"))


def _size(records):
    from django.db import connection

    if connection.vendor == "sqlite":
        return (records.data / "lapwright.sqlite3").stat().st_size
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_database_size(current_database())")
        return cursor.fetchone()[0]


def test_a_histogram_counts_each_request_once_and_adds_up():
    """Three answers of 5 ms, 150 ms and 7 s: buckets are cumulative, the last one holds all."""
    answers = Answers()
    for seconds in (0.005, 0.15, 7.0):
        answers.note("hands", "GET", 200, seconds)
    samples = families(exposition(answers.families()))["lapwright_request_seconds"]
    buckets = {labels["le"]: count for name, labels, count in samples if name.endswith("_bucket")}
    assert (buckets["0.01"], buckets["0.1"], buckets["0.2"], buckets["5.0"], buckets["+Inf"]) == (1, 1, 2, 2, 3)
    assert [value for name, _, value in samples if name.endswith(("_count", "_sum"))] == [3.0, pytest.approx(7.155)]


def test_words_with_marks_of_the_format_come_through():
    """A quotation mark, a backslash and a line break in a label; what is not known is left out."""
    word = 'say "no"\\\nthen'
    text = exposition([gauge("of_words", "Words.", ({"word": word}, 0.25), ({"word": "unknown"}, None))])
    assert families(text) == {"of_words": [("of_words", {"word": word}, 0.25)]}


def test_only_who_may_see_reads_the_metrics(lot, monkeypatch):
    """With accounts a token is asked for (RFC 9110, 401), and any that may read does; health is open to all."""
    from django.test import Client

    monkeypatch.setattr(accounts, "are_demanded", lambda _settings: True)
    accounts.open_account("watch", "", "viewer", **lot.why())
    token, _ = accounts.make_token("watch", "metrics", ("read",), days=1, **now_why())
    stranger = Client(HTTP_HOST="localhost", REMOTE_ADDR="192.0.2.7")  # TEST-NET-1, RFC 5737
    assert stranger.get("/metrics").status_code == 401
    assert stranger.get("/metrics", headers={"Authorization": "Bearer lw_wrong"}).status_code == 401
    assert stranger.get("/metrics", headers={"Authorization": f"Bearer {token}"}).status_code == 200
    assert stranger.get("/health").json()["ok"] is True


def logged(formatter, write):
    """What a log with a formatter holds after something was written to it."""
    text = io.StringIO()
    handler = logging.StreamHandler(text)
    handler.setFormatter(formatter)
    log = logging.Logger("lapwright.test")  # noqa: LOG001  the one of the tests stays as it is
    log.addHandler(handler)
    write(log)
    return text.getvalue()


def test_the_log_is_one_json_object_a_line_without_secrets():
    """A fault with its lines stays on one line; the password of an address is masked; unlooked-at fields are left out."""

    def write(log):
        log.info("answered", extra={"page": "hands", "status": 200, "took_ms": 1.5, "form": {"value": "499.8"}})
        try:
            {}["postgresql://lab:hunter2@db/lapwright"]
        except KeyError:
            log.exception("no way to %s for lw_hunter2-x", "postgresql://lab:hunter2@db/lapwright")

    told = [json.loads(line) for line in logged(JsonLines(), write).splitlines()]
    assert [(one["level"], one["message"]) for one in told] == [
        ("info", "answered"), ("error", "no way to postgresql://lab:***@db/lapwright for lw_***")
    ]  # fmt: skip
    assert (told[0]["page"], told[0]["status"], "form" in told[0]) == ("hands", 200, False)
    assert "lab:***@db" in told[1]["fault"]
    assert "hunter2" not in json.dumps(told)
    assert "hunter2" not in logged(Sentences("%(message)s"), write)


def test_a_request_is_logged_by_the_name_of_its_page(client, caplog):
    """Not by its address, which may hold a token, nor with what was asked."""
    with caplog.at_level("INFO", logger="lapwright.web.requests"):
        client.get("/answers/a-secret-token?value=499.8")
    (line,) = [one for one in caplog.records if one.name == "lapwright.web.requests"]
    told = json.loads(JsonLines().format(line))
    assert (told["page"], told["status"]) == ("answer_given", 404)
    assert "secret" not in json.dumps(told)
    assert "499.8" not in json.dumps(told)


def test_lines_are_logged_from_the_least_of_ours_on():
    """The setting `log`: sentences are warnings alone."""
    assert logging_of("lines")["loggers"]["lapwright"]["level"] == "INFO"
    assert logging_of("sentences")["loggers"]["lapwright"]["level"] == "WARNING"
