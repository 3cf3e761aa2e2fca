"""Values of the model as JSON and back."""

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.errors import RecordError
from lapwright.model.wafer import Polygon, SitePattern
from lapwright.records.coding import from_plain, to_plain
from lapwright.testing.lot import JIG, ORDER


def back(value):
    """The value after a way through JSON text."""
    return from_plain(json.loads(json.dumps(to_plain(value), allow_nan=False)))


@pytest.mark.parametrize("value", [ORDER, JIG, Polygon(corners=((0.0, 0.0), (1e-3, 0.0), (0.0, 1e-3)))])
def test_a_value_comes_back_equal(value):
    """Bit for bit, tuples as tuples."""
    assert back(value) == value


def test_an_array_comes_back_with_its_gaps():
    """NaN is null on the way and NaN again."""
    pattern = SitePattern(name="p", labels=("a", "b"), x=np.array([1e-3, np.nan]), y=np.array([0.1, 0.2]))
    found = back(pattern)
    assert np.array_equal(found.x, pattern.x, equal_nan=True)
    assert np.array_equal(found.y, pattern.y)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_float_comes_back_bit_for_bit(value):
    """The shortest text of a float names it alone."""
    assert json.loads(json.dumps(to_plain(value))) == value


def test_an_unknown_type_is_an_error_of_the_records():
    """A value of a later version is not guessed at."""
    with pytest.raises(RecordError, match="unknown type 'Later'"):
        from_plain({"$type": "Later", "x": 1})
