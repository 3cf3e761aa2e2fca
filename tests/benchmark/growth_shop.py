"""How readings import, wafer statistics, fringe pictures, pages and the queue grow over two decades of size."""

import tempfile
from pathlib import Path

import numpy as np

from lapwright.testing.growth import Growth


def curves():
    """What is measured, at which sizes."""
    return [
        Growth(names=("reading and checking a readings file",), counts="rows",
               sizes=(10_000, 31_600, 100_000, 316_000, 1_000_000), prepare="readings_file"),
        Growth(names=("import into the records, 17 sites a wafer",), counts="readings",
               sizes=(170, 544, 1_700, 5_440, 17_000), prepare="readings_import"),
        Growth(names=("17-site statistics in one call",), counts="wafers",
               sizes=(1_000, 3_160, 10_000, 31_600, 100_000), prepare="wafer_statistics"),
        Growth(names=("map and form of one fringe picture",), counts="pixels",
               sizes=(160**2, 280**2, 500**2, 900**2, 1_600**2), prepare="fringe_picture"),
        Growth(names=("page of the orders", "page of one wafer"), counts="wafers",
               sizes=(200, 2_000, 20_000), prepare="pages"),
        Growth(names=("first schedule of a queue",), counts="tasks", sizes=(24, 78, 240, 780, 2_400), prepare="queue"),
    ]  # fmt: skip


def readings_file(rows):
    """17 sites a wafer, read and cut into sets."""
    from lapwright.formats.readings_csv import read_readings

    path = Path(tempfile.mkdtemp(), "readings.csv")
    _write(path, rows)
    return [lambda: list(read_readings(path).sets())]


def readings_import(rows):
    """Into empty records, a set for each wafer of one order; in one commit."""
    from dataclasses import replace

    from lapwright.testing.records import start_records

    folder = Path(tempfile.mkdtemp())
    start_records(folder)
    from lapwright.app import orders
    from lapwright.app.importing import import_readings
    from lapwright.model.request import ImportRequest
    from lapwright.testing.lot import ORDER, Lot

    lot = Lot()
    lot.furnish()
    numbers = iter(range(1, 100))

    def fresh():
        name = f"AP-{next(numbers)}"
        pieces = [f"{name}-{number:04d}" for number in range(rows // 17)]
        orders.receive_order(replace(ORDER, order_id=name, quantity=len(pieces)), wafer_ids=pieces, **lot.why())
        path = folder / f"{name}.csv"
        _write(path, rows, pieces)
        return path, name

    prepared = [fresh() for _ in range(3)]

    def once():
        path, name = prepared.pop()
        request = ImportRequest(order_id=name, subject="wafer", moment="incoming", gauge_id="G1")
        import_readings(path, request, **lot.why())

    return [once]


def wafer_statistics(wafers):
    """Mean, TTV, wedge and plane of every wafer."""
    from lapwright.metrology.plane_statistics import plane_statistics
    from lapwright.metrology.site_patterns import seventeen_sites
    from lapwright.model.wafer import Round

    sites = seventeen_sites(Round(diameter=0.1))
    thickness = 5e-4 + np.random.default_rng(1).normal(0.0, 1e-6, (wafers, 17))
    return [lambda: plane_statistics(thickness, sites.x, sites.y, diameter=0.1)]


def fringe_picture(pixels):
    """One picture with tilt fringes, from the file to the numbers."""
    from lapwright.app.surface_readings import read_fringes
    from lapwright.model.surface_record import FringeSettings
    from lapwright.model.wafer import Round
    from lapwright.testing import faces

    content = faces.fringe_file(side=round(pixels**0.5))
    settings = FringeSettings(outline=Round(diameter=faces.DIAMETER), fringe_height=faces.FRINGE)
    read_fringes((("small.png", faces.fringe_file(side=120)),), settings)  # what it imports is no growth
    return [lambda: read_fringes((("face.png", content),), settings)]


def pages(wafers):
    """Of all orders, and of one wafer of the first finished order; asked in the process."""
    _shop(wafers)
    from lapwright.app import orders

    order_id = orders.list_orders()[-1].order_id
    return [_asked("/orders"), _asked(f"/orders/{order_id}/wafers/{orders.recorded_order(order_id).wafer_ids[0]}")]


def queue(tasks):
    """Jobs of six stages at nine places, placed by the due date."""
    from lapwright.model.queue import Job, Place, Shop, Task
    from lapwright.process.queue_rules import dispatch

    rng = np.random.default_rng(2)
    kinds = ("measure", "bond", "lap", "lap", "polish", "clean")
    places = [
        Place(place_id=f"{kind}-{number}", kind=kind)
        for kind, count in (("measure", 1), ("bond", 1), ("lap", 3), ("polish", 3), ("clean", 1))
        for number in range(count)
    ]
    jobs, made = [], []
    for number in range(tasks // 6):
        jobs.append(Job(job_id=f"J{number}", due=float(rng.uniform(1e4, 1e6))))
        for stage, kind in enumerate(kinds):
            made.append(
                Task(
                    task_id=f"J{number}-{stage}", job_id=f"J{number}", name=kind,
                    places=tuple(place.place_id for place in places if place.kind == kind),
                    duration=float(rng.uniform(600.0, 7200.0)),
                    after=(f"J{number}-{stage - 1}",) if stage else (),
                )
            )  # fmt: skip
    shop = Shop(places=tuple(places), jobs=tuple(jobs), tasks=tuple(made))
    return [lambda: dispatch(shop, "due")]


def _write(path, rows, pieces=None):
    values = (500 + np.random.default_rng(1).normal(0, 1, rows)).round(2).tolist()
    with path.open("w", encoding="utf-8") as stream:
        stream.write("wafer,site,x_mm,y_mm,thickness_um\n")
        for number, value in enumerate(values):
            wafer = f"W{number // 17}" if pieces is None else pieces[number // 17]
            stream.write(f"{wafer},P{number % 17},{number % 17 % 7 * 3 - 9},{number % 17 // 7 * 3},{value}\n")


def _shop(wafers):
    from lapwright.app import wiring
    from lapwright.settings import read_settings

    wiring.start(read_settings({"data": Path(tempfile.mkdtemp())}))
    from lapwright.testing import large_shop

    orders = wafers // 10
    large_shop.fill(finished=max(1, orders - large_shop.WAITING_POINTS), waiting=1)


def _asked(address):
    from django.test import Client

    client = Client(HTTP_HOST="localhost")

    def ask():
        assert client.get(address).status_code == 200

    ask()  # imports and templates are loaded
    return ask
