"""Why: formula, inputs, source and uncertainty of every computed number that pages show, by name.

How a number of one piece, run or plate came about is worked out in `cases`, which needs the records.
"""

from lapwright.web.why.entry import Why
from lapwright.web.why.measured import MEASURED
from lapwright.web.why.shelved import SHELVED
from lapwright.web.why.worked import WORKED

#: By the name that templates use.
WHY = {**MEASURED, **WORKED, **SHELVED}

__all__ = ["WHY", "Why"]
