"""Texts that the parsers read, to begin fuzzing from; all invented."""

from __future__ import annotations


def _texts(*texts: str) -> tuple[bytes, ...]:
    return tuple(text.encode() for text in texts)


READINGS = _texts(
    "wafer,site,x_mm,y_mm,thickness_um\nA,1,0,0,500.1\nA,2,10,0,499.7\n",
    "wafer;site;x_mm;y_mm;thickness_um;hold;temperature_c\nA;1;0;0;500,1;free;21,5\nA;2;10;0;;free;21,5\n",
    "\ufeffwafer\tsite\tx_in\ty_in\tthickness_mil\nA\t1\t0\t0\t20.1\nA\t1\t0\t0\t20.2\n",
)
ORDERS = _texts(
    """\
order = "LOT-1"
customer = "Fennbach Filters"
quantity = 2
due = 2031-06-13

[piece]
material = "Si"
shape = "round"
diameter_mm = 76.2
mark = "flat"
flat_length_mm = 22.22

[incoming]
thickness_um = 381.0
ttv_um = 4.0

[finished]
thickness_um = 200.0

[judging]
edge_exclusion_mm = 3.0
hold = "free"
rule = "guarded"
false_accept_percent = 2.0

[[limit]]
quantity = "thickness"
lower_um = 197.0
upper_um = 203.0

[[limit]]
quantity = "ttv"
upper_um = 3.0
"""
)
BUDGETS = _texts(
    """\
title = "Thickness of one reading"
unit = "um"
model = "reading + calibration + rounding + expansion * length * warmth"
probability = 0.95

[[input]]
name = "reading"
unit = "um"
readings = [101.2, 101.4, 101.3, 101.3]

[[input]]
name = "calibration"
value = 0
unit = "um"
expanded_uncertainty = 0.4
coverage_factor = 2

[[input]]
name = "rounding"
value = 0
unit = "um"
half_width = 0.05

[[input]]
name = "expansion"
value = 12e-6
unit = "1/K"
half_width = 3e-6

[[input]]
name = "length"
value = 10000
unit = "um"
standard_uncertainty = 10

[[input]]
name = "warmth"
value = 0
unit = "K"
half_width = 1.0
distribution = "arcsine"
"""
)
FRAMES = _texts(
    "\x05500.12 um\r\n-0.001\r\n1.5e-3 mm\r\n",
    '\x03{"length": 5.1, "unit": "um", "sequence": 3, "time": 12.5}\n{"value": 1}\n',
    '\x08{"length": 1}{"length": 2}\nRUN 7 2000\nSTOP 0 why\n',
)
STREAMS = _texts("time_s,length_um\n0.1,1.5\n0.2,1.6\n", "time_s;length_mm;temperature_c\n0,1;1,5;21\n#\n0,2;;\n")
RUNS = _texts(
    """\
run,material,abrasive,plate,pressure_kpa,speed_m_per_s,rate_um_per_min
A,LiTaO3,sic-jis1000,cast-iron,10,0.5,4.2
B,LiTaO3,sic-jis1000,cast-iron,12,0.5,5.0
"""
)
HEATS = _texts("time_s,temperature_c,set_c\n0,25.0,120\n10,60.2,120\n20,118,120\n")
PIECES = _texts(
    "piece,at_x_mm,at_y_mm,turn_deg,x_mm,y_mm,wafer_um,stack_um\nA,1,2,90,0,0,500,4000\nA,1,2,90,3,0,500,4001\n"
)
TABLES = _texts("x_mm,a,who\n1,2,b\n", "who;x_mm;a\nb;1,5;2\n")
PASTED = _texts("site\tthickness\nC\t500,1\nA1;500.3 um\nzero,0.0\n")
POINTS = _texts("x_mm,y_mm,height_um\n10,0,1.5\n20,5,2.5\n")
WAFERS = _texts("wafer,thickness_um\nW1,500.2\nW2,501\n")
CORNERS = _texts("x_mm,y_mm\n0,0\n10,0\n0,10\n")
WORDS = _texts("12.5 um", "round 50.8 mm", "10 x 12 mm", "x^2 + sin(y)/3", "1e-3 in", "−0,5 µm")
