"""Whatever bytes come in from outside, a parser reads them or refuses them with a sentence of ours.

Short runs here; `./dev fuzz` goes on for as long as it is left, guided by coverage, and what it found stands below.
"""

import tracemalloc

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.testing.fuzz_targets import targets

TARGETS = targets()
#: Inputs that once crashed a parser, or held it up for seconds.
FOUND = [
    ("words", b"\xff" * 300),
    ("image", bytes.fromhex(
        "49492a0008000000090000010400010000000700000001010400010000000500000101000200030000000800000003010300"
        "010000000100000006010300010000000100000011010400010000007a000000160104000100000005000000170104000100"
        "0000230000001c01030001000000010000000000000000070e151c232a31383f464d545b626970777e858c939aa1a8afb6bd"
        "c4cbd2d9e0e7ee"
    )),
    ("evidence", bytes.fromhex(
        "504b0304140000000800000021287c14e860ae000000e50000000d0000006d616e69666573746e6a736f6e1d8c416ec3300c"
        "04ef7e85a073918a124551fd0d25916d8ac60e1ca32910e4efb573dcc1ec3c26e76d592fb2f90fe77fe47a5fcf9f5f9bd3df"
        "f3d0b9ab03ffb62b17197a08f3727fedabacdb6d078fc9392fa7edef7527689ab3b046a3860a25a6c46d0c03c641a3a9c6da"
        "2b734e1a242067edaac56269552c343cd2ceb7f77efabe2df3514484442629e796a8b00020c900b2a24c58b5a235b41ec1b4"
        "ec2841e8818211741133163fb9e7f4fc07504b03041400000008000000212845e598ad06000000040000000500003d612e74"
        "78744b4c4c4c0400504b03041400010000000000000043bfa6a3040000000200000008000000622f632e6a736f6eabae0500"
        "504b01021403140000000800000021287c14e860ae000000e50000000d00000000000000000000008001000000006d616e69"
        "666573742e6a736f6e504b010214ffffffffffffff0100212845e598ad0600000004000000053d0000000000000000000080"
        "01d9000000612e747874504b010214031400000008000000212843bfa6a30400000002000000080000000000000000000000"
        "800102010000622f632e6a736f6e504b05060000000003000300a40000002c0100000000"
    )),
]  # fmt: skip


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

    @settings(max_examples=30, deadline=None, derandomize=True)
    @given(data=damaged(target.samples))
    def holds(data):
        error = target.crash_of(data)
        if error is not None:
            raise error

    target.parse(target.samples[0])
    holds()


@pytest.mark.parametrize(("name", "data"), FOUND)
def test_inputs_that_once_crashed_are_read_or_refused(name, data):
    """Found by fuzzing, mended since; a picture that says more than it holds costs no memory either."""
    tracemalloc.start()
    try:
        assert TARGETS[name].crash_of(data) is None
        assert tracemalloc.get_traced_memory()[1] < 20e6
    finally:
        tracemalloc.stop()
