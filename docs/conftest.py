"""Examples in the documentation run as tests."""

from doctest import ELLIPSIS, NORMALIZE_WHITESPACE

from sybil import Sybil
from sybil.parsers.myst import PythonCodeBlockParser

pytest_collect_file = Sybil(
    parsers=[PythonCodeBlockParser(doctest_optionflags=ELLIPSIS | NORMALIZE_WHITESPACE)],
    patterns=["*.md"],
).pytest()
