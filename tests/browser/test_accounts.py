"""Accounts in a real browser, against a real server that demands them: log in, roles, signing with the password."""

import os
import re
import subprocess
import sys

import pytest
from playwright.sync_api import expect

from lapwright.testing.browsing import page_of
from lapwright.testing.served import served

PASSWORD = "mica-and-pitch-7"
_JUDGED = """
import sys
from datetime import UTC, datetime
from lapwright.app import accounts, verdicts, wiring
from lapwright.model.readings import Signature
from lapwright.model.request import FindingRequest
from lapwright.settings import read_settings
from lapwright.testing.lot import Lot, flat
wiring.start(read_settings({"data": sys.argv[1]}))
from lapwright.records import writer
lot = Lot(now=datetime(2026, 11, 25, 8, 0, tzinfo=UTC))
for name, full, role in (("mara", "Mara Lindqvist", "admin"), ("tom", "Tom Adebayo", "viewer")):
    accounts.open_account(name, full, role, **lot.why())
    accounts.set_password(name, sys.argv[2], **lot.why())
lot.furnish()
lot.receive()
lot.read("AP-1-01", "wafer", "incoming", flat(500e-6), repeats=1)
for state in ("debonded", "read_free"):
    writer.move_wafer("AP-1-01", state, Signature(**lot.why()))
lot.read("AP-1-01", "wafer", "final", flat(100e-6), repeats=1)
found = FindingRequest(wafer_id="AP-1-01", quantity="roughness_ra", text="0.6 nm", method="profiler, five lines",
                       expanded_uncertainty=0.2e-9)
verdicts.record_finding(found, **lot.why())
verdicts.judge_wafer("AP-1-01", **lot.why())
"""


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A server that demands accounts, over one judged wafer."""
    data = tmp_path_factory.mktemp("lab") / "data"
    subprocess.run([sys.executable, "-c", _JUDGED, str(data), PASSWORD], check=True, timeout=100)
    before = os.environ.get("LAPWRIGHT_ACCOUNTS")
    os.environ["LAPWRIGHT_ACCOUNTS"] = "always"
    try:
        with served(data) as address:
            yield address
    finally:
        del os.environ["LAPWRIGHT_ACCOUNTS"]
        if before is not None:
            os.environ["LAPWRIGHT_ACCOUNTS"] = before


@pytest.fixture
def page(browser):
    """A page on a bench screen."""
    with page_of(browser) as opened:
        yield opened


def log_in(page, name, password=PASSWORD):
    """By the keyboard, as the page invites to."""
    expect(page.locator("#name")).to_be_focused()
    page.locator("#name").fill(name)
    page.locator("#password").fill(password)
    page.locator("#password").press("Enter")


def test_who_logs_in_sees_what_was_wanted_and_what_they_may_do(shop, page):
    """A wrong password is refused in one sentence; a viewer sees the order and nothing to press but the log-out."""
    page.goto(f"{shop}/orders/AP-1")
    expect(page).to_have_url(re.compile("/login"))
    log_in(page, "tom", "not the password")
    expect(page.get_by_role("alert")).to_contain_text("do not fit")
    log_in(page, "tom")
    expect(page).to_have_url(f"{shop}/orders/AP-1")
    expect(page.locator("form[method=post]")).to_have_count(0)
    page.goto(f"{shop}/people")
    expect(page.locator("h1")).to_have_text("This was refused")
    page.goto(f"{shop}/account")
    page.get_by_role("button", name="Log out").click()
    expect(page).to_have_url(f"{shop}/login")


def test_signing_asks_for_the_password_again(shop, page):
    """A wrong one signs nothing; the right one issues; released by the same hand, both stand on the Traveller."""
    page.goto(f"{shop}/orders/AP-1")
    log_in(page, "mara")
    expect(page.locator("#issue-password")).to_be_visible()
    issue = page.get_by_role("button", name="Write the certificate of the judged wafers")
    page.locator("#issue-password").fill("not the password")
    issue.click()
    expect(page.locator("main .notice").first).to_contain_text("Nothing was signed")
    page.locator("#issue-password").fill(PASSWORD)
    issue.click()
    expect(page.locator(".signatures")).to_contain_text("AP-1-C1: issued, Mara Lindqvist")
    page.locator("#sign-meaning").select_option("released")
    page.locator("#sign-password").fill(PASSWORD)
    page.get_by_role("button", name="Sign", exact=True).click()
    expect(page.locator(".signatures")).to_contain_text("AP-1-C1: released, Mara Lindqvist")
    expect(page.locator(".signatures").get_by_text("with the password")).to_have_count(2)


def test_an_admin_opens_an_account_that_works_at_once(shop, browser, page):
    """With a role and a first password; the page fits a telephone, too."""
    page.goto(f"{shop}/people")
    log_in(page, "mara")
    form = page.locator("form.panel")
    form.locator("#name").fill("ida")
    form.locator("#full_name").fill("Ida Brandt")
    form.locator("#role").select_option("operator")
    form.locator("#password").fill(PASSWORD)
    form.get_by_role("button", name="Open the account").click()
    expect(page.get_by_role("row", name=re.compile("ida"))).to_contain_text("Ida Brandt")
    with page_of(browser, size=(390, 844)) as other:
        other.goto(f"{shop}/orders/AP-1")
        log_in(other, "ida")
        expect(other.get_by_role("button", name="Keep the note")).to_be_visible()
        expect(other.locator("#issue-password")).to_have_count(0)
