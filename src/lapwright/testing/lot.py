"""One invented order and the hands that work on it, for tests: through the same use cases as a person.

Thickness fields are functions of place in the wafer frame, in m; readings follow them exactly, or with a seeded noise.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from lapwright.model.job import RecordedBond, RecordedOrder, RecordedRun, RecordedSet, RecordedVerdict
from lapwright.model.order import Limit, Order
from lapwright.model.readings import Calibration, Conditions, Gauge, Moment, Subject
from lapwright.model.request import BondRequest, FindingRequest, RunRequest, SetRequest, ZeroRequest
from lapwright.model.shelf import Jig, Station
from lapwright.model.wafer import Carrier, Round
from lapwright.settings import Settings
from lapwright.testing.records import can_keep
from lapwright.testing.remembered import Memory

Field = Callable[[float, float], float]
_T = TypeVar("_T")
ORDER = Order(
    order_id="AP-1",
    customer="Fennbach Filters",
    material="LiTaO3",
    outline=Round(diameter=0.0508, mark="flat", flat_length=0.016),
    quantity=1,
    start_thickness=500e-6,
    target_thickness=100e-6,
    limits=(
        Limit(quantity="thickness", lower=98e-6, upper=102e-6),
        Limit(quantity="ttv", upper=2e-6),
        Limit(quantity="roughness_ra", upper=1e-9),
    ),
    edge_exclusion=2e-3,
    hold="free",
)
GAUGE = Gauge(gauge_id="G1", name="drop gauge", limit=0.5e-6, resolution=1e-7, local=1e-7, repeatability=1e-7)
JIG = Jig(
    jig_id="J1",
    name="jig",
    adjuster_radius=0.07,
    adjuster_azimuths=tuple(math.radians(azimuth) for azimuth in (90.0, 210.0, 330.0)),
    advance_per_division=2e-6,
)
CARRIER_THICKNESS = 6e-3
BOND_THICKNESS = 4e-6


@dataclass(slots=True)
class Lot:
    """The order on the bench: a clock, and what every write carries; with a memory, nothing is done twice."""

    now: datetime = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
    noise: np.random.Generator = field(default_factory=lambda: np.random.default_rng(1))
    memory: Memory | None = None

    def why(self, reason: str = "as usual") -> dict[str, Any]:
        """Who, why and when; each write is a minute later than the one before."""
        self.now += timedelta(minutes=1)
        return {"by": "local", "reason": reason, "at": self.now}

    def furnish(self) -> None:
        """A gauge with its calibration, one carrier, a jig, three stations."""
        from lapwright.app import gauges, shelf

        gauges.register_gauge(GAUGE, **self.why())
        day = self.now.date()
        calibration = Calibration(
            gauge_id="G1", certificate="K-1", done=day, due=day + timedelta(days=365), deviation=1e-7,
            expanded_uncertainty=2e-7,
        )  # fmt: skip
        gauges.record_calibration(calibration, **self.why())
        carrier = Carrier(carrier_id="C1", material="glass", diameter=0.0762, nominal_thickness=CARRIER_THICKNESS)
        shelf.receive_carrier(carrier, **self.why())
        shelf.register_jig(JIG, **self.why())
        for name, plate in (("L1", "cast-iron"), ("L2", "glass"), ("P1", "pad-polyurethane")):
            kind = "polish" if name == "P1" else "lap"
            station = Station(station_id=name, name=name, kind=kind, plate=plate)  # type: ignore[arg-type]
            shelf.set_up_station(station, **self.why())

    def receive(self, order: Order = ORDER) -> RecordedOrder:
        """The order received."""
        from lapwright.app import orders

        return orders.receive_order(order, **self.why())

    def request(self, piece: str, subject: Subject, moment: Moment, *, repeats: int = 2) -> SetRequest:
        """A set of nine sites with zero before and after."""
        return SetRequest(
            piece=piece, subject=subject, moment=moment, gauge_id="G1", pattern="nine", repeats=repeats,
            conditions=Conditions(hold="free", temperature=295.0, soaked=True),
            order_id=ORDER.order_id if subject == "carrier" else None,
        )  # fmt: skip

    def read(
        self,
        piece: str,
        subject: Subject,
        moment: Moment,
        thickness: Field,
        *,
        spread: float = 5e-8,
        repeats: int = 2,
        is_sure: bool = False,
    ) -> RecordedSet:
        """A whole set read and closed, with the noise of the gauge; who is sure keeps what looks odd."""
        from lapwright.app import readings

        opened = readings.open_set(self.request(piece, subject, moment, repeats=repeats), **self.why())
        readings.record_zero(opened.set_id, "0.0", when="before", **self.why())
        places = {
            label: (float(x), float(y))
            for label, x, y in zip(opened.pattern.labels, opened.pattern.x, opened.pattern.y, strict=True)
        }
        values = {label: thickness(*place) for label, place in places.items()}

        def read_all() -> RecordedSet:
            site: str | None = opened.pattern.labels[0]
            while site is not None:
                value = values[site] + spread * float(self.noise.standard_normal())
                answer = readings.record_reading(opened.set_id, f"{value * 1e6:.2f}", confirmed=is_sure, **self.why())
                assert answer.question is None, answer.question
                site = answer.progress.site
            readings.record_zero(opened.set_id, "0.0", when="after", **self.why())
            return readings.close_set(opened.set_id, **self.why())

        return self._done(("read", opened.set_id, values, spread, is_sure), read_all)

    def bond(
        self, wafer_id: str, wafer: Field, *, wedge: float = 0.0, spread: float = 5e-8, adhesive_lot: str = ""
    ) -> RecordedBond:
        """The wafer on its carrier, stack read, judged and decided as advised; the bond's wedge is thick at +x."""
        from lapwright.app import bonding

        bond = bonding.record_bond(
            BondRequest(wafer_id=wafer_id, carrier_id="C1", adhesive="mounting-wax", adhesive_lot=adhesive_lot),
            **self.why(),
        )
        slope = wedge / 0.0508
        self.read(
            wafer_id,
            "stack",
            "stack",
            lambda x, y: CARRIER_THICKNESS + BOND_THICKNESS + slope * x + wafer(x, y),
            spread=spread,
        )

        def decide() -> RecordedBond:
            judged = bonding.judge_bond(bond.bond_id, **self.why())
            assert judged.verdict is not None
            return bonding.decide_bond(bond.bond_id, judged.verdict.advice, **self.why())

        return self._done(("bond", bond.bond_id), decide)

    def route(self, order_id: str = ORDER.order_id) -> None:
        """The best of the routes proposed, chosen."""
        from lapwright.app import routes

        def choose() -> None:
            routes.choose_route(order_id, routes.propose_routes(order_id)[0], **self.why())

        self._done(("route", order_id), choose)

    def clean(self, stage_id: int) -> None:
        """A cleaning done, with the look that it ends with where it does."""
        from lapwright.app import clean_checks, looks, runs
        from lapwright.model.clean_check import CLEAN_ITEMS
        from lapwright.records import queries

        stage = queries.stage(stage_id)
        if looks.needs_look(stage, queries.stages(stage.wafer_id)):
            clean_checks.record_look(stage_id, "clean", checked=CLEAN_ITEMS, **self.why())
        else:
            runs.complete_stage(stage_id, **self.why())

    def work(self, wafer_id: str, *, spread: float = 5e-8, until_look: bool = False) -> None:
        """All stages, each ending where the plan says; or those before the first look whether all is clean."""
        asked = ("work", wafer_id, spread, until_look)
        self._done(asked, lambda: self._work(wafer_id, spread=spread, until_look=until_look))

    def _work(self, wafer_id: str, *, spread: float, until_look: bool) -> None:
        from lapwright.app import clean_checks, runs, shelf

        while (ahead := runs.next_stage(wafer_id, jig_id="J1")) is not None:
            planned = ahead.planned
            if until_look and clean_checks.look_due(wafer_id) is not None:
                return
            if planned.kind == "clean":
                self.clean(ahead.stage.stage_id)
            elif planned.kind == "measure":
                reached = ahead.thickness_now
                self.read(wafer_id, "stack", "after_stage", _stack_of(reached), spread=spread, repeats=1)
            else:
                stations = {one.station.plate: one.station for one in shelf.list_stations()}
                station = stations[planned.plate]
                if station.abrasive != planned.abrasive:
                    changed = Station(
                        station_id=station.station_id, name=station.name, kind=station.kind, plate=station.plate,
                        abrasive=planned.abrasive,
                    )  # fmt: skip
                    shelf.set_up_station(changed, **self.why())
                self.run(wafer_id, station.station_id, ahead.removal)

    def run(self, wafer_id: str, station_id: str, removal: float) -> RecordedRun:
        """One run, zero first, ending with this removal at the centre."""
        from lapwright.app import runs

        zero = runs.take_zero(
            ZeroRequest(wafer_id=wafer_id, station_id=station_id, jig_id="J1", texts=("0.0", "0.1", "0.2")),
            **self.why(),
        )
        assert zero.accepted
        started = runs.start_run(RunRequest(wafer_id=wafer_id, station_id=station_id, jig_id="J1"), **self.why())
        return runs.finish_run(started.run_id, gauge_removal=f"{removal * 1e6:.3f} µm", **self.why())

    def finish(self, wafer_id: str, bond_id: int, wafer: Field, *, spread: float = 5e-8) -> tuple[RecordedVerdict, ...]:
        """Read on the carrier, debonded, read free, roughness found, judged."""
        from lapwright.app import bonding, verdicts

        self.read(wafer_id, "stack", "on_carrier", _stack_of(100e-6), spread=spread)
        bonding.record_debond(bond_id, "solvent overnight", **self.why())
        self.read(wafer_id, "wafer", "final", wafer, spread=spread)
        finding = FindingRequest(
            wafer_id=wafer_id, quantity="roughness_ra", text="0.6 nm", method="profiler, 0.08 mm filter, 5 lines",
            expanded_uncertainty=0.2e-9,
        )  # fmt: skip
        verdicts.record_finding(finding, **self.why())
        return verdicts.judge_wafer(wafer_id, **self.why())

    def _done(self, asked: tuple[object, ...], work: Callable[[], _T]) -> _T:
        """What `work` gives, done now, or remembered together with the clock and the noise after it."""
        if self.memory is None:
            return work()

        def whole() -> tuple[_T, datetime, dict[str, Any]]:
            return work(), self.now, dict(self.noise.bit_generator.state)

        before = (*asked, self.now, self.noise.bit_generator.state)
        found, self.now, self.noise.bit_generator.state = self.memory.done(before, whole)
        return found


