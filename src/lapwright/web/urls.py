"""Addresses of the pages and of the API. Every page has a heading in docs/reference/pages.md."""

from __future__ import annotations

from django.urls import path

from lapwright.web import faults
from lapwright.web.api import api
from lapwright.web.pages import (
    accounts,
    answers,
    bench,
    deeds,
    documents,
    drift,
    explained,
    feeds,
    gauge_pairs,
    gauges,
    hands,
    health,
    intake,
    job_sheet,
    kinematics,
    odd_ones,
    orders,
    people,
    plates,
    prices,
    rates,
    readings,
    recipes,
    route,
    stations,
    surfaces,
    tilt,
    traveller,
    verdict,
    wafer_notes,
)

_ORDER = "orders/<str:order_id>"
_SET = f"{_ORDER}/readings/<int:set_id>"
_WAFER = f"{_ORDER}/wafers/<str:wafer_id>"
_STATION = "stations/<str:station_id>"
_GAUGE = "gauges/<str:gauge_id>"
_PLATE = "plates/<str:plate_id>"
_STUDY = f"{_GAUGE}/studies/<str:study_id>"

urlpatterns = [
    path("", hands.hands, name="hands"),
    path("who", people.who, name="who"),
    path("login", accounts.login, name="login"),
    path("logout", accounts.logout, name="logout"),
    path("account", accounts.account, name="account"),
    path("people", accounts.people, name="people"),
    path("orders", orders.orders, name="orders"),
    path("intake", intake.intake, name="intake"),
    path("intake/look", intake.look, name="intake_look"),
    path("orders/new", orders.order_new, name="order_new"),
    path("orders/new/outlook", orders.outlook, name="order_outlook"),
    path(_ORDER, traveller.traveller, name="traveller"),
    path(f"{_ORDER}/note", deeds.add_note, name="add_note"),
    path(f"{_ORDER}/certificate", deeds.issue_certificate, name="issue_certificate"),
    path(f"{_ORDER}/certificate/sign", deeds.sign_certificate, name="sign_certificate"),
    path(f"{_ORDER}/answers", answers.answers, name="answers"),
    path(f"{_WAFER}/answers/<slug:quantity>", answers.answer, name="answer"),
    path("answers/<str:token>", answers.answer_given, name="answer_given"),
    path(f"{_ORDER}/verdict", verdict.verdict, name="verdict"),
    path(f"{_ORDER}/route", route.route, name="route"),
    path(f"{_ORDER}/readings", readings.overview, name="readings"),
    path(_SET, readings.one_set, name="set"),
    path(f"{_SET}/take", readings.take, name="take"),
    path(f"{_SET}/many", readings.take_many, name="take_many"),
    path(f"{_SET}/close", readings.close, name="close_set"),
    path(f"{_SET}/void", readings.void, name="void_set"),
    path(_WAFER, traveller.wafer, name="wafer"),
    path(f"{_WAFER}/bond", bench.bond_line, name="bond_line"),
    path(f"{_WAFER}/tilt", tilt.tilt, name="tilt"),
    path(f"{_WAFER}/damage", bench.damage, name="damage"),
    path(f"{_WAFER}/do/<slug:name>", deeds.do, name="do"),
    path(f"{_WAFER}/note", wafer_notes.wafer_note, name="wafer_note"),
    path(f"{_WAFER}/photograph", wafer_notes.photograph, name="photograph"),
    path(f"{_WAFER}/sheet", job_sheet.job_sheet, name="job_sheet"),
    path(f"{_WAFER}/odd", odd_ones.odd_one, name="odd_one"),
    path(f"{_WAFER}/odd/<slug:choice>", odd_ones.decide, name="odd_decide"),
    path("odd", odd_ones.odd_ones, name="odd_ones"),
    path("code", job_sheet.scanned, name="code"),
    path(f"{_ORDER}/documents/<int:document_id>", documents.document, name="document"),
    path("recipes", recipes.recipes, name="recipes"),
    path("recipes/<str:recipe_id>", recipes.recipe, name="recipe"),
    path("recipes/<str:recipe_id>/approve", recipes.approve, name="recipe_approve"),
    path("stations", stations.stations, name="stations"),
    path(_STATION, stations.station, name="station"),
    path(f"{_STATION}/past", stations.past, name="station_past"),
    path(f"{_STATION}/zero", stations.zero, name="station_zero"),
    path(f"{_STATION}/start", stations.start, name="station_start"),
    path(f"{_STATION}/weigh", stations.weigh, name="station_weigh"),
    path(f"{_STATION}/on-it", stations.setup, name="station_setup"),
    path(f"{_STATION}/stop", stations.stop, name="station_stop"),
    path(f"{_STATION}/gauge", feeds.feed, name="station_gauge"),
    path("surfaces", surfaces.surfaces, name="surfaces"),
    path("surfaces/<int:surface_id>", surfaces.surface, name="surface"),
    path("profiles", surfaces.profiles, name="profiles"),
    path("profiles/<int:surface_id>", surfaces.profile, name="profile"),
    path("gauges", gauges.overview, name="gauges"),
    path(_GAUGE, gauges.gauge, name="gauge"),
    path(f"{_GAUGE}/do/<slug:deed>", gauges.do, name="gauge_do"),
    path(f"{_GAUGE}/pairs/<int:first>/<int:second>", gauge_pairs.pair, name="gauge_pair"),
    path(_STUDY, gauges.study, name="study"),
    path(f"{_STUDY}/sheet", gauges.sheet, name="study_sheet"),
    path(f"{_STUDY}/end", gauges.end_study, name="study_end"),
    path("plates", plates.overview, name="plates"),
    path(_PLATE, plates.plate, name="plate"),
    path(f"{_PLATE}/do/<slug:deed>", plates.do, name="plate_do"),
    path("rates", rates.rates, name="rates"),
    path("kinematics", kinematics.kinematics, name="kinematics"),
    path("prices", prices.prices, name="prices"),
    path("drift", drift.drift, name="drift"),
    path("help", explained.help_page, name="help"),
    path("help/tour/<int:number>", explained.tour, name="tour"),
    path("help/why/<slug:name>", explained.why, name="why"),
    path("health", health.health, name="health"),
    path("metrics", health.metrics, name="metrics"),
    path("api/", api.urls),
]

handler400 = faults.bad_request
handler403 = faults.denied
handler404 = faults.not_found
handler500 = faults.our_fault
