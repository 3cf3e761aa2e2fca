"""A form sent twice is done once; the same words written anew are two deeds."""

import re

import pytest

from lapwright.app import orders

NOTE, PAGE = "/orders/AP-1/note", "/orders/AP-1"


@pytest.fixture
def browser(lot):  # noqa: ARG001  the shop
    """A client that has to show the token of the page, as a browser does."""
    from django.test import Client

    return Client(enforce_csrf_checks=True, HTTP_HOST="localhost")


def token_of(page):
    """What the forms of a page carry."""
    return re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page.content.decode())[1]


def test_a_note_sent_twice_is_kept_once_and_written_twice_is_two(browser):
    """The second sending is led to where the first led and says so; from the page made anew it is another note."""
    sent = {"text": "kept in box 3", "csrfmiddlewaretoken": token_of(browser.get(PAGE))}
    first, again = browser.post(NOTE, sent), browser.post(NOTE, sent)
    assert (first.status_code, again.status_code, again.headers["Location"]) == (302, 302, first.headers["Location"])
    page = browser.get(PAGE)
    assert "was sent before and is recorded once" in page.content.decode()
    assert len(orders.order_notes("AP-1")) == 1
    assert browser.post(NOTE, sent | {"csrfmiddlewaretoken": token_of(page)}).status_code == 302
    assert [one.text for one in orders.order_notes("AP-1")] == ["kept in box 3"] * 2


def test_what_was_refused_can_be_sent_again(browser):
    """Nothing was recorded, so the same form is taken up anew each time; mended, it is recorded."""
    sent = {"text": " ", "csrfmiddlewaretoken": token_of(browser.get(PAGE))}
    assert [browser.post(NOTE, sent).status_code for _ in range(2)] == [422, 422]
    assert browser.post(NOTE, sent | {"text": "box 3"}).status_code == 302


def test_sent_twice_in_the_same_moment(browser, monkeypatch):
    """Neither knows of the other when it begins: the transaction of the second finds the mark and undoes its deed."""
    from lapwright.app import sent_forms

    sent = {"text": "kept in box 3", "csrfmiddlewaretoken": token_of(browser.get(PAGE))}
    assert browser.post(NOTE, sent).status_code == 302
    known = sent_forms.place_of
    answers = iter([None])
    monkeypatch.setattr(sent_forms, "place_of", lambda mark: next(answers, known(mark)))
    again = browser.post(NOTE, sent)
    assert (again.status_code, again.headers["Location"]) == (302, PAGE)
    assert len(orders.order_notes("AP-1")) == 1
