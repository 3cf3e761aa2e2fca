"""What a server makes ready beside its first answers, so that nobody waits for it: templates, and what is kept.

What the pages keep from one answer to the next is empty when a server starts; in a shop of years the first who asks
for the Shelf would wait for all lots to be added up. A thread looks at it all once, a little at a time.
"""

from __future__ import annotations

import gc
import logging
import threading
import time
from datetime import date
from pathlib import Path

from lapwright.errors import LapwrightError

FIRST, REST = 0.5, 0.02  # s: until the server is up, and between two things, in which answers come first

_log = logging.getLogger(__name__)


def begin() -> threading.Thread:
    """Make ready in a thread, which ends with the process."""
    thread = threading.Thread(target=_make_ready, name="made-ready", daemon=True)
    thread.start()
    return thread


# ----------------------------------------------------------------------------------------------------------------------


def _make_ready() -> None:
    from django.db import DatabaseError, connections

    time.sleep(FIRST)
    for work in (_waiting, _templates, _gauges, _plates, _shelf, _drift, _rates, _plans):
        try:
            work()
        except (LapwrightError, DatabaseError) as error:
            _log.info("not made ready: %s", error)
        time.sleep(REST)
    connections.close_all()
    gc.freeze()  # as after the start: what is kept is not looked through for rings again


def _templates() -> None:
    from importlib import import_module

    from django.template.loader import get_template

    import_module("lapwright.web.urls")
    folder = Path(__file__).parent / "templates"
    for path in sorted(folder.rglob("*.html")):
        get_template(str(path.relative_to(folder)))
        time.sleep(0.0)


def _waiting() -> None:
    from lapwright.app import orders, stations, tasks
    from lapwright.web.surroundings import now

    tasks.waiting_tasks(now=now())  # first, because Hands is what everybody opens
    stations.list_stations()
    orders.list_orders("going")


def _gauges() -> None:
    from lapwright.app import calibration_due, gauge_care, gauge_studies

    today = _today()
    gauge_care.fitness_of_all(on=today)
    gauge_care.zeros_of_all()
    gauge_studies.list_studies()
    calibration_due.due_forecasts(on=today)


def _plates() -> None:
    from lapwright.app import plates
    from lapwright.web.surroundings import now

    for one in plates.recorded_plates():
        plates.show_plate(one.plate.plate_id, at=now())
        time.sleep(REST)


def _shelf() -> None:
    from lapwright.app import jig_moves, plate_sources, shelf, supplies

    today = _today()
    supplies.item_stocks(supplies.lot_cards(on=today), on=today)
    plate_sources.recorded_forms()
    shelf.list_carriers()
    for one in shelf.list_jigs():
        jig_moves.learned_jig(one.jig.jig_id)
        time.sleep(REST)


def _drift() -> None:
    from lapwright.app import drift

    drift.drift_charts()


def _rates() -> None:
    from lapwright.app import rates

    rates.rate_pairs()


def _plans() -> None:
    from lapwright.app import prices, quotations, recipes

    prices.planning_assumptions()
    for material in recipes.materials():
        quotations.own_wafers(material)


def _today() -> date:
    from lapwright.web.surroundings import now

    return now().date()
