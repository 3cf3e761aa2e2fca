"""Study sheets and repeats advice."""

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.metrology.study_plan import repeats_advice, study_sheet

PARTS, OPERATORS = tuple("abcde"), ("x", "y", "z")


def test_everyone_reads_every_part_as_often():
    """45 lines, each combination once a round, in rounds; numbered from 1."""
    sheet = study_sheet(PARTS, OPERATORS, repeats=3, generator=np.random.default_rng(2))
    assert list(range(1, 46)) == [line.order for line in sheet]
    assert len({(line.part, line.operator, line.repeat) for line in sheet}) == 45
    assert [line.repeat for line in sheet] == sorted(line.repeat for line in sheet)


def test_the_order_is_random_and_repeatable():
    """Another seed, another order; the same seed, the same."""
    one, same, other = (
        study_sheet(PARTS, OPERATORS, repeats=2, generator=np.random.default_rng(seed)) for seed in (1, 1, 2)
    )
    assert one == same
    assert one != other


@pytest.mark.parametrize("n_sites", [5, 9, 17])
@pytest.mark.parametrize("noise", [0.1e-6, 0.37e-6, 0.9e-6])
def test_noise_follows_the_law(n_sites, noise):
    """d2(n) s/√m by 20 000 draws, within 2 %; one repeat fewer would not do."""
    advice = repeats_advice(noise, n_sites=n_sites, ttv_limit=2e-6)
    draws = np.random.default_rng(3).normal(0.0, noise / advice.repeats**0.5, (20_000, n_sites))
    assert advice.noise_in_ttv == pytest.approx(np.ptp(draws, axis=1).mean(), rel=0.02)
    assert advice.noise_in_ttv <= 0.4e-6
    assert advice.with_fewer is None or advice.with_fewer > 0.4e-6


def test_a_quiet_gauge_needs_one():
    """No noise, one repeat."""
    assert repeats_advice(0.0, n_sites=5, ttv_limit=1e-6).sentence.startswith("1 repeat at 5 sites")


@pytest.mark.parametrize(
    "call",
    [
        lambda: study_sheet(("a",), OPERATORS, repeats=2, generator=np.random.default_rng(1)),
        lambda: study_sheet(("a", "a", "b"), OPERATORS, repeats=2, generator=np.random.default_rng(1)),
        lambda: study_sheet(PARTS, OPERATORS, repeats=1, generator=np.random.default_rng(1)),
        lambda: repeats_advice(-1.0, n_sites=5, ttv_limit=1.0),
        lambda: repeats_advice(1.0, n_sites=1, ttv_limit=1.0),
        lambda: repeats_advice(1.0, n_sites=5, ttv_limit=0.0),
    ],
)
def test_wrong_questions(call):
    """Refused."""
    with pytest.raises(OutOfValidRange):
        call()
