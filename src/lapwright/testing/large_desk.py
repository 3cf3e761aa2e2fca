"""What stands around the wafers of a large shop: gauges with their years of care, plates, lots, recipes, faces, people.

One of each kind is made by the use cases, then copied in SQL over the years, as `large_shop` copies its wafers; a copy
differs in names, keys, times and a little in its values. Run it on records that `large_shop.fill` has filled. All
invented. For SQLite.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from lapwright.model.gauge_care import CheckStandard, StudyRequest
from lapwright.model.live import Feed
from lapwright.model.plates import Plate
from lapwright.model.readings import Calibration
from lapwright.model.recipe import RunSettings
from lapwright.model.shelf import Station
from lapwright.model.supply import SupplyLot
from lapwright.testing.lot import GAUGE, JIG, Lot

GAUGES, STUDIES = 60, 2  # studies of each gauge
WEEKS = 200  # for which gauges and plates were looked at once a week
PLATES, CHECKS = 40, 25  # checks of the first plate, eight times as many of the others
LOTS, LOT_DAYS = 25, 56  # of each item, one after the other
USES = 8  # of each lot, by hand
RECIPE_VERSIONS, PRICE_VERSIONS = 6, 10
HANDOVERS, MOVES, PEOPLE = 3000, 400, 25
EVERY = 50  # wafer of which a face was measured
STATIONS = {"L3": "cast-iron", "L4": "glass", "P2": "pad-polyurethane", "P3": "pad-polyurethane"}
#: What is run on which plate, and how a lot of it comes; the last one is no abrasive.
ITEMS = {"al2o3-15": "cast-iron", "al2o3-3": "cast-iron", "silica-colloidal": "pad-polyurethane", "mounting-wax": None}
COPIED = "wafer_id LIKE 'LS-%'"
LAST_DAY = "'2026-11-04'"


def fill() -> None:
    """All of it, in one transaction: a minute's work becomes seconds."""
    from django.db import connection, transaction

    from lapwright.records.statistics import renew_statistics

    bench = Lot(now=datetime(2026, 11, 3, 8, 0, tzinfo=UTC))
    with transaction.atomic(), connection.cursor() as cursor:
        for part in PARTS:
            part(bench, cursor.execute)
    renew_statistics()


# ----------------------------------------------------------------------------------------------------------------------

_Execute = Callable[[str], Any]


def _copies(table: str, which: str, *, of: str, first: int = 1, last: int, **columns: str) -> str:
    """One INSERT … SELECT: rows of a table, once for each n from `first` to `last` and each row `o` of `of`.

    A column that is not named is as it was; the key is new, unless it is named.
    """
    from django.apps import apps

    model = apps.get_model("records", table)
    named = {field.column: f's."{field.column}"' for field in model._meta.local_concrete_fields} | columns  # noqa: SLF001  Django's public name for it
    if "id" not in columns:
        del named["id"]
    wanted = ", ".join(f'"{name}"' for name in named)
    return (
        f"WITH RECURSIVE count(n) AS (SELECT {first} UNION ALL SELECT n + 1 FROM count WHERE n < {last})"  # noqa: S608
        f' INSERT INTO "{model._meta.db_table}" ({wanted}) SELECT {", ".join(named.values())}'  # noqa: SLF001
        f' FROM "{model._meta.db_table}" s JOIN ({of}) o JOIN count WHERE {which}'  # noqa: SLF001
    )


def _back(days: str) -> str:
    return f"datetime(s.at, '-' || ({days}) || ' days')"


def _people(bench: Lot, _execute: _Execute) -> None:
    from lapwright.app import accounts

    accounts.open_account("local", "", "admin", **bench.why())
    for number in range(1, PEOPLE + 1):
        name = f"hand{number}"
        accounts.open_account(name, f"Hand {number}", "operator" if number % 4 else "engineer", **bench.why())
        accounts.make_token(name, "balance", ["read"], 300, **bench.why())


