"""Days and times in the sentences of the layers below, as the pages show them."""

from datetime import UTC, datetime

import pytest
from django.utils import timezone, translation

pytestmark = pytest.mark.usefixtures("django")

BERLIN = "Europe/Berlin"


def moments_said(text):
    """The function, once Django is set up."""
    from lapwright.web import moments

    return moments.moments_said(text)


def when_said(at):
    """The function, once Django is set up."""
    from lapwright.web import moments

    return moments.when_said(at)


def test_universal_time_in_a_sentence_is_told_by_the_clock_of_the_laboratory():
    """07:10 of universal time is 08:10 in Berlin in November (common practice, no source)."""
    with timezone.override(BERLIN):
        told = moments_said("On 2026-11-09 07:10 UTC gauge G1 read right; due 2027-08-16.")
    assert told == "On 9 Nov 2026 08:10 gauge G1 read right; due 16 Aug 2027."


def test_a_moment_and_a_sentence_say_the_same():
    """The same moment is written alike wherever a page shows it."""
    at = datetime(2026, 11, 9, 23, 30, tzinfo=UTC)
    with timezone.override(BERLIN):
        assert when_said(at) == moments_said(f"{at:%Y-%m-%d %H:%M} UTC") == "10 Nov 2026 00:30"


def test_the_hour_that_comes_twice_in_autumn_is_told_twice():
    """Clocks go back in Berlin at 01:00 universal time of the last Sunday of October (EU directive 2000/84/EC)."""
    with timezone.override(BERLIN):
        told = [moments_said(f"2026-10-25 {hour}:30 UTC") for hour in ("00", "01", "02")]
    assert told == ["25 Oct 2026 02:30", "25 Oct 2026 02:30", "25 Oct 2026 03:30"]


def test_the_short_day_of_the_board_is_written_as_all_other_days():
    """In English the day comes before the name of its month; German keeps its points."""
    assert moments_said("no jig is free until Thu 26.11. 13:25.") == "no jig is free until Thu 26 Nov 13:25."
    with translation.override("de"):
        assert moments_said("bis Do 26.11. 13:25.") == "bis Do 26.11. 13:25."


@pytest.mark.parametrize(
    "text",
    ["Order AP-2026-11-09 is late.", "'2026-11-09' is no length.", "Set 2026-13-40 of 7.", "file 2026-11-09.csv", "12"],
)
def test_what_is_no_day_of_ours_stays(text):
    """Names, what somebody typed and what is no day of the calendar are left as they are."""
    assert moments_said(text) == text


def test_a_chance_in_a_sentence_is_never_nothing_or_certain():
    """Printed to one decimal 0.02 % would be 0.0%: it is less than 0.1 %; a space stands before the sign (SI brochure)."""
    from lapwright.web.templatetags.said import said

    told = said("The chance of being outside is 0.0%, at most the agreed 2.0%.").replace("\u00a0", " ")
    assert told == "The chance of being outside is < 0.1 %, at most the agreed 2.0 %."
    assert said("kept by 100.0% of imagined jobs").replace("\u00a0", " ") == "kept by > 99.9 % of imagined jobs"
    assert said("10.0% and 0.05%").replace("\u00a0", " ") == "10.0 % and 0.05 %"


@pytest.mark.parametrize(
    ("zone", "left_out", "twice"),
    [
        ("Europe/Berlin", "2026-03-29T02:30", "2026-10-25T02:30"),
        ("America/New_York", "2026-03-08T02:30", "2026-11-01T01:30"),
        ("Australia/Adelaide", "2026-10-04T02:30", "2026-04-05T02:30"),
        ("Australia/Lord_Howe", "2026-10-04T02:15", "2026-04-05T01:45"),
    ],
)
def test_an_hour_that_is_left_out_or_comes_twice_is_told_as_such(zone, left_out, twice):
    """Days of the change by the time zone database of IANA; the hour after is a time like any other."""
    from lapwright.web.board_forms import WhatIfForm

    def faults(start):
        sent = {"down": "L1", "down_from": start, "down_until": "2026-12-01T08:00"}
        return WhatIfForm(sent, places=["L1"], orders=[]).errors

    with timezone.override(zone):
        assert list(faults(left_out)) == ["down_from"]
        assert "does not exist, because the clocks go forward" in faults(left_out)["down_from"][0]
        assert "comes twice, because the clocks go back" in faults(twice)["down_from"][0]
        for day in (left_out[:10], twice[:10]):
            assert faults(f"{day}T04:00") == {}
