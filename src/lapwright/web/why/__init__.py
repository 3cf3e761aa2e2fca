"""Why: formula, inputs, source and uncertainty of every computed number that pages show, by name."""

from lapwright.web.why.entry import Why
from lapwright.web.why.measured import MEASURED
from lapwright.web.why.worked import WORKED

#: By the name that templates use.
WHY = {**MEASURED, **WORKED}

__all__ = ["WHY", "Why"]