def _gauges(bench: Lot, execute: _Execute) -> None:
    from lapwright.app import gauge_care, gauges

    for number in range(1, GAUGES + 1):
        gauge_id = f"G{number}"
        if number > 1:
            gauges.register_gauge(replace(GAUGE, gauge_id=gauge_id, name=f"gauge {number}"), **bench.why())
        for year in range(4, 0, -1) if number > 1 else range(4, 1, -1):
            done = bench.now.date() - timedelta(days=365 * year - 300 + number % 20)
            gauges.record_calibration(
                Calibration(gauge_id=gauge_id, certificate=f"K-{number}-{year}", done=done,
                            due=done + timedelta(days=365), deviation=1e-7, expanded_uncertainty=2e-7,
                            as_found=3e-7, interval_days=365), **bench.why(),
            )  # fmt: skip
    for number in range(1, 11):
        standard = CheckStandard(standard_id=f"R{number}", name=f"disc {number}", value=5e-4, expanded_uncertainty=8e-8)
        gauge_care.register_standard(standard, **bench.why())
    _read_with_another(bench)
    gauge_care.record_check("G1", "R1", "500.05", **bench.why())
    value = "(500.0 + ((n * 7919 + o.id * 31) % 41 - 20) * 0.01)"
    execute(
        _copies("GaugeCheck", "s.standard_id IS NOT NULL", of="SELECT id FROM records_gauge", last=WEEKS,
                gauge_id="o.id", at=_back("n * 7 + o.id * 0.03"), text=f"printf('%.2f', {value})",
                value_m=f"{value} * 1e-6")
    )  # fmt: skip


def _read_with_another(bench: Lot) -> None:
    """The first carrier once more with the second gauge, so that the two can be compared."""
    from lapwright.app import readings

    asked = replace(bench.request("C1", "carrier", "carrier", repeats=1), gauge_id="G2")
    opened = readings.open_set(asked, **bench.why())
    readings.record_zero(opened.set_id, "0.0", when="before", **bench.why())
    site: str | None = opened.pattern.labels[0]
    while site is not None:
        site = readings.record_reading(opened.set_id, "6000.1", confirmed=True, **bench.why()).progress.site
    readings.record_zero(opened.set_id, "0.0", when="after", **bench.why())
    readings.close_set(opened.set_id, **bench.why())


def _studies(bench: Lot, execute: _Execute) -> None:
    from lapwright.app import gauge_studies

    parts, hands = tuple(f"T{number}" for number in range(1, 11)), ("hand1", "hand2", "hand3")
    plan = StudyRequest(study_id="S-0", gauge_id="G1", parts=parts, operators=hands, repeats=3, seed=1, tolerance=4e-6)
    study = gauge_studies.plan_study(plan, **bench.why())
    for number, line in enumerate(study.plan.sheet):
        text = f"{500.0 + parts.index(line.part) * 0.4 + number * 37 % 11 * 0.02:.2f}"
        gauge_studies.record_study_reading("S-0", text, line=number + 1, **bench.why())
    gauge_studies.file_study("S-0", **bench.why())
    base = _next_key("gaugestudy", execute)
    key = f"{base} + o.id * {STUDIES} + n"
    name = "'S-' || o.id || '-' || n"
    execute(
        _copies("GaugeStudy", "s.study_id = 'S-0'", of="SELECT id, gauge_id FROM records_gauge", last=STUDIES,
                id=key, study_id=name, gauge_id="o.id", at=_back("n * 300"),
                plan=f"json_set(s.plan, '$.study_id', {name}, '$.gauge_id', o.gauge_id)")
    )  # fmt: skip
    execute(
        _copies("StudyReading", "s.study_id = (SELECT id FROM records_gaugestudy WHERE study_id = 'S-0')",
                of="SELECT id FROM records_gauge", last=STUDIES, study_id=key, at=_back("n * 300"))
    )  # fmt: skip


