"""Whether the pages can be served, and how the program stands: for whoever watches over the process."""

from __future__ import annotations

import shutil

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.http import require_safe

from lapwright import __version__
from lapwright.app import backups, gauges, people, program, wiring
from lapwright.web.measures import ANSWERS, CONTENT_TYPE, Family, counter, exposition, gauge
from lapwright.web.surroundings import now


@require_safe
def health(request: HttpRequest) -> JsonResponse:  # noqa: ARG001  # Django gives it
    """One line of JSON; an error of the records makes it 503 on the way up."""
    people.list_people()
    return JsonResponse({"ok": True, "version": __version__})


@require_safe
def metrics(request: HttpRequest) -> HttpResponse:  # noqa: ARG001  # Django gives it
    """How the program stands, in the OpenMetrics text format."""
    return HttpResponse(exposition((*_records(), *_surroundings(), *ANSWERS.families())), content_type=CONTENT_TYPE)


# ----------------------------------------------------------------------------------------------------------------------


def _records() -> tuple[Family, ...]:
    state = program.records_state()
    about = {"version": __version__, "database": state.server, "schema": state.schema}
    last = None if state.last_write is None else state.last_write.timestamp()
    return (
        Family(
            name="lapwright_build", kind="info", meaning="Version, database and schema.",
            samples=(("_info", about, 1.0),),
        ),
        gauge("lapwright_database_bytes", "Size of the database.", ({}, float(state.size)), unit="bytes"),
        counter("lapwright_links", "Links of the audit chain: transactions that wrote.", ({}, float(state.links))),
        gauge(
            "lapwright_last_write_timestamp_seconds", "When the last link was written, as Unix time.", ({}, last),
            unit="seconds",
        ),
        counter(
            "lapwright_rows_written", "Rows ever written.",
            *(({"what": name}, float(many)) for name, many in state.written.items()),
        ),
        gauge("lapwright_orders", "Orders on record.", ({}, float(state.orders))),
        gauge(
            "lapwright_wafers", "Wafers on record by state.",
            *(({"state": name}, float(many)) for name, many in sorted(state.wafers.items())),
        ),
        gauge("lapwright_runs_going", "Runs that go on under a recorder.", ({}, float(state.runs_going))),
        gauge(
            "lapwright_requests_waiting", "Requests that no recorder has answered.", ({}, float(state.requests_waiting))
        ),
    )  # fmt: skip


def _surroundings() -> tuple[Family, ...]:
    settings, at = wiring.current_settings(), now()
    made = backups.list_backups(backups.backup_folder(settings))
    age = (at - made[0].at).total_seconds() if made else None
    tried = None if not made else float(made[0].verified is not None)
    overdue = [one for one in gauges.list_gauges(on=at.date()) if one.calibration_state not in ("in_date", "due_soon")]
    free = float(shutil.disk_usage(settings.data).free)
    return (
        gauge("lapwright_disk_free_bytes", "Room on the disk of the data folder.", ({}, free), unit="bytes"),
        gauge("lapwright_backup_age_seconds", "Age of the last backup.", ({}, age), unit="seconds"),
        gauge("lapwright_backup_restored", "Whether the last backup was restored for a try.", ({}, tried)),
        gauge("lapwright_gauges_overdue", "Gauges without a calibration in date.", ({}, float(len(overdue)))),
    )
