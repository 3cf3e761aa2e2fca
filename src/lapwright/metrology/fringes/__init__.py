"""Fringe images to height maps: one picture with tilt, several with moved phase, or one with closed fringes.

Every map says what of it can be trusted and whether it may be upside down. What must not become a map is refused with
the reason and what to change.
"""

from lapwright.metrology.fringes.carrier import height_from_carrier
from lapwright.metrology.fringes.closed import height_from_closed
from lapwright.metrology.fringes.five_frames import five_frame_phase
from lapwright.metrology.fringes.masks import circle_mask, polygon_mask
from lapwright.metrology.fringes.result import Carrier, FringeResult, Island
from lapwright.metrology.fringes.sensitivity import fringe_height
from lapwright.metrology.fringes.steps import height_from_steps

__all__ = [
    "Carrier",
    "FringeResult",
    "Island",
    "circle_mask",
    "five_frame_phase",
    "fringe_height",
    "height_from_carrier",
    "height_from_closed",
    "height_from_steps",
    "polygon_mask",
]
