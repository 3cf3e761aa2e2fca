"""Reading the records: every function gives values of the model, oldest first where nothing else is said."""

from __future__ import annotations

import difflib
from collections import Counter
from datetime import date, datetime
from typing import Any

from django.db import connection
from django.db.models import Max, Model, Q, QuerySet

from lapwright.errors import NotFound
from lapwright.model.job import (
    RecordedBond,
    RecordedDocument,
    RecordedNote,
    RecordedOrder,
    RecordedRoute,
    RecordedRun,
    RecordedSet,
    RecordedStage,
    RecordedVerdict,
    RecordedWafer,
    RecordedZero,
    WaferEvent,
)
from lapwright.model.readings import Calibration, Gauge, Moment, Signature, Subject
from lapwright.model.shelf import PersonCard, RecordedCarrier, RecordedJig, RecordedStation
from lapwright.model.story import OrderLine, OrderStory, WaferAtWork, WaferStory
from lapwright.model.surface_record import RecordedSurface, SurfaceKind
from lapwright.model.verdict import Outcome
from lapwright.model.wafer import Outline, Round
from lapwright.records import models, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated

GaugeRecord = tuple[Gauge, Calibration | None, int, Signature]
#: From good to bad; a wafer is as good as the worst of its limits.
OUTCOMES: tuple[Outcome, ...] = ("conforms", "cannot_be_decided", "does_not_conform")


def people() -> tuple[PersonCard, ...]:
    """Everybody, by short name."""
    with translated():
        return tuple(rows.person(row) for row in models.Person.objects.order_by("username"))


def order(order_id: str) -> RecordedOrder:
    """One order."""
    with translated():
        return rows.order(find(models.Order.objects.prefetch_related("wafers"), "order_id", order_id))


def order_lines() -> tuple[OrderLine, ...]:
    """Every order with the states of its wafers and the worst verdict, the earliest due first."""
    with translated():
        found = models.Order.objects.prefetch_related("wafers").order_by("due", "order_id")
        worst = _worst_outcomes()
        lines = [
            OrderLine(
                order_id=row.order_id,
                customer=row.customer,
                material=row.material,
                quantity=row.quantity,
                due=row.due,
                states=tuple(sorted(Counter(wafer.state for wafer in row.wafers.all()).items())),  # type: ignore[arg-type]
                worst=worst.get(row.pk),
                simulated=row.simulated,
                received=row.at,
            )
            for row in found
        ]
    return tuple(sorted(lines, key=lambda line: line.due or date.max))


def wafer(wafer_id: str) -> RecordedWafer:
    """One wafer."""
    with translated():
        return rows.wafer(find(_wafers(), "wafer_id", wafer_id))


def wafers(order_id: str | None = None) -> tuple[RecordedWafer, ...]:
    """The wafers of one order in their order, or of all."""
    with translated():
        found = _wafers() if order_id is None else _wafers().filter(order__order_id=order_id)
        return tuple(rows.wafer(row) for row in found)


def events(wafer_id: str) -> tuple[WaferEvent, ...]:
    """The steps of a wafer."""
    with translated():
        return tuple(
            rows.event(row)
            for row in models.WaferEvent.objects.filter(wafer__wafer_id=wafer_id).select_related("wafer")
        )


def wafer_story(wafer_id: str) -> WaferStory:
    """All of one wafer."""
    with translated():
        row = find(_wafers(), "wafer_id", wafer_id)
        return _story(row)


def wafer_at_work(wafer_id: str) -> WaferAtWork:
    """What the next step of a wafer rests on."""
    with translated():
        row = find(_wafers(), "wafer_id", wafer_id)
        bond_row = None if row.bond_id is None else _bonds().get(pk=row.bond_id)
        judged = None if bond_row is None or bond_row.numbers is None else bond_row
        ids = [] if judged is None else [judged.wafer_set_id or 0, judged.stack_set_id or 0]
        return WaferAtWork(
            wafer=rows.wafer(row),
            bond=None if bond_row is None else rows.bond(bond_row),
            stages=tuple(rows.stage(item) for item in _stages().filter(wafer=row)),
            zeros=tuple(rows.zero(item) for item in _zeros().filter(wafer=row)),
            runs=tuple(rows.run(item) for item in _runs().filter(wafer=row)),
            latest=_latest_of(row, judged),
            bond_sets=tuple(rows.reading_set(item) for item in _sets().filter(pk__in=ids)),
        )


