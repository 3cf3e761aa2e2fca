"""`python -m lapwright` does what `lapwright` does."""

from lapwright.cli.main import run

run()
