"""A short seeded version of the campaign of rates: imagined labs whose laws are not the program's."""

import numpy as np
import pytest

from lapwright.library import load
from lapwright.testing.rate_campaign import Shop, imagined_labs


@pytest.fixture(scope="module")
def outcomes():
    """Six labs of four processes, twelve runs each."""
    return imagined_labs(load(), labs=6, shop=Shop(runs=12), seed=7)


def test_intervals_hold_about_nine_of_ten(outcomes):
    """From the third run on; 240 runs have a standard error of 2 %, the campaign has the sharper figure."""
    assert 0.84 <= outcomes.inside[outcomes.from_run(2)].mean() <= 0.97


def test_learned_rates_beat_both_habits(outcomes):
    """After five runs of a process: at most 0.8 of the error of the last run's rate and of the library's."""
    some = outcomes.from_run(5)
    learned = np.median(outcomes.learned[some])
    assert learned <= 0.8 * np.median(outcomes.last[some])
    assert learned <= 0.8 * np.median(outcomes.library[some])


def test_nobody_beats_the_all_knowing_by_much(outcomes):
    """The oracles are in their order, so that the comparison means something."""
    some = outcomes.from_run(5)
    medians = [np.median(column[some]) for column in (outcomes.all_knowing, outcomes.oracle)]
    assert medians[0] <= 1.05 * medians[1]
    assert np.median(outcomes.learned[some]) <= 1.5 * medians[1]
