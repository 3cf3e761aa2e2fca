"""Heating traces: a planted offset, a fast chill, a melt that was too short."""

import numpy as np
import pytest

from lapwright.errors import BadInput
from lapwright.process.bonding_trace import HeatTrace, judged_trace


def bonding(*, offset=0.0, cooling=2.0, hot=400.0, noise=0.0):
    """A setting up at 2 K/min, 20 min hot, down; the stack follows with an offset once it is hot."""
    setting, time = [294.0], [0.0]
    for rate, until in ((2.0, hot), (0.0, 1200.0), (-cooling, 304.0)):
        start, first = time[-1], setting[-1]
        seconds = until if rate == 0.0 else abs(until - first) / abs(rate) * 60.0
        for t in np.arange(10.0, seconds + 1e-9, 10.0):
            time.append(start + t)
            setting.append(first + rate * t / 60.0)
    given = np.array(setting)
    share = np.clip((given - 294.0) / (hot - 294.0), 0.0, 1.0)
    stack = given + offset * share + noise * np.random.default_rng(15).standard_normal(len(given))
    return HeatTrace(times=tuple(time), temperatures=tuple(stack.tolist()), settings=tuple(setting))


@pytest.mark.parametrize("offset", [-15.0, 15.0, -5.0])
def test_a_planted_offset_is_named(offset):
    """15 K too cold (or too hot), in noise of 0.3 K: named to 0.2 K with what to do."""
    found = judged_trace(bonding(offset=offset, noise=0.3), rate_limit=3.5 / 60.0, melts=380.0)
    assert found.offset == pytest.approx(offset, abs=0.2)
    assert "trace.offset" in [code for code, _ in found.warnings]
    assert ("colder" if offset < 0.0 else "hotter") in found.warnings[0][1]


def test_a_good_trace_has_no_warning():
    """As set, slow enough, long enough."""
    found = judged_trace(bonding(), rate_limit=2.2 / 60.0, melts=380.0)
    assert found.warnings == ()
    assert found.offset == pytest.approx(0.0, abs=1e-9)
    assert found.fastest_heating * 60.0 == pytest.approx(2.0, abs=0.01)
    # 20 min hot and 20 K at 2 K/min up and down
    assert found.time_above_melt == pytest.approx(1200.0 + 2 * 600.0, abs=15.0)


def test_a_quick_chill_is_named_with_its_minutes():
    """10 K/min where 2 are borne."""
    found = judged_trace(bonding(cooling=10.0), rate_limit=2.2 / 60.0)
    assert [code for code, _ in found.warnings] == ["trace.too_fast"]
    assert found.too_fast[0].rate * 60.0 == pytest.approx(-10.0, rel=0.02)
    assert "Cooled at 10.0 K/min" in found.warnings[0][1]


def test_noise_is_no_rate():
    """Half a kelvin of noise every ten seconds does not pass for 2 K/min of heating at rest."""
    still = HeatTrace(times=tuple(10.0 * i for i in range(200)),
                      temperatures=tuple((400.0 + 0.2 * np.random.default_rng(1).standard_normal(200)).tolist()))  # fmt: skip
    assert judged_trace(still, rate_limit=2.0 / 60.0).too_fast == ()


def test_a_wax_that_never_melted_is_bonded_again():
    """Below the melting point, and just above it for too short a time."""
    cold = judged_trace(bonding(offset=-15.0), rate_limit=3.0 / 60.0, melts=390.0)
    assert "never reached" in cold.warnings[-1][1]
    short = judged_trace(bonding(), rate_limit=3.0 / 60.0, melts=399.9, least_melted=3600.0)
    assert "only" in short.warnings[-1][1]


def test_time_above_by_straight_lines():
    """Up and down through 10 in a triangle of height 20 over 40 s: 20 s."""
    trace = HeatTrace(times=(0.0, 20.0, 40.0), temperatures=(300.0, 320.0, 300.0))
    assert judged_trace(trace, rate_limit=10.0, melts=310.0).time_above_melt == pytest.approx(20.0)


def test_all_faults_of_a_trace_are_named_at_once():
    """Times that go back, and a number of temperatures that differs."""
    with pytest.raises(BadInput) as caught:
        HeatTrace(times=(0.0, 5.0, 3.0), temperatures=(300.0, 301.0))
    assert len(caught.value.faults) == 2
