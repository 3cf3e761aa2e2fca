"""Whatever bytes come in from outside, a parser reads them or refuses them with a sentence of ours.

Short runs here; `./dev fuzz` goes on for as long as it is left, guided by coverage, and what it found stands below.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.testing.fuzz_targets import targets

TARGETS = targets()
#: Inputs that once crashed a parser.
FOUND = [
    ("words", b"\xff" * 300),
]


@st.composite
def damaged(draw, samples):
    """A sample with pieces of it cut out, doubled, or put in another's place, and strange bytes between."""
    data = draw(st.sampled_from(samples))
    for _ in range(draw(st.integers(1, 4))):
        first = draw(st.integers(0, len(data)))
        beyond = draw(st.integers(first, min(len(data), first + 40)))
        pieces = (st.just(b""), st.binary(max_size=8), st.just(data[first:beyond] * 2), st.sampled_from(NASTY))
        data = data[:first] + draw(st.one_of(pieces)) + data[beyond:]
    return data


NASTY = (
    b"\0",
    b"nan",
    b"1e999",
    b"-",
    b"\xff\xfe",
    b'"',
    b"\r",
    b"9" * 40,
    b"{[",
    "１".encode(),
    b"\x1c",
    b"&a;",
    b"..",
)


@pytest.mark.parametrize("name", TARGETS)
def test_damaged_samples_are_read_or_refused(name):
    """Each sample is read as it is; damaged, nothing else than an error of ours leaves the parser."""
    target = TARGETS[name]

    @settings(max_examples=30)
    @given(data=damaged(target.samples))
    def holds(data):
        error = target.crash_of(data)
        if error is not None:
            raise error

    target.parse(target.samples[0])
    holds()


@pytest.mark.parametrize(("name", "data"), FOUND)
def test_inputs_that_once_crashed_are_read_or_refused(name, data):
    """Found by fuzzing, mended since."""
    assert TARGETS[name].crash_of(data) is None
