"""What is left of a pad."""

import math
from dataclasses import replace

import pytest

from lapwright.errors import OutOfValidRange
from lapwright.library import load
from lapwright.process.learning import PastRun, RunConditions, rate_model
from lapwright.process.pad_life import pad_life

LIBRARY = load()
PAD = RunConditions(
    material="LiTaO3", abrasive="silica-colloidal", plate="pad-polyurethane", pressure=40e3, speed=0.6,
    station="P1", plate_piece="pad 1", pad_age=0.0,
)  # fmt: skip
TWO_PERCENT = (0.4, -1.1, 0.9, -0.3, 1.2, -0.8, 0.1, -0.5, 0.7, -0.2)


def polished(loss, *, runs=20, hours=1.5, pads=1):
    """Runs on pads that lose a share of their rate an hour; scatter 2 %."""
    taken = []
    for pad in range(pads):
        for number in range(runs):
            age = hours * number
            rate = 0.1e-6 / 60 * math.exp(-loss * age + 0.02 * TWO_PERCENT[(number + 3 * pad) % 10])
            where = replace(PAD, pad_age=3600 * age, plate_piece=f"pad {pad + 1}")
            taken.append(PastRun(name=f"{pad}-{number}", conditions=where, removal_rate=rate))
    return rate_model(LIBRARY, taken)


def test_a_steady_loss_gives_the_hours_left():
    """1 % an hour over three pads: at 20 h 82 % is left, and 70 % is reached at ln(1/0.7)/0.01 = 35.7 h."""
    found = pad_life(polished(0.01, pads=3), replace(PAD, plate_piece="pad 3", pad_age=20 * 3600.0))
    assert found.share == pytest.approx(math.exp(-0.2), abs=0.06)
    assert 20.0 + found.time_left / 3600 == pytest.approx(35.7, abs=6.0)
    assert (found.advice, found.runs) == ("use", 20)


def test_a_planted_loss_of_thirty_percent_is_found_in_three_runs():
    """A pad that falls to 68 % all at once: three runs later it is to be replaced."""
    model = polished(0.002, runs=12)
    runs = [check.run for check in model.learned["polish"].checks]
    for number in range(3):
        age = 3600.0 * 1.5 * (12 + number)
        rate = 0.68 * 0.1e-6 / 60 * math.exp(0.02 * TWO_PERCENT[number])
        runs.append(PastRun(name=f"low {number}", conditions=replace(PAD, pad_age=age), removal_rate=rate))
    found = pad_life(rate_model(LIBRARY, runs), replace(PAD, pad_age=3600.0 * 22.5))
    assert found.share == pytest.approx(0.68, abs=0.06)
    assert found.advice == "replace"
    assert "replace or dress" in found.sentence


def test_without_runs_of_the_piece_nothing_is_advised():
    """A new pad among known ones: the loss of its kind, no advice."""
    found = pad_life(polished(0.01, pads=2), replace(PAD, plate_piece="pad 9", pad_age=3600.0))
    assert (found.advice, found.runs) == ("unknown", 0)


def test_the_interval_holds_the_estimate():
    """Low, middle and high in their order."""
    found = pad_life(polished(0.01), replace(PAD, pad_age=10 * 3600.0))
    assert found.share_low < found.share < found.share_high
    assert found.time_left_low < found.time_left


def test_an_age_is_needed():
    """None is refused, and so is a limit outside (0, 1)."""
    with pytest.raises(OutOfValidRange, match="pad_age"):
        pad_life(rate_model(LIBRARY), replace(PAD, pad_age=None))
    with pytest.raises(OutOfValidRange, match="give_up"):
        pad_life(rate_model(LIBRARY), PAD, give_up=1.0)