def order_story(order_id: str) -> OrderStory:
    """All of one order."""
    with translated():
        row = find(models.Order.objects.prefetch_related("wafers"), "order_id", order_id)
        return OrderStory(
            order=rows.order(row),
            wafers=tuple(_story(wafer) for wafer in _wafers().filter(order=row)),
            carrier_sets=tuple(
                rows.reading_set(item) for item in _sets().filter(order=row, subject="carrier").order_by("at", "pk")
            ),
            routes=tuple(rows.route(item) for item in row.routes.select_related("order").order_by("pk")),
            notes=tuple(rows.note(item) for item in _notes().filter(order=row, wafer=None)),
            documents=tuple(rows.document(item) for item in _documents().filter(order=row, wafer=None)),
        )


def reading_set(set_id: int) -> RecordedSet:
    """One set with its readings."""
    with translated():
        return rows.reading_set(find(_sets(), "pk", set_id, what="readings set"))


def set_surroundings(set_id: int) -> tuple[Outline, float, Gauge]:
    """Outline and edge exclusion [m] of the piece of a set, and the gauge that took it; a carrier counts whole."""
    with translated():
        related = models.ReadingSet.objects.select_related("wafer", "order", "carrier", "gauge")
        row = find(related, "pk", set_id, what="readings set")
        gauge = from_plain(row.gauge.definition)
        if row.carrier is not None:
            return Round(diameter=from_plain(row.carrier.definition).diameter), 0.0, gauge
        return from_plain(row.wafer.definition).outline, from_plain(row.order.definition).edge_exclusion, gauge


def latest_set(piece: str, subject: Subject, moment: Moment | None = None) -> RecordedSet | None:
    """The last closed set of a piece, of one moment or of any."""
    with translated():
        found = _sets().filter(piece=piece, subject=subject, state="closed")
        if moment is not None:
            found = found.filter(moment=moment)
        row = found.order_by("-closed_at", "-pk").first()
        return None if row is None else rows.reading_set(row)


def site_values(order_id: str, moment: Moment, *, besides: str) -> tuple[tuple[float, ...], ...]:
    """The values read on each other piece of an order in the closed sets of a moment, in m."""
    with translated():
        found = (
            models.Reading.objects.filter(
                set__order__order_id=order_id, set__moment=moment, set__state="closed", kind="site", corrected_by=None
            )
            .exclude(set__piece=besides)
            .exclude(value_m=None)
            .values_list("set__piece", "value_m")
        )
        pieces: dict[str, list[float]] = {}
        for piece, value in found:
            pieces.setdefault(piece, []).append(value)
        return tuple(tuple(values) for values in pieces.values())


def open_sets() -> tuple[RecordedSet, ...]:
    """Sets that are being taken."""
    with translated():
        return tuple(rows.reading_set(row) for row in _sets().filter(state="open").order_by("pk"))


def set_with_source(sha256: str) -> RecordedSet | None:
    """A set that came from a file with that content."""
    with translated():
        row = _sets().filter(source_sha256=sha256).exclude(state="void").first()
        return None if row is None else rows.reading_set(row)


def gauge(gauge_id: str) -> GaugeRecord:
    """One gauge, its latest calibration, its version and who recorded it."""
    with translated():
        return _gauge(find(models.Gauge.objects.all(), "gauge_id", gauge_id))


def gauges() -> tuple[GaugeRecord, ...]:
    """All gauges by name."""
    with translated():
        return tuple(_gauge(row) for row in models.Gauge.objects.order_by("gauge_id"))


def carrier(carrier_id: str) -> RecordedCarrier:
    """One carrier."""
    with translated():
        return _carrier(find(models.Carrier.objects.all(), "carrier_id", carrier_id))


def carriers() -> tuple[RecordedCarrier, ...]:
    """All carriers by name."""
    with translated():
        return tuple(_carrier(row) for row in models.Carrier.objects.order_by("carrier_id"))


def jig(jig_id: str) -> RecordedJig:
    """One jig."""
    with translated():
        return rows.jig(find(models.Jig.objects.all(), "jig_id", jig_id))


def jigs() -> tuple[RecordedJig, ...]:
    """All jigs by name."""
    with translated():
        return tuple(rows.jig(row) for row in models.Jig.objects.order_by("jig_id"))


def station(station_id: str) -> RecordedStation:
    """One station."""
    with translated():
        return rows.station(find(models.Station.objects.all(), "station_id", station_id))


def stations() -> tuple[RecordedStation, ...]:
    """All stations by name."""
    with translated():
        return tuple(rows.station(row) for row in models.Station.objects.order_by("station_id"))


def bond(bond_id: int) -> RecordedBond:
    """One bond."""
    with translated():
        return rows.bond(find(_bonds(), "pk", bond_id, what="bond"))


def chosen_route(order_id: str) -> RecordedRoute | None:
    """The route an order follows."""
    with translated():
        row = models.Route.objects.select_related("order").filter(order__order_id=order_id, chosen=True).first()
        return None if row is None else rows.route(row)


