"""What can be said where the plates and pads at hand leave a face rougher than an order allows."""

from __future__ import annotations

import math
from collections.abc import Sequence

from lapwright.library import Library
from lapwright.model.order import Order
from lapwright.process.candidates import Cut, is_smooth_enough, possible_cuts
from lapwright.process.workplaces import FURTHER_WORKPLACES, USUAL_WORKPLACES


def lowest_roughness(cuts: Sequence[Cut]) -> float:
    """The lowest Ra that can be promised with some cuts: the high end of the finest.

    Parameters
    ----------
    cuts : sequence of Cut
        What is possible.

    Returns
    -------
    float [m]
        Infinite when no finish is known.
    """
    return min((cut.roughness.high for cut in cuts if cut.roughness is not None), default=math.inf)


def nearest_finish(order: Order, library: Library, cuts: Sequence[Cut], roughness_limit: float) -> str:
    """The nearest that can be promised, and the plate or pad that would reach the limit where it lay on a station.

    Parameters
    ----------
    order : Order
        As promised.
    library : Library
        Rows to plan with.
    cuts : sequence of Cut
        What is possible at the workplaces there are.
    roughness_limit : float [m]
        Largest Ra asked for.

    Returns
    -------
    str
        One or two sentences.

    Raises
    ------
    NotFound
        A material the library does not hold.
    """
    lowest = lowest_roughness(cuts)
    told = f"The lowest that can be promised is Ra {lowest * 1e9:.2f} nm."
    if math.isinf(lowest):
        told = "No finish of it is known."
    if lowest <= roughness_limit:
        return told
    elsewhere = possible_cuts(order, library, (*USUAL_WORKPLACES, *FURTHER_WORKPLACES))
    reached = [cut.workplace.plate for cut in elsewhere if is_smooth_enough(cut, roughness_limit)]
    if not reached:
        return told
    return f"{told} A station with this would reach it: {library.plate(reached[0]).name}."
