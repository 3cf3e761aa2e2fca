"""Lapwright: plan, measure, watch, decide and record the thinning of wafers and small flat samples."""

import os

# Before anything loads a linear algebra library: with one thread its sums come in the same order on every machine, so
# that numbers come out again bit for bit, and matrices as small as ours are done sooner.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
