"""How a number of each name is worked out for the page it stands on."""

from __future__ import annotations

from collections.abc import Callable

from lapwright.web.why.bench import BENCH
from lapwright.web.why.bonds import BONDS
from lapwright.web.why.case import Case
from lapwright.web.why.faces import FACES
from lapwright.web.why.gauges import GAUGES
from lapwright.web.why.place import Place
from lapwright.web.why.plates import PLATES
from lapwright.web.why.routes import ROUTES
from lapwright.web.why.sets import SETS
from lapwright.web.why.shop import SHOP
from lapwright.web.why.stages import STAGES
from lapwright.web.why.verdicts import VERDICTS

#: By the name that templates use; each raises `NotFound` where the page shows no such number.
CASES: dict[str, Callable[[Place], Case]] = {
    **SETS, **VERDICTS, **BONDS, **STAGES, **FACES, **PLATES, **GAUGES, **ROUTES, **SHOP, **BENCH,
}  # fmt: skip
