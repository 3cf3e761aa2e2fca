"""Readings as blocks: back bit by bit, small, and never believed when damaged."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.errors import RecordError
from lapwright.records.stream_blocks import packed, unpacked

micros = st.integers(0, 2_000_000_000)


@given(st.lists(st.tuples(micros, st.floats(allow_nan=False, allow_infinity=False)), max_size=50))
def test_any_readings_come_back_bit_by_bit(rows):
    """Times in whole microseconds, lengths of any size."""
    times = np.array([time / 1e6 for time, _ in rows])
    lengths = np.array([length for _, length in rows])
    back_times, back_lengths = unpacked(packed(times, lengths))
    assert times.tolist() == back_times.tolist()
    assert lengths.tobytes() == back_lengths.tobytes() or lengths.tolist() == back_lengths.tolist()


@given(st.lists(st.integers(-(10**6), 10**6), min_size=1, max_size=200), st.sampled_from([1e6, 1e7, 1e9]))
def test_counts_of_a_decimal_step_come_back_bit_by_bit(counts, per_metre):
    """What a gauge shows in micrometres, tenths, nanometres."""
    lengths = np.array(counts) / per_metre
    times = np.arange(len(counts)) / 100.0
    assert lengths.tolist() == unpacked(packed(np.round(times, 6), lengths))[1].tolist()


def test_a_block_of_a_working_gauge_is_small():
    """200 readings at 100 a second in tenths of a micrometre: under 800 bytes, a quarter of two floats each."""
    rng = np.random.default_rng(1)
    times = np.round(np.arange(200) / 100.0 + 0.001 * rng.uniform(-1, 1, 200), 6)
    lengths = np.round(200.0 + rng.normal(0, 5, 200)) / 1e7
    assert len(packed(times, lengths)) < 800


def test_a_damaged_block_is_refused():
    """One bit anywhere."""
    block = bytearray(packed(np.array([0.0, 0.2]), np.array([1e-6, 2e-6])))
    for place in range(len(block)):
        block[place] ^= 1
        with pytest.raises(RecordError, match="damaged"):
            unpacked(bytes(block))
        block[place] ^= 1


def test_times_finer_than_a_microsecond_are_refused():
    """They would not come back."""
    with pytest.raises(RecordError, match="finer than 1 µs"):
        packed(np.array([0.1234567]), np.array([0.0]))


def test_a_stretch_longer_than_a_block_can_hold_is_refused():
    """An hour between two readings of one block."""
    with pytest.raises(RecordError, match="35 minutes"):
        packed(np.array([0.0, 3600.0]), np.array([0.0, 0.0]))
