"""Reading the records: every function gives values of the model, oldest first where nothing else is said."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from datetime import datetime
from typing import Any, get_args

from django.db import connection
from django.db.models import F, Max, Model, Prefetch, Q, QuerySet

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
    WaferState,
)
from lapwright.model.name_order import name_key
from lapwright.model.readings import Calibration, Gauge, Moment, Signature, Subject
from lapwright.model.shelf import PersonCard, RecordedCarrier, RecordedJig, RecordedStation
from lapwright.model.surface_record import RecordedSurface, SurfaceKind
from lapwright.model.wafer import Carrier
from lapwright.records import kept, models, rows
from lapwright.records.coding import from_plain
from lapwright.records.faults import translated

GaugeRecord = tuple[Gauge, Calibration | None, int, Signature]
#: States of a wafer with which nothing more happens.
OVER: tuple[WaferState, ...] = ("certified", "rejected")
GOING: tuple[WaferState, ...] = tuple(state for state in get_args(WaferState) if state not in OVER)

_LOTS = ("abrasive_supply", "pad_supply")  # of a station


def people() -> tuple[PersonCard, ...]:
    """Everybody, by short name."""
    with translated():
        return tuple(rows.person(row) for row in models.Person.objects.order_by("username"))


def order(order_id: str) -> RecordedOrder:
    """One order."""
    with translated():
        names = models.Wafer.objects.only("order_id", "wafer_id").order_by("position")
        return rows.order(find(models.Order.objects.prefetch_related(Prefetch("wafers", names)), "order_id", order_id))


def names_like(kind: str, name: str) -> tuple[str, ...]:
    """The names of wafers, jigs, gauges, plates, stations, orders or lots that are a name but for its capitals."""
    with translated():
        model = {
            "wafer": models.Wafer, "gauge": models.Gauge, "plate": models.Plate, "station": models.Station,
            "order": models.Order, "jig": models.Jig, "lot": models.SupplyLot,
        }[kind]  # fmt: skip
        key = f"{kind}_id"
        return tuple(model._default_manager.filter(**{f"{key}__iexact": name}).values_list(key, flat=True)[:5])  # noqa: SLF001  Django's public name


def wafer(wafer_id: str) -> RecordedWafer:
    """One wafer."""
    with translated():
        return rows.wafer(find(wafer_rows(), "wafer_id", wafer_id))


def wafers(order_id: str | None = None) -> tuple[RecordedWafer, ...]:
    """The wafers of one order in their order, or of all."""
    with translated():
        found = wafer_rows() if order_id is None else wafer_rows().filter(order__order_id=order_id)
        return tuple(rows.wafer(row) for row in found)


def wafers_to_measure(newest: int, *, besides: str = "") -> tuple[tuple[str, str], ...]:
    """Order and wafer of every wafer not rejected of the newest orders, and that of one wafer besides; newest first."""
    with translated():
        latest = list(models.Order.objects.order_by("-pk").values_list("pk", flat=True)[:newest])
        found = models.Wafer.objects.filter(Q(order__in=latest) | Q(wafer_id=besides)).exclude(state="rejected")
        return tuple(found.order_by("-order__order_id", "position").values_list("order__order_id", "wafer_id"))


def wafers_in_states(
    states: Iterable[WaferState], *, order_ids: Iterable[str] | None = None
) -> tuple[RecordedWafer, ...]:
    """The wafers that stand in one of some states, of some orders or of all."""
    with translated():
        found = wafer_rows().filter(state__in=list(states))
        found = found if order_ids is None else found.filter(order__order_id__in=list(order_ids))
        return tuple(rows.wafer(row) for row in found)


def bonds(bond_ids: Iterable[int]) -> dict[int, RecordedBond]:
    """Bonds by their numbers."""
    with translated():
        return {row.pk: rows.bond(row) for row in bond_rows().filter(pk__in=list(bond_ids))}


def events(wafer_id: str) -> tuple[WaferEvent, ...]:
    """The steps of a wafer."""
    with translated():
        return tuple(
            rows.event(row)
            for row in models.WaferEvent.objects.filter(wafer__wafer_id=wafer_id).select_related("wafer")
        )


def reading_set(set_id: int) -> RecordedSet:
    """One set with its readings."""
    with translated():
        return kept.reading_set(find(kept.sets(), "pk", set_id, what="readings set"))


def latest_set(piece: str, subject: Subject, moment: Moment | None = None) -> RecordedSet | None:
    """The last closed set of a piece, of one moment or of any."""
    with translated():
        found = kept.sets().filter(piece=piece, subject=subject, state="closed")
        if moment is not None:
            found = found.filter(moment=moment)
        row = found.order_by("-closed_at", "-pk").first()
        return None if row is None else kept.reading_set(row)


def latest_sets(pieces: Iterable[str], subject: Subject, moment: Moment) -> dict[str, RecordedSet]:
    """The last closed set of a moment of each of some pieces, by its name; pieces without one are left out."""
    with translated():
        heads = models.ReadingSet.objects.filter(piece__in=list(pieces), subject=subject, state="closed", moment=moment)
        last = dict(heads.order_by("closed_at", "pk").values_list("piece", "pk"))
        return {one.piece: one for one in kept.reading_sets(kept.sets().filter(pk__in=list(last.values())))}


def site_values(order_id: str, moment: Moment, *, besides: str) -> tuple[tuple[float, ...], ...]:
    """The values read on each other piece of an order in the closed sets of a moment, in m."""
    with translated():
        sets = models.ReadingSet.objects.filter(order__order_id=order_id, moment=moment, state="closed")
        piece_of = dict(sets.exclude(piece=besides).values_list("pk", "piece"))
        # by the numbers of the sets: joined, the database would go through all readings there are
        read = models.Reading.objects.filter(set__in=list(piece_of), kind="site", corrected_by=None)
        found = read.exclude(value_m=None).values_list("set_id", "value_m")
        pieces: dict[str, list[float]] = {}
        for set_id, value in found:
            pieces.setdefault(piece_of[set_id], []).append(value)
        return tuple(tuple(values) for values in pieces.values())


def open_since() -> dict[str, datetime]:
    """Wafer -> when its set that is being taken was opened."""
    with translated():
        found = models.ReadingSet.objects.filter(state="open").exclude(wafer=None).order_by("pk")
        return dict(found.values_list("wafer__wafer_id", "at"))


def set_with_source(sha256: str) -> RecordedSet | None:
    """A set that came from a file with that content."""
    with translated():
        row = kept.sets().filter(source_sha256=sha256).exclude(state="void").first()
        return None if row is None else kept.reading_set(row)


def gauge(gauge_id: str) -> GaugeRecord:
    """One gauge, its latest calibration, its version and who recorded it."""
    with translated():
        return _gauge(find(models.Gauge.objects.all(), "gauge_id", gauge_id))


def gauges() -> tuple[GaugeRecord, ...]:
    """All gauges by name."""
    with translated():
        latest = {
            row.gauge_id: row for row in models.Calibration.objects.select_related("gauge").order_by("done", "pk")
        }
        found = sorted(models.Gauge.objects.all(), key=lambda row: name_key(row.gauge_id))
        return tuple(_gauge_with(row, latest.get(row.pk)) for row in found)


def carrier(carrier_id: str) -> RecordedCarrier:
    """One carrier."""
    with translated():
        return _carriers([find(models.Carrier.objects.all(), "carrier_id", carrier_id)])[0]


def carrier_itself(carrier_id: str) -> Carrier:
    """One carrier, without what is on it."""
    with translated():
        plain = find(models.Carrier.objects.all(), "carrier_id", carrier_id).definition
        itself: Carrier = from_plain(plain)
        return itself


def carriers() -> tuple[RecordedCarrier, ...]:
    """All carriers by name."""
    with translated():
        return _carriers(sorted(models.Carrier.objects.all(), key=lambda row: name_key(row.carrier_id)))


def jig(jig_id: str) -> RecordedJig:
    """One jig."""
    with translated():
        return rows.jig(find(models.Jig.objects.all(), "jig_id", jig_id))


def jigs() -> tuple[RecordedJig, ...]:
    """All jigs by name."""
    with translated():
        return tuple(rows.jig(row) for row in sorted(models.Jig.objects.all(), key=lambda row: name_key(row.jig_id)))


def station(station_id: str) -> RecordedStation:
    """One station."""
    with translated():
        return rows.station(find(models.Station.objects.select_related(*_LOTS), "station_id", station_id))


def stations() -> tuple[RecordedStation, ...]:
    """All stations by name."""
    with translated():
        found = sorted(models.Station.objects.select_related(*_LOTS), key=lambda row: name_key(row.station_id))
        return tuple(rows.station(row) for row in found)


def bond(bond_id: int) -> RecordedBond:
    """One bond."""
    with translated():
        return rows.bond(find(bond_rows(), "pk", bond_id, what="bond"))


def chosen_route(order_id: str) -> RecordedRoute | None:
    """The route an order follows."""
    with translated():
        row = models.Route.objects.select_related("order").filter(order__order_id=order_id, chosen=True).first()
        return None if row is None else rows.route(row)


def stages(wafer_id: str) -> tuple[RecordedStage, ...]:
    """The stages of a wafer in order."""
    with translated():
        return tuple(rows.stage(row) for row in stage_rows().filter(wafer__wafer_id=wafer_id))


def worked_wafers(order_id: str) -> tuple[str, ...]:
    """Wafers of an order, in their order, on which a stage that removes something is done."""
    with translated():
        done = models.Stage.objects.filter(
            wafer__order__order_id=order_id, replaced=False, state="done", planned__removal__gt=0.0
        )
        listed = done.order_by("wafer__position", "wafer__pk").values_list("wafer__wafer_id", flat=True)
        return tuple(dict.fromkeys(listed))


def stage(stage_id: int) -> RecordedStage:
    """One stage."""
    with translated():
        return rows.stage(find(stage_rows(), "pk", stage_id, what="stage"))


def zeros(wafer_id: str) -> tuple[RecordedZero, ...]:
    """The zeros taken for a wafer."""
    with translated():
        return tuple(rows.zero(row) for row in zero_rows().filter(wafer__wafer_id=wafer_id))


def zero(zero_id: int) -> RecordedZero:
    """One zero."""
    with translated():
        return rows.zero(find(zero_rows(), "pk", zero_id, what="zero"))


def holding_zeros(*, station_id: str | None = None, jig_id: str | None = None) -> tuple[RecordedZero, ...]:
    """Accepted zeros that still hold, of a station or a jig."""
    with translated():
        found = zero_rows().filter(accepted=True, void=None)
        if station_id is not None:
            found = found.filter(station__station_id=station_id)
        if jig_id is not None:
            found = found.filter(jig__jig_id=jig_id)
        return tuple(rows.zero(row) for row in found)


def run(run_id: int) -> RecordedRun:
    """One run."""
    with translated():
        return rows.run(find(run_rows(), "pk", run_id, what="run"))


def running_runs() -> tuple[RecordedRun, ...]:
    """Runs that have started and not ended."""
    with translated():
        return tuple(rows.run(row) for row in run_rows().filter(ended_at=None))


def verdicts(wafer_id: str) -> tuple[RecordedVerdict, ...]:
    """All verdicts on a wafer."""
    return verdicts_of([wafer_id]).get(wafer_id, ())


def verdicts_of(wafer_ids: Iterable[str]) -> dict[str, tuple[RecordedVerdict, ...]]:
    """Wafer -> all verdicts on it."""
    with translated():
        found: dict[str, list[RecordedVerdict]] = {}
        for row in verdict_rows().filter(wafer__wafer_id__in=list(wafer_ids)):
            found.setdefault(row.wafer.wafer_id, []).append(rows.verdict(row))
        return {wafer_id: tuple(listed) for wafer_id, listed in found.items()}


def surface(surface_id: int) -> RecordedSurface:
    """One measured face."""
    with translated():
        return rows.surface(find(surface_rows(), "pk", surface_id, what="measured face"))


def surfaces(kind: SurfaceKind, wafer_id: str | None = None, *, newest: int = 200) -> tuple[RecordedSurface, ...]:
    """Measured faces of a kind, of one wafer or of all, so many of the newest, the newest first."""
    with translated():
        found = surface_rows().filter(kind=kind).order_by("-pk")
        if wafer_id is not None:
            found = found.filter(wafer__wafer_id=wafer_id)
        return tuple(rows.surface(row) for row in found[:newest])


def document(document_id: int) -> RecordedDocument:
    """One kept file."""
    with translated():
        return rows.document(find(document_rows(), "pk", document_id, what="document"))


def warnings_of(order_id: str) -> tuple[RecordedNote, ...]:
    """Warnings noted for an order and its wafers."""
    with translated():
        return tuple(rows.note(row) for row in note_rows().filter(order__order_id=order_id, kind="warning"))


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


def wafer_rows() -> QuerySet[models.Wafer]:
    """Wafers, with the names that `rows.wafer` needs and nothing else of what they point at."""
    named = {"order_name": F("order__order_id"), "lot_name": F("lot__lot_id"),
             "carrier_name": F("bond__carrier__carrier_id")}  # fmt: skip
    return models.Wafer.objects.annotate(**named).order_by("order_id", "position")


def orders_with_wafers() -> QuerySet[models.Order]:
    """Orders, each with its wafers as `rows.wafer` needs them."""
    return models.Order.objects.prefetch_related(Prefetch("wafers", wafer_rows()))


def bond_rows() -> QuerySet[models.Bond]:
    """Bonds, with what `rows.bond` needs."""
    return rows.named(models.Bond.objects, "wafer", "carrier").select_related("adhesive_supply").order_by("pk")


def stage_rows() -> QuerySet[models.Stage]:
    """Stages that hold, in order."""
    return rows.named(models.Stage.objects.filter(replaced=False), "wafer").order_by("number")


def zero_rows() -> QuerySet[models.Zero]:
    """Zeros, with what `rows.zero` needs."""
    return rows.named(models.Zero.objects, "wafer", "station", "jig").order_by("pk")


def surface_rows() -> QuerySet[models.Surface]:
    """Measured faces, with what `rows.surface` needs."""
    return models.Surface.objects.select_related("wafer", "gauge").prefetch_related("findings").order_by("pk")


def run_rows() -> QuerySet[models.Run]:
    """Runs, with what `rows.run` needs."""
    return rows.named(models.Run.objects, "wafer", "station", "jig").order_by("pk")


def verdict_rows() -> QuerySet[Any]:
    """Verdicts, with what `rows.verdict` needs."""
    return rows.named(models.Verdict.objects, "wafer").order_by("pk")


def note_rows() -> QuerySet[Any]:
    """Notes, with what `rows.note` needs."""
    return models.Note.objects.select_related("order", "wafer").order_by("pk")


def document_rows() -> QuerySet[Any]:
    """Kept files, with what `rows.document` needs."""
    return rows.named(models.Document.objects, "order", "wafer").order_by("pk")


# ----------------------------------------------------------------------------------------------------------------------


def _meta_name(model: type[Model]) -> str:
    return str(model._meta.verbose_name)  # noqa: SLF001  Django's public name for it


def _carriers(listed: list[models.Carrier]) -> tuple[RecordedCarrier, ...]:
    """Carriers, each with what is on it and its latest set."""
    standing = models.Bond.objects.filter(carrier__in=listed, undone_at=None)
    on_them: dict[int, str] = dict(standing.values_list("carrier_id", "wafer__wafer_id"))
    read = models.ReadingSet.objects.filter(carrier__in=listed, subject="carrier", state="closed").order_by()
    latest: dict[int, int] = dict(read.values_list("carrier_id").annotate(last=Max("pk")))
    return tuple(rows.carrier(row, on_them.get(row.pk), latest.get(row.pk)) for row in listed)


def _gauge(row: models.Gauge) -> GaugeRecord:
    return _gauge_with(row, row.calibrations.select_related("gauge").order_by("-done", "-pk").first())


def _gauge_with(row: models.Gauge, latest: models.Calibration | None) -> GaugeRecord:
    calibration = None if latest is None else rows.calibration(latest)
    return from_plain(row.definition), calibration, row.version, rows.signature(row)