def _plates(bench: Lot, execute: _Execute) -> None:
    from lapwright.app import plates

    for number in range(1, PLATES + 1):
        station = {1: "L1", 2: "L2"}.get(number)
        plate = Plate(
            plate_id=f"PL-{number}", name=f"plate {number}", station_id=station, inner_radius=0.04, outer_radius=0.15,
            ring_outer_radius=0.065, least_offset=0.085, most_offset=0.112, offset=0.1, dome_limit=15e-6,
        )  # fmt: skip
        plates.register_plate(plate, **bench.why())
    for check in range(CHECKS):
        bench.now += timedelta(hours=5)
        dome = (check % 8) * 1.5e-6
        heights = [dome * (1.0 - (place / 150.0) ** 2) for place in range(-145, 146, 29)]
        rows = tuple(
            (float(place), laying, f"{(height - heights[0]) * 1e6:.1f}")
            for laying in range(2)
            for place, height in zip(range(-145, 146, 29), heights, strict=True)
        )
        plates.record_check("PL-1", plates.CheckRequest(method="straightedge", rows=rows, ran=1.8e4), **bench.why())
        if check % 8 == 7:
            plates.set_ring("PL-1", 0.1 + check * 1e-4, ran=0.0, **bench.why())
            plates.record_dressing("PL-1", ran=0.0, **bench.why())
    every = f"{CHECKS} * 5 / 24.0"
    execute(
        _copies("PlateEntry", "s.plate_id = (SELECT id FROM records_plate WHERE plate_id = 'PL-1')",
                of="SELECT id FROM records_plate", last=WEEKS // CHECKS, plate_id="o.id", at=_back(f"n * {every}"))
    )  # fmt: skip


def _stations(bench: Lot, _execute: _Execute) -> None:
    from lapwright.app import live, shelf

    for name, plate in STATIONS.items():
        kind = "polish" if name.startswith("P") else "lap"
        shelf.set_up_station(Station(station_id=name, name=name, kind=kind, plate=plate), **bench.why())  # type: ignore[arg-type]
    for one in shelf.list_stations():
        name = one.station.station_id
        live.set_feed(Feed(station_id=name, source=f"replay:{name}.csv", gauge_id="G1", resolution=1e-7), **bench.why())


def _lots(bench: Lot, execute: _Execute) -> None:
    """Lots of each item, one after the other."""
    from lapwright.app import supplies

    for item in ITEMS:
        for number in range(LOTS):
            received = bench.now.date() - timedelta(days=LOT_DAYS * (number + 1))
            kind, amount = ("adhesive", 5.0) if item == "mounting-wax" else ("slurry", 3.0)
            lot = SupplyLot(
                lot_id=f"{item}/{number}", kind=kind, item=item, measure="mass" if kind == "adhesive" else "volume",  # type: ignore[arg-type]
                amount=amount, received=received, expires=received + timedelta(days=500), lead_time=1e6,
                feed=None if kind == "adhesive" else 5e-8, per_bond=4e-4 if kind == "adhesive" else None,
            )  # fmt: skip
            supplies.record_lot(lot, **bench.why())
    supplies.take_of_lot("mounting-wax/0", "used", 0.01, **bench.why())
    execute(
        _copies("SupplyUse", "1", of="SELECT id FROM records_supplylot", last=USES, lot_id="o.id", at=_back("n * 3"))
    )


def _runs(_bench: Lot, execute: _Execute) -> None:
    """Each run and bond drew on the lot of its days, and each run on iron on the first plate."""
    of_run = _of_days("records_run.at", "records_run.abrasive")
    copied = f"wafer_id IN (SELECT id FROM records_wafer WHERE {COPIED})"  # noqa: S608  our own
    execute(f"UPDATE records_run SET abrasive_supply_id = {of_run} WHERE {copied}")  # noqa: S608  our own
    execute(
        "UPDATE records_run SET plate_record_id = (SELECT id FROM records_plate WHERE plate_id = 'PL-1')"  # noqa: S608
        f" WHERE plate = 'cast-iron' AND {copied}"
    )
    of_bond = _of_days("records_bond.at", "'mounting-wax'")
    execute(
        f"UPDATE records_bond SET adhesive_supply_id = {of_bond},"  # noqa: S608
        f" adhesive_lot = (SELECT lot_id FROM records_supplylot WHERE id = {of_bond}) WHERE {copied}"
    )


def _of_days(at: str, item: str) -> str:
    """The lot of an item in use at a time."""
    place = f"min({LOTS - 1}, max(0, CAST((julianday({LAST_DAY}) - julianday({at})) / {LOT_DAYS} AS INTEGER)))"
    return f"(SELECT l.id FROM records_supplylot l WHERE l.lot_id = {item} || '/' || {place})"  # noqa: S608  our own


def _recipes(bench: Lot, execute: _Execute) -> None:
    """A recipe for each abrasive, which the runs of the years followed, and others that nobody ran."""
    from lapwright.app import recipes

    recipes_of = {f"{abrasive} on {plate}": (plate, abrasive) for abrasive, plate in ITEMS.items() if plate}
    others: dict[str, tuple[str, str]] = {f"trial {number}": ("glass", "al2o3-3") for number in range(20)}
    for name, (plate, abrasive) in (recipes_of | others).items():
        for number in range(RECIPE_VERSIONS):
            settings = RunSettings(material="LiTaO3", plate=plate, abrasive=abrasive, load=10.0 + number)
            recipes.approve(name, recipes.write_version(name, settings, **bench.why()), **bench.why())
    for name, (_plate, abrasive) in recipes_of.items():
        execute(
            'INSERT INTO records_recipeuse ("by", reason, at, run_id, recipe_version_id)'  # noqa: S608  our own
            ' SELECT r."by", r.reason, r.at, r.id, v.id FROM records_run r JOIN records_recipeversion v'
            f" ON v.number = 1 + r.id % {RECIPE_VERSIONS} JOIN records_recipe c ON c.id = v.recipe_id"
            f" WHERE c.recipe_id = '{name}' AND r.abrasive = '{abrasive}'"
        )


def _papers(bench: Lot, execute: _Execute) -> None:
    """Price lists, a quotation for each order, and what the shifts told one another."""
    from lapwright.app import handover, prices, quotations

    usual = prices.usual_prices()
    for number in range(PRICE_VERSIONS):
        prices.record_prices(replace(usual, labour=60.0 + number), **bench.why())
    quotations.record_quotation("AP-2", **bench.why())
    execute(
        _copies("Quotation", "1", of="SELECT id, order_id, at FROM records_order WHERE order_id LIKE 'LS-%'"
                " AND id IN (SELECT order_id FROM records_route)",
                last=1, order_id="o.id", at="o.at", quotation="replace(s.quotation, 'AP-2', o.order_id)")
    )  # fmt: skip
    given = handover.give("", "Pad of P1 is worn.", **bench.why())
    base = _next_key("handover", execute)
    execute(
        _copies("Handover", "1", of="SELECT 1", last=HANDOVERS, id=f"{base} + {HANDOVERS} - n", at=_back("n / 3.0"))
    )
    handover.take(given.handover_id, by="hand1", reason="read", at=bench.now)
    execute(
        _copies("HandoverTaken", "1", of="SELECT 1", first=3, last=HANDOVERS, handover_id=f"{base} + {HANDOVERS} - n",
                at=_back("n / 3.0"))
    )  # fmt: skip


def _jigs(bench: Lot, execute: _Execute) -> None:
    from lapwright.app import jig_moves, shelf

    for number in range(2, 11):
        shelf.register_jig(replace(JIG, jig_id=f"J{number}", name=f"jig {number}"), **bench.why())
    jig_moves.record_move("J1", (1.0, 0.0, -0.5), wafer_id="AP-2-01", **bench.why())
    some = f"SELECT id, since FROM records_wafer WHERE {COPIED} ORDER BY id DESC LIMIT {MOVES}"  # noqa: S608  our own
    execute(_copies("JigMove", "1", of=some, last=1, wafer_id="o.id", at="o.since"))


def _faces(bench: Lot, execute: _Execute) -> None:
    """A face by fringes and a finish of some wafers; the files are those of the first."""
    from lapwright.app import surface_records
    from lapwright.model.surface_record import FringeSettings, ProfileSettings, SurfaceRequest
    from lapwright.testing import faces
    from lapwright.testing.lot import ORDER

    fringes = FringeSettings(outline=ORDER.outline, edge_exclusion=2e-3, method="carrier", fringe_height=faces.FRINGE,
                             scale_reach=1e-5, reference_flatness=30e-9, tilt_opens_toward=0.0)  # fmt: skip
    stylus = ProfileSettings(instrument_kind="stylus", tip_radius=2e-6, noise=5e-11, height_uncertainty=0.02)
    files = (("fringes.png", faces.fringe_file(side=1024)), ("finish.csv", faces.profile_file()))
    shots = [
        SurfaceRequest(wafer_id="AP-2-01", moment="final", files=(one,), instrument="bench") for one in files
    ]  # fmt: skip
    made = (
        surface_records.record_fringes(shots[0], fringes, **bench.why()),
        surface_records.record_profile(shots[1], stylus, **bench.why()),
    )
    some = (
        "SELECT id, order_id, row_number() OVER (ORDER BY id) AS k FROM records_wafer"  # noqa: S608  our own
        f" WHERE {COPIED} AND id % {EVERY} = 0"
    )
    for one in made:
        base = _next_key("document", execute)
        document = f"{base} + o.k"
        execute(
            _copies("Document", f"s.id = {one.document_ids[0]}", of=some, last=1, id=document,
                    order_id="o.order_id", wafer_id="o.id", at=_back("o.k * 3.4"))
        )  # fmt: skip
        execute(
            _copies("Surface", f"s.id = {one.surface_id}", of=some, last=1, wafer_id="o.id",
                    documents=f"'[' || ({document}) || ']'", at=_back("o.k * 3.4"))
        )  # fmt: skip


def _streams(bench: Lot, execute: _Execute) -> None:
    """The last run on each station as the recorder kept it: half an hour, ten readings a second."""
    import numpy as np

    from lapwright.model.readings import Signature
    from lapwright.records import writer
    from lapwright.records.stream_blocks import Portion
    from lapwright.records.writer.streams import NewEnd, NewStream

    found = execute("SELECT max(id) FROM records_run WHERE ended_at = (SELECT max(r.ended_at) FROM records_run r"
                    " WHERE r.station_id = records_run.station_id) GROUP BY station_id")  # fmt: skip
    times = np.round(np.arange(0.0, 1800.0, 0.1), 6)
    for (run_id,) in found.fetchall():
        signature = Signature(**bench.why())
        new = NewStream(run_id=run_id, feed=None, target=4e-5, time=None, zero=0.0, rate=2e-8)
        stream_id = writer.begin_stream(new, signature)
        writer.add_portions([Portion(stream_id=stream_id, times=times, lengths=times * 2e-8)])
        writer.end_stream(stream_id, NewEnd(outcome="target", after=1800.0, removed=3.6e-5), signature)


def _next_key(table: str, execute: _Execute) -> int:
    return math.ceil(1 + int(execute(f"SELECT coalesce(max(id), 0) FROM records_{table}").fetchone()[0]))  # noqa: S608


#: What is made, in its order: the first four rest on the shop's gauge, carrier, jig and stations alone.
PARTS: tuple[Callable[[Lot, _Execute], None], ...] = (
    _people, _gauges, _stations, _lots, _studies, _plates, _runs, _recipes, _papers, _jigs, _faces, _streams
)  # fmt: skip
