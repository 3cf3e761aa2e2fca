"""Test set-up for the whole tree."""

import gc

import pytest

# Django models can only be imported after start-up; their modules hold no examples to run.
collect_ignore_glob = [
    "src/lapwright/records/*",
    "src/lapwright/web/*",
    "tests/benchmark/*",
]
#: What runs for long, by folder. A worker takes whole files in this order, and all end at about the same time.
_LONG_FIRST = ("tests/browser/", "tests/end_to_end/", "tests/contract/", "tests/docs/")


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The folders that run for long to the front; within them the order stays as it was drawn."""
    items.sort(key=lambda item: next((n for n, name in enumerate(_LONG_FIRST) if item.nodeid.startswith(name)), 9))


def pytest_collection_finish() -> None:
    """What was collected stays to the end: the collector of garbage need not walk it again and again."""
    gc.collect()
    gc.freeze()
