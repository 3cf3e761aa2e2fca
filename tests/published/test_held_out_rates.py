"""Published and trade figures of removal, held out of the prior and predicted within the interval stated.

Each row of the library is taken out in turn, and what the rest says of it is compared with its figure: two rows that a
source gives in full or in part, and the trade's rows with the pressures and speeds they hold at. Most trade rows rest
on common practice; what is checked is that carrying over from another material or grain states its doubt honestly.
"""

import math
from dataclasses import replace

import pytest

from lapwright.errors import CannotAnswer
from lapwright.library import load
from lapwright.metrology.distributions import student_t_quantile
from lapwright.process.learning import PastRun, RunConditions, predict_rate, rate_interval, rate_model

LIBRARY = load()
#: Row -> abrasive with which it is asked for.
ABRASIVES = {
    "si-al2o3-coarse": "al2o3-9", "si-al2o3-fine": "al2o3-3", "gaas-al2o3-fine": "al2o3-3",
    "gaas-al2o3-coarse": "al2o3-9", "inp-al2o3-fine": "al2o3-3", "inp-al2o3-coarse": "al2o3-9", "ge-al2o3": "al2o3-5",
    "fs-coarse": "al2o3-9", "bs-coarse": "al2o3-9", "lt-sic1000": "sic-jis1000", "lt-al2o3-coarse": "al2o3-9",
    "ln-coarse": "al2o3-9", "ln-coarse-sic": "sic-jis1000", "sapphire-diamond": "diamond-3", "sic-diamond": "diamond-9",
    "gan-diamond": "diamond-6",
}  # fmt: skip


def without(row_id):
    """The library as if nobody had published that row."""
    rows = tuple(row for row in LIBRARY.removal_coefficients if row.row_id != row_id)
    return replace(LIBRARY, removal_coefficients=rows)


def conditions_of(row):
    """The middle of the row's pressures, half a metre a second."""
    return RunConditions(
        material=row.material,
        abrasive=ABRASIVES[row.row_id],
        plate=row.plates[0],
        pressure=math.sqrt(row.pressure_low * row.pressure_high),
        speed=0.5,
    )


def found_beside(row_id):
    """The row's rate, and the 95 % interval that the rest of the library states for it; None when it refuses."""
    row = next(one for one in LIBRARY.removal_coefficients if one.row_id == row_id)
    where = conditions_of(row)
    try:
        prediction = predict_rate(rate_model(without(row_id)), where)
    except CannotAnswer:
        return None
    return row.coefficient * where.pressure * where.speed, rate_interval(prediction, coverage=0.95)


def test_lithium_tantalate_held_out_is_predicted_from_lithium_niobate():
    """1.68 µm a metre and kgf/cm² (1.713e-11 per Pa) from the niobate row by the removal index."""
    rate, interval = found_beside("lt-sic1000")
    assert interval.low < rate < interval.high
    assert interval.median == pytest.approx(rate, rel=0.5)


@pytest.mark.parametrize("row_id", ABRASIVES)
def test_every_held_out_row_lies_in_its_interval(row_id):
    """Within what the others state as 95 %. The intervals are wide, a factor of 3 to 30 either way, and say so."""
    rate, interval = found_beside(row_id)
    assert interval.low < rate < interval.high


@pytest.mark.parametrize(
    ("row", "abrasive", "material", "plate"),
    [
        ("L20", "al2o3-9", "Si", "cast-iron"), ("L21", "al2o3-3", "Si", "glass"), ("L22", "al2o3-9", "fused silica", "cast-iron"),
        ("L24", "diamond-3", "sapphire", "copper"), ("L27a", "al2o3-3", "GaAs", "glass"),
        ("L27b", "al2o3-9", "GaAs", "cast-iron"), ("L28a", "al2o3-3", "InP", "glass"),
        ("L28b", "al2o3-9", "InP", "cast-iron"), ("L29", "al2o3-9", "LiTaO3", "cast-iron"),
        ("L30", "al2o3-5", "Ge", "glass"), ("P22", "silica-colloidal", "Si", "pad-polyurethane"),
        ("P25", "ceria-1", "fused silica", "pad-polyurethane"),
    ],
)  # fmt: skip
def test_figures_of_the_trade_lie_in_the_interval(row, abrasive, material, plate):
    """The geometric middle of each trade figure, at the middle of its pressures and speeds."""
    figure = next(one for one in LIBRARY.published_rates if one.row_id == row)
    where = RunConditions(
        material=material,
        abrasive=abrasive,
        plate=plate,
        pressure=math.sqrt(figure.pressure_low * figure.pressure_high),
        speed=math.sqrt(figure.speed_low * figure.speed_high),
    )
    interval = rate_interval(predict_rate(rate_model(LIBRARY), where), coverage=0.95)
    assert interval.low < math.sqrt(figure.rate_low * figure.rate_high) < interval.high


def test_gallium_arsenide_of_a_designed_experiment():
    """2 µm/min, alumina 5 µm, pressure and speed not told: inside at the middle of what is usual for the material."""
    where = RunConditions(material="GaAs", abrasive="al2o3-5", plate="glass", pressure=5.5e3, speed=0.2)
    interval = rate_interval(predict_rate(rate_model(LIBRARY), where), coverage=0.95)
    assert interval.low < 2e-6 / 60 < interval.high


def test_two_runs_replace_the_library():
    """The library says: replace after two runs of your own. The interval is then set by them, not by the band."""
    where = conditions_of(next(row for row in LIBRARY.removal_coefficients if row.row_id == "lt-sic1000"))
    before = predict_rate(rate_model(LIBRARY), where)
    runs = [PastRun(name=str(k), conditions=where, removal_rate=1.5 * before.median * (1 + 0.05 * k)) for k in (0, 1)]
    after = predict_rate(rate_model(LIBRARY, runs), where)
    assert after.median == pytest.approx(1.5 * before.median, rel=0.12)
    reach = student_t_quantile(0.95, after.degrees_of_freedom) * after.log_deviation
    assert reach < math.log(1.5)
