"""Every page of the program with addresses in a shop: what the benchmark of the pages asks for.

Named by the name of its address, then, behind a comma, by what it is asked. A page of one order is asked for one order
after the other, of one gauge for one gauge after the other; so nothing is measured that was worked out for the page
before. A test holds that no address is left out but those in `LEFT_OUT`.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import cycle, islice
from typing import Any
from urllib.parse import urlencode

from lapwright.testing.browsing import CHOICES
from lapwright.testing.browsing import ORDER as TYPED
from lapwright.testing.whys import asked_of

#: Addresses that can be read and are not asked for, and why.
LEFT_OUT = {
    "code": "only leads on",
    "tour": "only leads on",
    "login": "leads on where no accounts are demanded, as in the shop",
    "account": "leads on where no accounts are demanded, as in the shop",
    "tour_end": "only leads on",
    "api:tuned": "asked with the tools of a route that the page Route has found",
    "api:openapi-json": "the description of the API, asked for once by who writes a program",
}
DOCUMENTS = 12  # orders of which a document is asked for
WHYS = 12  # pages of a kind from which it is asked why
SEARCHED = 12  # orders of which the routes are searched before the page is asked for
#: A form as an order is typed, which Order entry and Intake send while it is typed.
FORM = {**TYPED, **CHOICES, "order_id": "N-1", "shape": "round", "rule": "guarded", "risk": "2"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One question: the address, and what is sent with it, None for nothing."""

    address: str
    sent: Mapping[str, str] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """Names drawn from the records, so many of each as are asked for."""

    asked: int
    orders: tuple[str, ...]
    wafers: Mapping[str, str]
    judged: Mapping[str, str]
    sets: Mapping[str, int]
    odd: tuple[tuple[str, str], ...]
    documents: tuple[tuple[str, int], ...]
    of: Mapping[str, tuple[Any, ...]]

    def each(self, name: str, kind: str, *, query: str = "") -> list[Asked]:
        """The page of one thing after the other."""
        return self.cycled(_of(name, one, query=query) for one in self.of[kind])

    def orders_of(self, name: str, *, query: Callable[[str], str] = lambda _order_id: "") -> list[Asked]:
        """The page of one order after the other."""
        return self.cycled(_of(name, one, query=query(one)) for one in self.orders)

    def wafers_of(self, name: str) -> list[Asked]:
        """The page of one wafer after the other."""
        return self.cycled(_of(name, order_id, wafer_id) for order_id, wafer_id in self.wafers.items())

    def judged_of(self, name: str) -> list[Asked]:
        """The page of the TTV of one judged wafer after the other."""
        return self.cycled(_of(name, order_id, wafer_id, "ttv") for order_id, wafer_id in self.judged.items())

    def always(self, name: str, **query: str) -> list[Asked]:
        """The same page again and again."""
        return self.cycled([_of(name, query=urlencode(query))])

    def cycled(self, questions: Iterable[Asked]) -> list[Asked]:
        """So many of them as are asked for, from the start again when there are fewer."""
        return list(islice(cycle(list(questions)), self.asked))


