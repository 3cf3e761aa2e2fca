"""Drawings as SVG text, shared by pages, certificate, traveller and docs.

What each must answer, and why it looks as it does: docs/explanation/drawings.md.
"""

from lapwright.reports.drawing.budget import BudgetBar, BudgetWords, bars_of_budget, budget_bars
from lapwright.reports.drawing.chart import Band, Level, Line, line_chart
from lapwright.reports.drawing.ink import DRAWING_CSS, ENGLISH, Lettering
from lapwright.reports.drawing.rulers import RulerWords, route_rulers
from lapwright.reports.drawing.scale import Scale, common_scale, even_scale
from lapwright.reports.drawing.stack import StackStep, StackWords, stack_through_stages
from lapwright.reports.drawing.wafer_map import map_scale, matched_scales, wafer_map
from lapwright.reports.drawing.wheel import WheelAdjuster, WheelWords, jig_wheel

__all__ = [
    "DRAWING_CSS",
    "ENGLISH",
    "Band",
    "BudgetBar",
    "BudgetWords",
    "Lettering",
    "Level",
    "Line",
    "RulerWords",
    "Scale",
    "StackStep",
    "StackWords",
    "WheelAdjuster",
    "WheelWords",
    "bars_of_budget",
    "budget_bars",
    "common_scale",
    "even_scale",
    "jig_wheel",
    "line_chart",
    "map_scale",
    "matched_scales",
    "route_rulers",
    "stack_through_stages",
    "wafer_map",
]
