"""Lapwright: plan, measure, watch, decide and record the thinning of wafers and small flat samples."""

__version__ = "0.1.0"