def ready_lot(settings: Settings) -> Lot:
    """A furnished shop with one order of one wafer, nothing read yet; what tests do alike is done once in a process."""
    lot = Lot(memory=_memories.setdefault(settings.data, Memory(settings)) if can_keep(settings) else None)

    def furnish_and_receive() -> None:
        lot.furnish()
        lot.receive()

    lot._done(("ready",), furnish_and_receive)  # noqa: SLF001  its own module
    return lot


_memories: dict[Path, Memory] = {}


def flat(thickness: float) -> Field:
    """A field of even thickness."""
    return lambda _x, _y: thickness


def _stack_of(wafer: float) -> Field:
    return flat(CARRIER_THICKNESS + BOND_THICKNESS + wafer)


def write_incoming_file(path: Path, *, wafers: int, sites: int) -> None:
    """A readings file of the order's wafers, sites on a spiral, all 500 µm thick."""
    rows = ["wafer,site,x_mm,y_mm,thickness_um"]
    for wafer in range(1, wafers + 1):
        for site in range(sites):
            radius, angle = 20.0 * (site + 1) / sites, 2.4 * site
            place = f"{radius * math.cos(angle):.4f},{radius * math.sin(angle):.4f}"
            rows.append(f"{ORDER.order_id}-{wafer:02d},{site + 1},{place},500.0")
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
