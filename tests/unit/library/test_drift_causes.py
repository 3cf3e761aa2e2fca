"""Likely causes of signals."""

import typing

from lapwright.app.drift_series import Signal
from lapwright.library.drift_causes import likely_causes


def test_every_signal_has_a_cause_for_a_shift_both_ways():
    """Each signal that the Drift page draws; a fall of the scatter-like ones is good news and says keep it."""
    for signal in typing.get_args(Signal):
        for direction in ("up", "down"):
            assert likely_causes(signal, pattern="shift", direction=direction), (signal, direction)


def test_causes_fit_pattern_and_direction():
    """A rate that jumps down is a dry plate first; up it is not."""
    down = [one.cause for one in likely_causes("rate", pattern="jump", direction="down")]
    up = [one.cause for one in likely_causes("rate", pattern="jump", direction="up")]
    assert down[0] == "The plate ran dry or the drip stopped"
    assert not set(down) & set(up)


def test_an_unknown_signal_has_none():
    """Nothing is invented."""
    assert likely_causes("noise", pattern="jump", direction="up") == ()
