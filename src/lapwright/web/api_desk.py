"""The JSON of Rates, Kinematics and Prices."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from ninja import Query, Router
from pydantic import Field

from lapwright.app import plate_maps, quotation_actual, quotations
from lapwright.app import prices as price_lists
from lapwright.app import rates as use
from lapwright.app.kinematics import MotionQuestion, PlateQuestion, motion_answer
from lapwright.errors import BadInput, Fault
from lapwright.formats.edge_values import mm
from lapwright.formats.json_line import one_line, success
from lapwright.formats.plate_points import point_dict
from lapwright.formats.plate_results import shape_dict
from lapwright.formats.price_results import price_dict
from lapwright.formats.quotation_results import order_quote_dict
from lapwright.formats.rate_results import change_dict, conditions_dict, pad_life_dict, prediction_dict
from lapwright.process.kinematics import Motion
from lapwright.process.kinematics_sweep import Sweep
from lapwright.web.questions import NotNegative, Positive, Question, si, si_or_none
from lapwright.web.surroundings import now

router = Router()
_PER_MINUTE = 60e6  # µm/min in a m/s


class KinematicsQuestion(Question):
    """As the options of `lapwright kinematics`."""

    plate_speed_rpm: float = Field(allow_inf_nan=False)
    jig_speed_rpm: float = Field(allow_inf_nan=False)
    offset_mm: NotNegative
    wafer_diameter_mm: Positive
    wafer_offset_mm: NotNegative = 0.0
    sweep_half_stroke_mm: NotNegative = 0.0
    sweep_period_s: Positive | None = None
    arm_length_mm: Positive | None = None
    pivot_distance_mm: Positive | None = None
    duration_min: NotNegative | None = None
    track_um: Positive | None = None
    land_inner_mm: NotNegative = 0.0
    land_outer_mm: Positive | None = None
    ring_outer_mm: Positive | None = None
    ring_inner_mm: NotNegative = 0.0
    groove_width_mm: NotNegative = 0.0
    groove_pitch_mm: Positive | None = None
    crossed: bool = False

    def asked(self) -> MotionQuestion:
        """The question in SI."""
        land = None if self.land_outer_mm is None else (si(self.land_inner_mm, "mm"), si(self.land_outer_mm, "mm"))
        ring = None if self.ring_outer_mm is None else (si(self.ring_inner_mm, "mm"), si(self.ring_outer_mm, "mm"))
        return MotionQuestion(
            motion=Motion(
                offset=si(self.offset_mm, "mm"),
                plate_speed=si(self.plate_speed_rpm, "rpm", "rotation"),
                jig_speed=si(self.jig_speed_rpm, "rpm", "rotation"),
            ),
            wafer_radius=si(self.wafer_diameter_mm, "mm") / 2.0,
            wafer_offset=si(self.wafer_offset_mm, "mm"),
            sweep=self._sweep(),
            track_width=si_or_none(self.track_um, "µm"),
            duration=None if self.duration_min is None else si(self.duration_min, "min", "time"),
            plate=PlateQuestion(
                land=land,
                ring=ring,
                groove_width=si(self.groove_width_mm, "mm"),
                groove_pitch=si_or_none(self.groove_pitch_mm, "mm"),
                crossed=self.crossed,
            ),
        )

    def _sweep(self) -> Sweep | None:
        if not self.sweep_half_stroke_mm:
            return None
        if self.sweep_period_s is None:
            sentence = "A sweep needs the time of one sweep to and fro: give sweep_period_s."
            raise BadInput([Fault(sentence=sentence, field="sweep_period_s")])
        return Sweep(
            half_stroke=si(self.sweep_half_stroke_mm, "mm"),
            period=self.sweep_period_s,
            arm_length=si_or_none(self.arm_length_mm, "mm"),
            pivot_distance=si_or_none(self.pivot_distance_mm, "mm"),
        )


@router.get("/kinematics", summary="How fast and how evenly a wafer slides")
def kinematics(request: HttpRequest, question: Query[KinematicsQuestion]) -> HttpResponse:  # noqa: ARG001
    """As `lapwright kinematics`."""
    return _given(motion_answer(question.asked()))


@router.get("/rates", summary="What the runs say of each pair of material, abrasive and plate")
def rates(request: HttpRequest, material: str = "", abrasive: str = "", plate: str = "") -> HttpResponse:  # noqa: ARG001
    """What the page Rates shows; all pairs, or those with a material, abrasive or plate."""
    asked = (material, abrasive, plate)
    found = [
        _pair_dict(one)
        for one in use.rate_pairs()
        if all(wanted in ("", held) for wanted, held in zip(asked, one.conditions.combination, strict=True))
    ]
    left_out = [{"wafer": wafer, "why": why} for wafer, why in use.runs_left_out()]
    return _given({"pairs": found, "left_out": left_out})


@router.get("/plates/{plate_id}/shape", url_name="plate_shape", summary="The measured shape of a plate, point by point")
def plate_shape(request: HttpRequest, plate_id: str, check: int | None = None) -> HttpResponse:  # noqa: ARG001
    """What the map of a plate shows; of the latest check, or of one by its number."""
    found = plate_maps.plate_map(plate_id, check, at=now())
    if found is None:
        return _given({"plate": plate_id, "check": None})
    return _given(
        {
            "plate": plate_id,
            "check": found.check.entry_id,
            "at": found.check.at.isoformat(),
            "method": found.check.method,
            "land_inner_mm": mm(found.plate.inner_radius),
            "land_outer_mm": mm(found.plate.outer_radius),
            **shape_dict(found.shape),
            "points": [point_dict(one) for one in found.points],
        }
    )


@router.get("/prices", summary="The prices that hold")
def prices(request: HttpRequest) -> HttpResponse:  # noqa: ARG001
    """As `lapwright prices show`."""
    return _given(price_dict(price_lists.price_list(), price_lists.recorded_prices()))


@router.get("/orders/{order_id}/quotation", summary="What an order would be quoted now, and what the job took")
def quotation(request: HttpRequest, order_id: str) -> HttpResponse:  # noqa: ARG001
    """As `lapwright quote --order`; nothing is recorded."""
    reckoned = quotations.reckon_order(order_id, on=now().date())
    return _given(order_quote_dict(reckoned, quotation_actual.latest_actual(order_id)))


# ----------------------------------------------------------------------------------------------------------------------


def _given(result: dict[str, Any]) -> HttpResponse:
    return HttpResponse(one_line(success(result, [])) + "\n", content_type="application/json")


def _pair_dict(one: use.RatePair) -> dict[str, Any]:
    return {
        **prediction_dict(one.conditions, one.prediction, coverage=use.COVERAGE),
        "from_library": one.from_library,
        "change": one.change,
        "runs_shown": [_run_dict(run) for run in one.runs],
        "abrasive_lots": [
            {"lot": lot.lot, "runs": lot.runs, "factor": lot.factor, "low": lot.low, "high": lot.high}
            for lot in one.lots
        ],
        "stops": [{"station": stop.station_id, **change_dict(stop.suggested)} for stop in one.stops],
        "pad": None if one.pad is None else pad_life_dict(one.pad),
    }


def _run_dict(run: use.RateRun) -> dict[str, Any]:
    return {
        "run": run.origin.run_id,
        "order": run.origin.order_id,
        "wafer": run.origin.wafer_id,
        "stage": run.origin.stage_name,
        "at": run.origin.started.isoformat(),
        "rate_um_per_min": run.removal_rate * _PER_MINUTE,
        "expected_um_per_min": run.expected * _PER_MINUTE,
        "low_um_per_min": run.low * _PER_MINUTE,
        "high_um_per_min": run.high * _PER_MINUTE,
        "note": run.note,
        **{name: value for name, value in conditions_dict(run.conditions).items() if name in _OF_RUN},
    }


_OF_RUN = ("pressure_kpa", "speed_m_per_s", "station", "plate_piece", "abrasive_lot", "pad_age_h", "slurry_age_h")
