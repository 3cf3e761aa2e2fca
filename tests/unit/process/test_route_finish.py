"""What a route leaves: breakage in coming off its carrier."""

from dataclasses import replace

import pytest

from lapwright.library import load
from lapwright.process.planning import search_routes
from lapwright.process.route_finish import finish_risks
from lapwright.process.route_making import Question
from lapwright.process.strength_debond import debond_choices
from lapwright.sim import cast


@pytest.fixture(scope="module")
def chain():
    """The cuts of the demonstration order's best route."""
    import numpy as np

    found = search_routes(cast.ORDER, load(), Question(draws=200), generator=np.random.default_rng(1))
    return found.routes[0].candidate.chain


def test_coming_off_counts_by_the_way_that_breaks_fewest(chain):
    """The smallest chance of all ways that the adhesive allows; the way and the worse ones are named."""
    ways = debond_choices(
        load(), material="LiTaO3", finish="polished", thickness=100e-6, diameter=0.0508, adhesive="mounting-wax",
        bond=5e-6,
    )  # fmt: skip
    found = finish_risks(cast.ORDER, load(), adhesive="mounting-wax")(chain)

    assert found.breakage == pytest.approx(min(way.chance.expected for way in ways), rel=0.01)
    assert "slide off on a hot plate" in found.sentences[0]


def test_a_tape_comes_off_by_heat_alone(chain):
    """Another adhesive, another way."""
    found = finish_risks(cast.ORDER, load(), adhesive="release-tape")(chain)

    assert "release temperature" in found.sentences[0]


def test_a_thinner_piece_breaks_more_often(chain):
    """Fact of the trade (common practice, no source)."""
    thin = finish_risks(replace(cast.ORDER, target_thickness=60e-6), load())(chain)
    thick = finish_risks(replace(cast.ORDER, target_thickness=300e-6), load())(chain)

    assert thick.breakage < thin.breakage
