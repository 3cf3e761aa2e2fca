"""Frozen values of the trade: wafers, sites, maps, readings, gauges, orders, plans, verdicts.

Invariants only; no formula, no file, no clock. SI inside. Frames and signs: the wafer frame has its origin at the
wafer's centre, looks at the face being worked, x to the right, y up, the orientation mark at -y; angles run
counter-clockwise from +x. A wedge points at its thickest edge. Height is positive out of the worked face. NaN means
that a site was not measured, and nothing else.
"""
