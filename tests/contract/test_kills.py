"""Killed by signal 9 in the midst of imports, readings over HTTP, live recording and an upgrade.

Many more kills, and PostgreSQL, are in the campaign.
"""

import json
import subprocess
import sys
from collections import Counter

import pytest

from lapwright.testing.kills.campaign import SHARES, works_of

WORKS = ("import", "readings", "recording", "upgrade")


@pytest.mark.slow
def test_nothing_acknowledged_is_lost_by_twenty_kills():
    """Drawn from a seed: each one hits, and afterwards the records open, are whole, hold in their chain and go on."""
    command = [sys.executable, "-m", "lapwright.testing.kills.campaign", "--kills", "20", "--works", *WORKS]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=220)
    kills = [json.loads(line) for line in done.stdout.splitlines()]
    assert [one["faults"] for one in kills] == [[]] * 20, done.stderr
    assert all(one["is_killed"] for one in kills)
    assert {one["by"] for one in kills} == {"moment", "statement"}
    assert sum(one["acknowledged"] for one in kills) > 20
    assert done.returncode == 0


def test_a_campaign_is_mixed_from_its_first_kills_on():
    """Of a hundred kills each work has its share to within one; a campaign cut short is a fair one."""
    for length in (10, 33, 100):
        counted = Counter(works_of(length))
        assert all(abs(counted[name] - share * length) < 1.0 for name, share in SHARES.items())
    assert works_of(20) == works_of(40)[:20]