def shop(asked: int, *, seed: int = 1) -> Shop:
    """What there is to ask for, in an order of its own that is always the same for a `seed`."""
    from lapwright.app import odd_ones, orders, plates, recipes, shelf, supplies, surface_records

    chance = random.Random(seed)  # noqa: S311  draws names
    now = datetime.now(tz=UTC)
    known = [line.order_id for line in orders.list_orders()]
    some = tuple(chance.sample(known, min(asked, len(known))))
    wafers = {one: chance.choice(orders.order_wafers(one)).wafer.wafer_id for one in some}
    heads = {one: [each.set_id for each in orders.list_sets(one) if each.wafer_id == wafers[one]] for one in some}
    gauges = [one.gauge.gauge_id for one in _gauges(now)]
    faces = {kind: surface_records.list_surfaces(kind) for kind in ("fringes", "profile")}
    return Shop(
        asked=asked,
        orders=some,
        wafers=wafers,
        judged={one: wafer_id for one, wafer_id in wafers.items() if orders.show_wafer(wafer_id).verdicts},
        sets={one: found[-1] for one, found in heads.items() if found},
        odd=tuple((one.wafer.order_id, one.wafer.wafer.wafer_id) for one in odd_ones.odd_wafers(most=asked)),
        documents=tuple(
            (one, each.document_id) for one in some[:DOCUMENTS] for each in orders.show_order(one).documents[:1]
        ),
        of={
            "gauges": tuple(gauges),
            "studies": tuple(_studies(gauges)),
            "pairs": tuple(_pairs(gauges[:2])),
            "plates": tuple(one.plate.plate_id for one in plates.recorded_plates()),
            "lots": tuple(one.recorded.lot.lot_id for one in supplies.lot_cards(on=now.date())),
            "recipes": tuple(one.recipe_id for one in recipes.list_recipes()),
            "stations": tuple(one.station.station_id for one in shelf.list_stations()),
            "ran": tuple(_stations_with_readings()),
            "pairs of rates": tuple(_pairs_of_rates()),
            "rounds": tuple(_rounds(now)),
            "faces": tuple(one.surface_id for one in faces["fringes"]),
            "finishes": tuple(one.surface_id for one in faces["profile"]),
        },
    )


def questions(of: Shop) -> dict[str, list[Asked]]:
    """What is asked for, page by page."""
    return {name: ask(of) for name, ask in PAGES.items()}


# ----------------------------------------------------------------------------------------------------------------------


def _of(name: str, *named: object, query: str = "") -> Asked:
    from django.urls import reverse

    return Asked(address=reverse(name, args=named) + (f"?{query}" if query else ""))


def _sent(name: str) -> Callable[[Shop], list[Asked]]:
    def ask(of: Shop) -> list[Asked]:
        targets = (f"{100 + number} µm" for number in range(of.asked))
        return [Asked(address=_of(name).address, sent={**FORM, "target_thickness": one}) for one in targets]

    return ask


def _whys(page: str) -> Callable[[Shop], list[Asked]]:
    """Why some number of such a page is what it is; of orders that no other page is asked for."""

    def ask(of: Shop) -> list[Asked]:
        from django.test import Client

        others = shop(of.asked, seed=2)
        if page == "route":
            _search(others.orders[:SEARCHED])
        other = PAGES[page](others)
        client = Client(HTTP_HOST="localhost")
        links = [
            link for one in dict.fromkeys(each.address for each in other[:WHYS])
            for link in asked_of(client.get(one).content.decode())
        ]  # fmt: skip
        random.Random(3).shuffle(links)  # noqa: S311  mixes the kinds of numbers
        return of.cycled(Asked(address=link) for link in links)

    return ask


def _alone(name: str, **query: str) -> Callable[[Shop], list[Asked]]:
    return lambda of: of.always(name, **query)


def _of_order(name: str, query: Callable[[str], str] = lambda _order_id: "") -> Callable[[Shop], list[Asked]]:
    return lambda of: of.orders_of(name, query=query)


def _of_wafer(name: str) -> Callable[[Shop], list[Asked]]:
    return lambda of: of.wafers_of(name)


def _of_each(name: str, kind: str, query: str = "") -> Callable[[Shop], list[Asked]]:
    return lambda of: of.each(name, kind, query=query)


def _of_two(name: str, kind: str) -> Callable[[Shop], list[Asked]]:
    return lambda of: of.cycled(_of(name, *one) for one in of.of[kind])


def _gauges(now: datetime) -> Iterable[Any]:
    from lapwright.app import gauges

    return gauges.list_gauges(on=now.date())


def _studies(gauges: Iterable[str]) -> Iterable[tuple[str, str]]:
    from lapwright.app import gauge_studies

    for gauge_id in gauges:
        for one in gauge_studies.list_studies(gauge_id)[:1]:
            yield gauge_id, one.plan.study_id


