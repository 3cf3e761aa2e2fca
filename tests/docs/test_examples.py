"""Examples in the documentation run, page by page, each page from its top."""

from doctest import ELLIPSIS, NORMALIZE_WHITESPACE
from pathlib import Path

import pytest
from sybil.document import Document
from sybil.parsers.myst import PythonCodeBlockParser

DOCS = Path(__file__).parents[2] / "docs"
PARSER = PythonCodeBlockParser(doctest_optionflags=ELLIPSIS | NORMALIZE_WHITESPACE)


def examples_of(page):
    """The examples of a page, in its order, sharing one namespace."""
    return list(Document.parse(str(page), PARSER).examples())


WITH_EXAMPLES = [page for page in sorted(DOCS.rglob("*.md")) if examples_of(page)]


def test_some_pages_hold_examples():
    """The search finds them."""
    assert len(WITH_EXAMPLES) >= 2


@pytest.mark.parametrize("page", WITH_EXAMPLES, ids=lambda page: page.stem)
def test_the_examples_of_a_page_run(page):
    """What the page prints is what comes out."""
    for example in examples_of(page):
        example.evaluate()