def stages(wafer_id: str) -> tuple[RecordedStage, ...]:
    """The stages of a wafer in order."""
    with translated():
        return tuple(rows.stage(row) for row in _stages().filter(wafer__wafer_id=wafer_id))


def stage(stage_id: int) -> RecordedStage:
    """One stage."""
    with translated():
        return rows.stage(find(_stages(), "pk", stage_id, what="stage"))


def zeros(wafer_id: str) -> tuple[RecordedZero, ...]:
    """The zeros taken for a wafer."""
    with translated():
        return tuple(rows.zero(row) for row in _zeros().filter(wafer__wafer_id=wafer_id))


def zero(zero_id: int) -> RecordedZero:
    """One zero."""
    with translated():
        return rows.zero(find(_zeros(), "pk", zero_id, what="zero"))


def holding_zeros(*, station_id: str | None = None, jig_id: str | None = None) -> tuple[RecordedZero, ...]:
    """Accepted zeros that still hold, of a station or a jig."""
    with translated():
        found = _zeros().filter(accepted=True, void=None)
        if station_id is not None:
            found = found.filter(station__station_id=station_id)
        if jig_id is not None:
            found = found.filter(jig__jig_id=jig_id)
        return tuple(rows.zero(row) for row in found)


def run(run_id: int) -> RecordedRun:
    """One run."""
    with translated():
        return rows.run(find(_runs(), "pk", run_id, what="run"))


def running_runs() -> tuple[RecordedRun, ...]:
    """Runs that have started and not ended."""
    with translated():
        return tuple(rows.run(row) for row in _runs().filter(ended_at=None))


def verdicts(wafer_id: str) -> tuple[RecordedVerdict, ...]:
    """All verdicts on a wafer."""
    with translated():
        return tuple(rows.verdict(row) for row in _verdicts().filter(wafer__wafer_id=wafer_id))


def surface(surface_id: int) -> RecordedSurface:
    """One measured face."""
    with translated():
        return rows.surface(find(_surfaces(), "pk", surface_id, what="measured face"))


def surfaces(kind: SurfaceKind, wafer_id: str | None = None) -> tuple[RecordedSurface, ...]:
    """Measured faces of a kind, of one wafer or the last two hundred of all, the newest first."""
    with translated():
        found = _surfaces().filter(kind=kind).order_by("-pk")
        if wafer_id is not None:
            found = found.filter(wafer__wafer_id=wafer_id)
        return tuple(rows.surface(row) for row in found[:200])


def document(document_id: int) -> RecordedDocument:
    """One kept file."""
    with translated():
        return rows.document(find(_documents(), "pk", document_id, what="document"))


def warnings_of(order_id: str) -> tuple[RecordedNote, ...]:
    """Warnings noted for an order and its wafers."""
    with translated():
        return tuple(rows.note(row) for row in _notes().filter(order__order_id=order_id, kind="warning"))


def changes_since(table: str, row: int, version: int) -> tuple[models.Change, ...]:
    """The changes that made a row newer than a version."""
    return tuple(models.Change.objects.filter(table=table, row=row, version__gt=version).order_by("version"))


def database_check() -> tuple[bool, str]:
    """Whether the database is whole, as it finds itself, and a sentence."""
    with translated(), connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA quick_check")
            found = str(cursor.fetchone()[0])
            good = found == "ok"
            counts = f"{models.Order.objects.count()} orders, {models.Reading.objects.count()} readings"
            return good, f"SQLite, whole; {counts}." if good else f"SQLite finds damage: {found}. Restore a backup."
        cursor.execute("SELECT version()")
        return True, f"{str(cursor.fetchone()[0]).split(' on ')[0]} answers."


def last_reading_at(set_id: int) -> datetime | None:
    """When the last reading of a set was recorded."""
    with translated():
        return models.Reading.objects.filter(set_id=set_id).aggregate(last=Max("at"))["last"]  # type: ignore[no-any-return]


def find(found: QuerySet[Any], key: str, wanted: str | int, *, what: str | None = None) -> Any:
    """The row with a key. Raises `NotFound`, with the nearest name where names are words."""
    row = found.filter(**{key: wanted}).first()
    if row is not None:
        return row
    name = what or _meta_name(found.model)
    known = [] if key == "pk" else list(found.order_by().values_list(key, flat=True)[:5000])
    near = difflib.get_close_matches(str(wanted), [str(item) for item in known], 1, 0.4)
    hint = f" The nearest is {near[0]!r}." if near else " None is recorded." if key != "pk" and not known else ""
    raise NotFound(f"There is no {name} {wanted!r}.{hint}", name=name, wanted=wanted)