def _pairs(gauges: Iterable[str]) -> Iterable[tuple[str, int, int]]:
    from lapwright.app import gauge_pairs

    for gauge_id in gauges:
        for one in gauge_pairs.list_pairs(gauge_id):
            yield gauge_id, *one.set_ids


def _stations_with_readings() -> Iterable[str]:
    from lapwright.app import stations

    return [one.station.station_id for one in stations.list_stations() if one.stream or one.last]


def _pairs_of_rates() -> Iterable[dict[str, str]]:
    from lapwright.app import rates

    for one in rates.rate_pairs():
        yield dict(zip(("material", "abrasive", "plate"), one.conditions.combination, strict=True))


def _rounds(now: datetime) -> Iterable[int]:
    from lapwright.app import practice

    practice.begin_round("local", "countdown", seed=1, at=now)
    return [one.round_id for one in practice.rounds_of("local")]


def _search(orders: Iterable[str]) -> None:
    """Have the routes of some orders searched, so that the page Route tells them."""
    from lapwright.app import route_questions, route_searches, route_work

    for one in orders:
        route_searches.look(route_questions.ask(one), datetime.now(tz=UTC))
    while route_work.work_one():
        pass


def _found(of: Shop) -> list[Asked]:
    """The page Route of orders whose routes were searched."""
    _search(of.orders[-SEARCHED:])
    return of.cycled(_of("route", one) for one in of.orders[-SEARCHED:])


def _token(of: Shop) -> list[Asked]:
    from django.core import signing

    from lapwright.web.pages.answers import _SALT

    return of.cycled(_of("answer_given", signing.dumps([*one, "ttv"], salt=_SALT)) for one in of.judged.items())


def _other_speeds(name: str) -> Callable[[Shop], list[Asked]]:
    def ask(of: Shop) -> list[Asked]:
        from lapwright.web.kinematics_forms import USUAL  # its words ask Django for the language

        usual = {key: str(value) for key, value in USUAL.items()}
        return [_of(name, query=urlencode(usual | {"plate_speed_rpm": str(40 + one)})) for one in range(of.asked)]

    return ask


