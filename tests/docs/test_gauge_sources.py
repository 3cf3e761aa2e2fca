"""Every kind of source and stop output, and each of its options, is on the page."""

import re
from pathlib import Path

import pytest

from lapwright.gauges.frames.options import FRAME_OPTIONS
from lapwright.gauges.registry import DRIVERS, STOP_KINDS, STREAM_OPTIONS

PAGE = (Path(__file__).parents[2] / "docs/reference/gauge-sources.md").read_text(encoding="utf-8")
SECTIONS = dict(re.findall(r"^##+ ([^\n]+)\n(.*?)(?=^##|\Z)", PAGE, re.DOTALL | re.MULTILINE))
SHARED = {option.name for option in FRAME_OPTIONS}


def row(option):
    """The row that an option must have."""
    default = "needed" if option.needed else f"`{option.default}`" if option.default else "–"
    return f"| `{option.name}` | {default} | {option.help} |"


@pytest.mark.parametrize("driver", DRIVERS, ids=lambda driver: driver.name)
def test_each_source_and_its_own_options_are_documented(driver):
    """Name, help, default and meaning as in the program."""
    section = SECTIONS[driver.name]
    assert driver.help in section
    assert [o.name for o in driver.options if o.name not in SHARED and row(o) not in section] == []


@pytest.mark.parametrize("kind", STOP_KINDS, ids=lambda kind: kind.name)
def test_each_stop_output_is_documented(kind):
    """Likewise."""
    section = SECTIONS[f"Stop output {kind.name}"]
    assert kind.help in section
    assert [option.name for option in kind.options if row(option) not in section] == []


@pytest.mark.parametrize("option", [*STREAM_OPTIONS, *FRAME_OPTIONS], ids=lambda option: option.name)
def test_each_shared_option_is_documented(option):
    """Once, for all sources."""
    assert row(option) in SECTIONS["Addresses"]


def test_the_page_says_that_it_is_no_safety_function():
    """On the reference and on the way to a gauge."""
    how_to = (Path(__file__).parents[2] / "docs/how-to/connect-a-gauge.md").read_text(encoding="utf-8")
    for page in (PAGE, how_to):
        assert "not a safety function" in page or "Nothing here is a safety function" in page
        assert "interlocks stay in charge" in page


def test_the_addresses_of_the_how_to_are_understood():
    """Every example opens."""
    from lapwright.gauges import open_source

    how_to = (Path(__file__).parents[2] / "docs/how-to/connect-a-gauge.md").read_text(encoding="utf-8")
    kinds = "|".join(driver.name for driver in DRIVERS)
    addresses = re.findall(rf"`((?:{kinds}):[^`]*)`", how_to)
    assert len(addresses) >= 9
    for address in addresses:
        assert open_source(address).status.state == "closed"
