"""The demonstration: order AP-2407 played through the same use cases as a user's, in the simulated shop.

The players see only what the program answers. Each answer that names a trouble is kept as a `Caught` in the program's
own words, whether the trouble was planted or not.
"""

from lapwright.sim.scenario.story import STEPS, Played, play

__all__ = ["STEPS", "Played", "play"]
