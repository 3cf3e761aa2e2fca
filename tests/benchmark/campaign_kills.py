"""Campaign of kills: signal 9 at random points of real work, on SQLite and on PostgreSQL.

Usage: campaign_kills.py [--sqlite 500] [--postgresql 200] [--seed 1]. Goes on where it was interrupted as long as the
commit is the same, and writes its report to docs/reference/campaign-kills.md when all are played.
"""

import sys
from pathlib import Path

from lapwright.testing.kills.report import run

ROOT = Path(__file__).parents[2]

if __name__ == "__main__":
    sys.exit(run(ROOT, sys.argv[1:]))
