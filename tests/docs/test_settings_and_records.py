"""Settings, tables and states are documented as they are."""

import re
from pathlib import Path

import pytest

from lapwright.app import steps
from lapwright.settings import describe_settings

DOCS = Path(__file__).parents[2] / "docs"


@pytest.mark.parametrize("setting", describe_settings(), ids=lambda one: one.name)
def test_each_setting_stands_on_the_page_as_the_program_describes_it(setting):
    """Name, variable, default, unit and help, word for word."""
    page = (DOCS / "reference" / "settings.md").read_text(encoding="utf-8")
    default = f" {setting.default}" if setting.default != "" else ""
    unit = f" {setting.unit}" if setting.unit else ""
    assert f"| `{setting.name}` | `{setting.variable}` |{default} |{unit} | {setting.help} |" in page


def test_each_table_stands_on_the_page(started_records):  # noqa: ARG001  the tables must be loaded
    """No table is forgotten, and none is told of that is not there."""
    from django.apps import apps

    page = (DOCS / "reference" / "records.md").read_text(encoding="utf-8")
    told = set(re.findall(r"`(records_\w+)`", page))
    tables = {model._meta.db_table for model in apps.get_app_config("records").get_models()}
    assert told == tables


def test_each_state_stands_on_the_page():
    """With what comes next."""
    page = (DOCS / "explanation" / "the-job.md").read_text(encoding="utf-8")
    assert re.findall(r"^\| `(\w+)` \|", page, flags=re.MULTILINE) == list(steps.STEPS)
