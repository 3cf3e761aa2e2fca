"""The campaign of quotations: a shop is quoted and worked, the same seed gives the same jobs."""

import numpy as np
import pytest

from lapwright.library import load
from lapwright.sim.route_trials import orders
from lapwright.testing.year_campaign import PIECES, quoted_shop


@pytest.fixture(scope="module")
def found():
    """The shop of silicon twice."""
    return [quoted_shop(orders()[1], load(), jobs=4, rng=np.random.default_rng(3)) for _ in range(2)]


def test_the_same_seed_gives_the_same_jobs(found):
    """No luck but that of the generator."""
    first, second = found
    assert (first.costs, first.times, first.delivered) == (second.costs, second.times, second.delivered)


def test_jobs_come_to_what_a_wafer_at_least_costs(found):
    """Bench and rinse of every wafer begun at 60 an hour, from below; ten times the quoted expectation from above."""
    one = found[0]
    assert one.started >= PIECES
    assert all(one.started * 4500.0 / 60.0 * 0.4 < cost < 10.0 * one.quoted.expected for cost in one.costs)
