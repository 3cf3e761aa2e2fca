"""Which way is up: what has to be told from outside the picture."""

from __future__ import annotations

import math

from lapwright.errors import BadInput, Fault, OutOfValidRange

CLEAR = 0.2  # smallest cosine between a told direction and the fringe normal that decides


def tilt_sense(
    frequency: tuple[float, float],
    pixel: tuple[float, float],
    tilt_opens_toward: float | None,
    pressed_fringes_toward: float | None,
) -> tuple[int, bool]:
    """+1 when the phase grows with the gap, -1 when it falls, and whether that is known."""
    up, right = -frequency[0] / pixel[0], frequency[1] / pixel[1]
    told = {"tilt_opens_toward": tilt_opens_toward, "pressed_fringes_toward": pressed_fringes_toward}
    senses = set()
    for name, azimuth in told.items():
        if azimuth is None:
            continue
        along = (right * math.cos(azimuth) + up * math.sin(azimuth)) / math.hypot(up, right)
        if abs(along) < CLEAR:
            raise OutOfValidRange(
                name,
                azimuth,
                f"a direction within {math.degrees(math.acos(CLEAR)):.0f} degrees of square to the fringes "
                f"({math.degrees(math.atan2(up, right)):.0f} degrees or opposite)",
                "Look again which way the gap opens.",
            )
        senses.add(1 if along > 0 else -1)
    if len(senses) == 2:
        sentence = "tilt_opens_toward and pressed_fringes_toward contradict each other. Look again, or give only one."
        raise BadInput([Fault(sentence=sentence, field=name) for name in told])
    return (senses.pop(), True) if senses else (1, False)