#: Pages with numbers that are worked out.
ASKED_WHY = (
    "answer", "answers", "board", "bond_line", "damage", "drift", "gauge", "gauge_pair", "gauges", "kinematics", "lot",
    "odd_one", "odd_ones", "plate", "plate_map", "plates", "profile", "quotation", "rates, one pair", "route", "set",
    "shelf", "station", "study", "surface", "tilt", "traveller", "verdict", "wafer",
)  # fmt: skip
_PIECE = {"material": "LiTaO3", "thickness": "100 µm", "warmth": "1", "repeats": "3"}
PAGES: dict[str, Callable[[Shop], list[Asked]]] = {
    "order_new": _alone("order_new"),
    "order_new, as an earlier one": lambda of: of.cycled(_of("order_new", query=f"from={one}") for one in of.orders),
    "order_outlook": _sent("order_outlook"),
    "hands": _alone("hands"),
    "who": _alone("who"),
    "people": _alone("people"),
    "orders": _alone("orders"),
    "order_change": _of_order("order_change"),
    "orders, page 20": _alone("orders", page="20"),
    "orders, looked for": _alone("orders", find="LS-01"),
    "intake": _alone("intake"),
    "intake, as an earlier one": lambda of: of.cycled(_of("intake", query=f"from={one}") for one in of.orders),
    "intake_look": _sent("intake_look"),
    "traveller": _of_order("traveller"),
    "answers": _of_order("answers"),
    "answer": lambda of: of.judged_of("answer"),
    "answer_given": _token,
    "verdict": _of_order("verdict"),
    "route": lambda of: of.cycled(_of("route", one) for one in of.orders[: max(1, len(of.orders) - SEARCHED)]),
    "route, found": _found,
    "quotation": _of_order("quotation"),
    "readings": _of_order("readings"),
    "set": lambda of: of.cycled(_of("set", *one) for one in of.sets.items()),
    "wafer": _of_wafer("wafer"),
    "bond_line": _of_wafer("bond_line"),
    "tilt": _of_wafer("tilt"),
    "damage": _of_wafer("damage"),
    "changeover": _of_wafer("changeover"),
    "job_sheet": _of_wafer("job_sheet"),
    "odd_one": lambda of: of.cycled(_of("odd_one", *one) for one in of.odd),
    "odd_ones": _alone("odd_ones"),
    "handovers": _alone("handovers"),
    "handovers, of a station": lambda of: of.cycled(
        _of("handovers", query=f"station={one}") for one in of.of["stations"]
    ),
    "waste": _alone("waste"),
    "waste, of an order": lambda of: of.cycled(_of("waste", query=f"order={one}") for one in of.orders),
    "labels": _alone("labels"),
    "room": _alone("room"),
    "document": lambda of: of.cycled(_of("document", *one) for one in of.documents),
    "recipes": _alone("recipes"),
    "recipe": _of_each("recipe", "recipes"),
    "stations": _alone("stations"),
    "station": _of_each("station", "stations"),
    "station_past": _of_each("station_past", "stations"),
    "station_readings": _of_each("station_readings", "ran"),
    "station_gauge": _of_each("station_gauge", "stations"),
    "surfaces": _alone("surfaces"),
    "surface": _of_each("surface", "faces"),
    "profiles": _alone("profiles"),
    "profile": _of_each("profile", "finishes"),
    "gauges": _alone("gauges"),
    "gauges, by a tolerance": _alone("gauges", tolerance="4 µm"),
    "gauge": _of_each("gauge", "gauges"),
    "gauge, of a certain piece": _of_each("gauge", "gauges", urlencode(_PIECE)),
    "gauge_pair": _of_two("gauge_pair", "pairs"),
    "study": _of_two("study", "studies"),
    "study_sheet": _of_two("study_sheet", "studies"),
    "plates": _alone("plates"),
    "plate": _of_each("plate", "plates"),
    "plate_map": _of_each("plate_map", "plates"),
    "plate_shape": lambda of: of.cycled(_of("plate_shape", one, "svg") for one in of.of["plates"]),
    "shelf": _alone("shelf"),
    "lot": _of_each("lot", "lots"),
    "rates": _alone("rates"),
    "rates, one pair": lambda of: of.cycled(_of("rates", query=urlencode(one)) for one in of.of["pairs of rates"]),
    "kinematics": _alone("kinematics"),
    "kinematics, other speeds": _other_speeds("kinematics"),
    "prices": _alone("prices"),
    "drift": _alone("drift"),
    "drift, weighted": _alone("drift", kind="ewma"),
    "help": _alone("help"),
    "help, looked for": _alone("help", find="wedge"),
    "why": lambda of: of.cycled([_of("why", "ttv")]),
    **{f"why, from {page}": _whys(page) for page in ASKED_WHY},
    "practice": _alone("practice"),
    "practice_round": _of_each("practice_round", "rounds"),
    "practice_live": _of_each("practice_live", "rounds"),
    "health": _alone("health"),
    "metrics": _alone("metrics"),
    "board": _alone("board"),
    "board_state": _alone("board_state"),
    "board_shop": _alone("board_shop"),
    "api:list_orders": _alone("api:list_orders"),
    "api:show_order": _of_order("api:show_order"),
    "api:quotation": _of_order("api:quotation"),
    "api:bond_line": _of_wafer("api:bond_line"),
    "api:tilt": _of_wafer("api:tilt"),
    "api:damage": _of_wafer("api:damage"),
    "api:kinematics": _other_speeds("api:kinematics"),
    "api:rates": _alone("api:rates"),
    "api:plate_shape": _of_each("api:plate_shape", "plates"),
    "api:prices": _alone("api:prices"),
    "api:board": _alone("api:board"),
}