# ----------------------------------------------------------------------------------------------------------------------


def _meta_name(model: type[Model]) -> str:
    return str(model._meta.verbose_name)  # noqa: SLF001  Django's public name for it


def _wafers() -> QuerySet[models.Wafer]:
    return models.Wafer.objects.select_related("order", "lot", "bond__carrier").order_by("order_id", "position")


def _sets() -> QuerySet[models.ReadingSet]:
    return models.ReadingSet.objects.select_related("order", "wafer", "gauge").prefetch_related("readings")


def _bonds() -> QuerySet[models.Bond]:
    return models.Bond.objects.select_related("wafer", "carrier").order_by("pk")


def _stages() -> QuerySet[models.Stage]:
    return models.Stage.objects.filter(replaced=False).select_related("wafer").order_by("number")


def _zeros() -> QuerySet[models.Zero]:
    return models.Zero.objects.select_related("wafer", "station", "jig").order_by("pk")


def _surfaces() -> QuerySet[models.Surface]:
    return models.Surface.objects.select_related("wafer", "gauge").prefetch_related("findings").order_by("pk")


def _runs() -> QuerySet[models.Run]:
    return models.Run.objects.select_related("wafer", "station", "jig").order_by("pk")


def _verdicts() -> QuerySet[Any]:
    return models.Verdict.objects.select_related("wafer").order_by("pk")


def _notes() -> QuerySet[Any]:
    return models.Note.objects.select_related("order", "wafer").order_by("pk")


def _documents() -> QuerySet[Any]:
    return models.Document.objects.select_related("order", "wafer").order_by("pk")


def _story(row: models.Wafer) -> WaferStory:
    found = models.Finding.objects.filter(wafer=row).select_related("wafer", "gauge").order_by("pk")
    return WaferStory(
        wafer=rows.wafer(row),
        events=tuple(rows.event(item) for item in row.events.select_related("wafer")),
        sets=tuple(rows.reading_set(item) for item in _sets().filter(wafer=row).order_by("at", "pk")),
        bonds=tuple(rows.bond(item) for item in _bonds().filter(wafer=row)),
        stages=tuple(rows.stage(item) for item in _stages().filter(wafer=row)),
        zeros=tuple(rows.zero(item) for item in _zeros().filter(wafer=row)),
        runs=tuple(rows.run(item) for item in _runs().filter(wafer=row)),
        findings=tuple(rows.finding(item) for item in found),
        verdicts=tuple(rows.verdict(item) for item in _verdicts().filter(wafer=row)),
        notes=tuple(rows.note(item) for item in _notes().filter(wafer=row)),
        documents=tuple(rows.document(item) for item in _documents().filter(wafer=row)),
        surfaces=tuple(rows.surface(item) for item in _surfaces().filter(wafer=row)),
    )


def _latest_of(row: models.Wafer, judged: models.Bond | None) -> RecordedSet | None:
    """The closed set that says how thick a wafer is now."""
    closed = _sets().filter(wafer=row, state="closed").order_by("-closed_at", "-pk")
    found = None
    if judged is not None:
        found = closed.filter(moment__in=("after_stage", "on_carrier"), at__gte=judged.at).first()
    if found is None:
        found = closed.filter(subject="wafer").first()
    return None if found is None else rows.reading_set(found)


def _carrier(row: models.Carrier) -> RecordedCarrier:
    bond_row = models.Bond.objects.select_related("wafer").filter(carrier=row, undone_at=None).first()
    set_row = models.ReadingSet.objects.filter(carrier=row, subject="carrier", state="closed").order_by("-pk").first()
    wafer_id = None if bond_row is None else bond_row.wafer.wafer_id
    return rows.carrier(row, wafer_id, None if set_row is None else set_row.pk)


def _gauge(row: models.Gauge) -> GaugeRecord:
    latest = row.calibrations.select_related("gauge").order_by("-done", "-pk").first()
    calibration = None if latest is None else rows.calibration(latest)
    return from_plain(row.definition), calibration, row.version, rows.signature(row)


def _worst_outcomes() -> dict[int, Outcome]:
    """Order row -> worst outcome of the latest verdict on each limit of each of its wafers, rejected ones left out."""
    latest = (
        models.Verdict.objects.filter(~Q(wafer__state="rejected"))
        .values("wafer_id", "quantity")
        .annotate(last=Max("pk"))
        .values_list("last", flat=True)
    )
    worst: dict[int, Outcome] = {}
    for order_pk, outcome in models.Verdict.objects.filter(pk__in=latest).values_list("wafer__order_id", "outcome"):
        if order_pk not in worst or OUTCOMES.index(outcome) > OUTCOMES.index(worst[order_pk]):
            worst[order_pk] = outcome
    return worst
