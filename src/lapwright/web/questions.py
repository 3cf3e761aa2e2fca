"""Questions put to the API as JSON: what may be asked, checked, and made into values of the model.

Field names carry their units, as in the answers. A field that is not known is refused.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Annotated, Literal

from ninja import Schema
from pydantic import ConfigDict, Field, FiniteFloat

from lapwright.app.route_files import RouteTerms
from lapwright.app.route_questions import Aim
from lapwright.errors import BadInput, Fault
from lapwright.formats.outlines import round_outline
from lapwright.model.readings import Conditions, Gauge
from lapwright.model.story import OrdersShown
from lapwright.model.wafer import Frame, Outline, Rectangle, Wedge
from lapwright.process.etching import Etch
from lapwright.process.jig import Adjuster, JigGeometry
from lapwright.process.tuning import Tuning
from lapwright.units import find_unit, from_unit

Positive = Annotated[FiniteFloat, Field(gt=0.0)]
NotNegative = Annotated[FiniteFloat, Field(ge=0.0)]


class Question(Schema):
    """A question; unknown fields are refused."""

    model_config = ConfigDict(extra="forbid")


class GaugeQuestion(Question):
    """What is known of the gauge."""

    gauge_limit_um: NotNegative | None = None
    gauge_local_um: NotNegative | None = None
    gauge_resolution_um: NotNegative | None = None
    gauge_repeatability_um: NotNegative | None = None

    def gauge(self) -> Gauge | None:
        """The gauge, None when nothing is said of it."""
        if self.gauge_limit_um is None:
            further = (self.gauge_local_um, self.gauge_resolution_um, self.gauge_repeatability_um)
            if further != (None, None, None):
                raise _fault("gauge_limit_um", "What is known of the gauge begins with its limit: give gauge_limit_um.")
            return None
        return Gauge(
            gauge_id="request",
            name="the gauge described",
            limit=si(self.gauge_limit_um, "µm"),
            resolution=si(self.gauge_resolution_um or 0.0, "µm"),
            local=si_or_none(self.gauge_local_um, "µm"),
            repeatability=si_or_none(self.gauge_repeatability_um, "µm"),
        )


class PieceQuestion(GaugeQuestion):
    """What readings do not say themselves: outline, edge exclusion, gauge, conditions."""

    diameter_mm: Positive | None = None
    width_mm: Positive | None = Field(None, description="Of a rectangular piece; with height_mm.")
    height_mm: Positive | None = None
    flat_length_mm: Positive | None = None
    notch: bool = False
    edge_exclusion_mm: NotNegative = 0.0
    allowed_drift_um: NotNegative | None = None
    hold: Literal["free", "clamped"] | None = None
    temperature_c: FiniteFloat | None = None
    soaked: bool | None = None

    def piece_outline(self) -> Outline:
        """The outline; a diameter or two sides must be given, not both."""
        sides = (self.width_mm, self.height_mm)
        if (self.diameter_mm is None) == (sides == (None, None)):
            raise _fault("diameter_mm", "Give the outline of the piece: diameter_mm, or width_mm and height_mm.")
        if self.diameter_mm is not None:
            flat = si_or_none(self.flat_length_mm, "mm")
            return round_outline(si(self.diameter_mm, "mm"), flat_length=flat, notch=self.notch)
        if self.flat_length_mm is not None or self.notch:
            raise _fault("flat_length_mm", "flat_length_mm and notch belong to diameter_mm; leave them out.")
        if self.width_mm is None or self.height_mm is None:
            raise _fault("height_mm", "A rectangle has two sides; give both width_mm and height_mm.")
        return Rectangle(width=si(self.width_mm, "mm"), height=si(self.height_mm, "mm"))

    def conditions(self) -> Conditions:
        """How the piece was read."""
        warm = None if self.temperature_c is None else si(self.temperature_c, "°C", "temperature")
        return Conditions(hold=self.hold, temperature=warm, soaked=self.soaked)


class ThicknessQuestion(PieceQuestion):
    """A readings file, as the text of its CSV, and what it does not say."""

    readings_csv: str
    wafer: str | None = None
    sites: bool = False


class BondQuestion(PieceQuestion):
    """Three readings files of one stack, as text, and how wafer and carrier were read and turned."""

    wafer_csv: str
    carrier_csv: str
    stack_csv: str
    wafer_id: str | None = None
    carrier_id: str | None = None
    stack_id: str | None = None
    wafer_seen_from: Literal["worked", "bonded"] = "worked"
    wafer_turn_deg: FiniteFloat = 0.0
    carrier_turn_deg: FiniteFloat = 0.0
    carrier_diameter_mm: Positive | None = None
    target_um: Positive | None = None
    ttv_limit_um: Positive | None = None
    rebond_cost: NotNegative | None = None
    wafer_value: NotNegative | None = None
    sites: bool = False

    def frames(self) -> tuple[Frame, Frame]:
        """Frames of the wafer's and of the carrier's map."""
        wafer = Frame(seen_from=self.wafer_seen_from, turn=math.radians(self.wafer_turn_deg))
        return wafer, Frame(turn=math.radians(self.carrier_turn_deg))


class RouteQuestion(GaugeQuestion):
    """An order file, as the text of its TOML, what is aimed at, and the wafer as it is now when it is in mid-job."""

    order_toml: str
    seed: int = Field(1, ge=0)
    draws: int = Field(10_000, ge=100, le=100_000, description="Imagined jobs for each route's chance.")
    objective: Literal["time", "cost"] = "time"
    target_chance_percent: float = Field(90.0, ge=50.0, le=99.9)
    now_um: Positive | None = None
    now_ttv_um: NotNegative | None = None
    damage_um: NotNegative = 0.0
    damage_high_um: NotNegative | None = None
    last_abrasive: str | None = None
    etch_um_per_min: Positive | None = None
    etch_spread_percent: float = Field(15.0, ge=0.0, le=200.0)
    etch_unevenness_percent: float = Field(5.0, ge=0.0, le=99.0)

    def terms(self, gauge: Gauge | None) -> RouteTerms:
        """What the routes are asked with."""
        etch = None
        if self.etch_um_per_min is not None:
            etch = Etch(
                name="own bath",
                rate=si(self.etch_um_per_min, "µm") / 60.0,
                rate_deviation=self.etch_spread_percent / 100.0,
                unevenness=self.etch_unevenness_percent / 100.0,
            )
        return RouteTerms(
            gauge=gauge,
            seed=self.seed,
            draws=self.draws,
            objective=self.objective,
            target_chance=self.target_chance_percent / 100.0,
            thickness=si_or_none(self.now_um, "µm"),
            ttv=si_or_none(self.now_ttv_um, "µm"),
            damage=si(self.damage_um, "µm"),
            damage_high=si_or_none(self.damage_high_um, "µm"),
            abrasive=self.last_abrasive,
            etch=etch,
        )


class OrdersQuestion(Question):
    """Which orders, from which on and how many at once."""

    show: OrdersShown = "all"
    find: str = Field("", max_length=200)
    start: int = Field(0, ge=0, le=10**9)
    count: int = Field(500, ge=1, le=500)


class TunedQuestion(Question):
    """A route set by hand: its tools as ``place~abrasive;place~abrasive``, loads, speeds, margins and the aim."""

    tools: str = Field(min_length=3, max_length=400)
    load_percent: float = Field(50.0, ge=0.0, le=100.0)
    speed_percent: float = Field(100.0, ge=50.0, le=150.0)
    lap_margin: float = Field(1.5, ge=1.0, le=8.0)
    finish_margin: float = Field(1.5, ge=1.0, le=8.0)
    target_chance_percent: float = Field(90.0, ge=50.0, le=99.9)
    objective: Literal["time", "cost"] = "time"
    wafer: str | None = None
    drawing: bool = False

    def tuning(self) -> Tuning:
        """The route as it is set."""
        pairs = [one.partition("~") for one in self.tools.split(";")]
        if any(not mark for _, mark, _ in pairs):
            raise _fault("tools", "Tools are written place~abrasive, with ; between them.")
        return Tuning(
            tools=tuple((place, abrasive) for place, _, abrasive in pairs),
            load_share=self.load_percent / 100.0,
            speed_share=self.speed_percent / 100.0,
            lap_multiple=self.lap_margin,
            finish_multiple=self.finish_margin,
        )

    def aim(self) -> Aim:
        """What it is held against."""
        return Aim(
            objective=self.objective, target_chance=self.target_chance_percent / 100.0, wafer_id=self.wafer or None
        )


class JigQuestion(Question):
    """The wafer's wedge and where the adjusters of the jig stand."""

    wedge_um: NotNegative
    azimuth_deg: FiniteFloat
    wafer_diameter_mm: Positive
    adjuster_radius_mm: Positive
    adjuster_azimuths_deg: list[FiniteFloat] = Field(min_length=3)
    um_per_division: Positive
    division_step: Positive = 0.25
    counts_away: bool = False
    view: Literal["worked", "operator"] = "worked"
    mount_angle_deg: FiniteFloat = 0.0
    fixed_adjuster: int | None = Field(None, ge=1, description="This adjuster, counted from 1, must not move.")
    only_positive: bool = False

    def wedge(self) -> Wedge:
        """The wedge to take out."""
        return Wedge(amount=si(self.wedge_um, "µm"), azimuth=math.radians(self.azimuth_deg))

    def geometry(self) -> JigGeometry:
        """The jig."""
        if self.fixed_adjuster is not None and self.fixed_adjuster > len(self.adjuster_azimuths_deg):
            count = len(self.adjuster_azimuths_deg)
            raise _fault("fixed_adjuster", f"There is no adjuster {self.fixed_adjuster}; they count from 1 to {count}.")
        adjusters = tuple(
            Adjuster(
                azimuth=math.radians(azimuth),
                radius=si(self.adjuster_radius_mm, "mm"),
                travel_per_division=si(self.um_per_division, "µm"),
                sense=-1 if self.counts_away else 1,
            )
            for azimuth in self.adjuster_azimuths_deg
        )
        mount = math.radians(self.mount_angle_deg)
        return JigGeometry(adjusters=adjusters, division_step=self.division_step, view=self.view, mount_angle=mount)


def si(value: float, symbol: str, dimension: str = "length") -> float:
    """A number of the request in SI."""
    return from_unit(value, find_unit(symbol, dimension))


def si_or_none(value: float | None, symbol: str) -> float | None:
    """A length of the request in m, None when it was not given."""
    return None if value is None else si(value, symbol)


@contextmanager
def as_files(ending: str = "csv", **texts: str) -> Iterator[dict[str, Path]]:
    """The texts as files for as long as they are read; the names are how faults call them."""
    with TemporaryDirectory(prefix="lapwright-") as folder:
        paths = {name: Path(folder) / f"{name}.{ending}" for name in texts}
        for name, path in paths.items():
            path.write_text(texts[name], encoding="utf-8", newline="")
        yield paths


# ----------------------------------------------------------------------------------------------------------------------


def _fault(field: str, sentence: str) -> BadInput:
    return BadInput([Fault(sentence=sentence, field=field)])
