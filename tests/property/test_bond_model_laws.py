"""Laws of films, bonded plates and breakage that hold for every input."""

import math
from dataclasses import replace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from lapwright.model.wafer import Wedge
from lapwright.process.bonding import pressed_wedge, squeeze_time, squeezed_film
from lapwright.process.bonding_stress import Layer, bonded_plate
from lapwright.process.bonding_trace import HeatTrace, judged_trace
from lapwright.process.release import lapping_bow
from lapwright.process.strength import breakage_probability


def between(low, high):
    """Numbers spread evenly in their logarithm."""
    return st.floats(math.log(low), math.log(high)).map(math.exp)


FILMS = {"load": between(1.0, 1e4), "radius": between(5e-3, 0.1), "viscosity": between(1e-3, 1e3), "start": between(1e-6, 1e-3)}  # fmt: skip
LAYERS = st.builds(
    lambda thickness, modulus, ratio, nu, low, high: Layer(
        name="x", thickness=thickness, moduli=(modulus, modulus * ratio), poisson_ratio=nu, expansions=(low, high)
    ),
    between(2e-5, 1e-2),
    between(1e9, 5e11),
    st.floats(0.3, 3.0),
    st.floats(0.0, 0.2),
    st.floats(0.0, 2e-5),
    st.floats(0.0, 2e-5),
)


@given(**FILMS, time=between(1.0, 1e5))
def test_time_and_film_are_each_others_inverse(load, radius, viscosity, start, time):
    """Pressing for a time and asking for the time of that film; two halves make a whole."""
    given_ = {"radius": radius, "viscosity": viscosity}
    film = squeezed_film(load, start=start, time=time, **given_)
    assert 0.0 < film <= start
    if film < 0.999 * start:
        assert squeeze_time(load, start=start, end=film, **given_) == pytest.approx(time, rel=1e-6)
    half = squeezed_film(load, start=start, time=time / 2.0, **given_)
    assert squeezed_film(load, start=half, time=time / 2.0, **given_) == pytest.approx(film, rel=1e-9)


@given(**FILMS, time=between(1.0, 1e5), scale=between(0.1, 10.0))
def test_films_scale(load, radius, viscosity, start, time, scale):
    """All lengths by k and the load by k^2: the film by k. Viscosity and time by k: the same film."""
    film = squeezed_film(load, radius=radius, viscosity=viscosity, start=start, time=time)
    larger = squeezed_film(load * scale**2, radius=radius * scale, viscosity=viscosity, start=start * scale, time=time)
    assert larger == pytest.approx(film * scale, rel=1e-9)
    slower = squeezed_film(load, radius=radius, viscosity=viscosity * scale, start=start, time=time * scale)
    assert slower == pytest.approx(film, rel=1e-9)


@given(amount=between(1e-7, 1e-5), azimuth=st.floats(0.0, 6.28), turn=st.floats(0.0, 6.28), offset=st.floats(0.0, 0.01))
def test_a_pressed_wedge_turns_with_its_press(amount, azimuth, turn, offset):
    """Wedge and load turned together: the same wedge, turned."""
    press = {"start": 1e-4, "end": 5e-5, "radius": 0.02, "load_offset": offset}
    one = pressed_wedge(Wedge(amount=amount, azimuth=azimuth), load_azimuth=0.0, **press)
    other = pressed_wedge(Wedge(amount=amount, azimuth=(azimuth + turn) % math.tau), load_azimuth=turn, **press)
    assert other.amount == pytest.approx(one.amount, rel=1e-6, abs=1e-15)


@given(layers=st.lists(LAYERS, min_size=1, max_size=4), change=st.floats(-200.0, 200.0))
def test_bonded_plates_keep_their_balance(layers, change):
    """No force without a load; turned over, the bow changes its sign; one layer alone stays flat and free."""
    plate = bonded_plate(layers, temperature_change=change)
    size = sum(abs(one.mean[0]) * layer.thickness for one, layer in zip(plate.stresses, layers, strict=True)) + 1e-6
    for axis in (0, 1):
        force = sum(one.mean[axis] * layer.thickness for one, layer in zip(plate.stresses, layers, strict=True))
        assert abs(force) <= 1e-6 * max(size, 1.0)
    over = bonded_plate(layers[::-1], temperature_change=change)
    assert over.curvatures[0] == pytest.approx(-plate.curvatures[0], rel=1e-6, abs=1e-9)
    if len(layers) == 1:
        assert abs(plate.curvatures[0]) < 1e-9


@given(layers=st.lists(LAYERS, min_size=2, max_size=3), change=st.floats(1.0, 200.0), scale=between(0.1, 10.0))
def test_bonded_plates_scale(layers, change, scale):
    """All thicknesses by k: curvature by 1/k. Twice the change: twice the curvature."""
    one = bonded_plate(layers, temperature_change=change)
    thick = [replace(layer, thickness=layer.thickness * scale) for layer in layers]
    assert bonded_plate(thick, temperature_change=change).curvatures[0] == pytest.approx(
        one.curvatures[0] / scale, rel=1e-6, abs=1e-9
    )
    assert bonded_plate(layers, temperature_change=2.0 * change).curvatures[1] == pytest.approx(
        2.0 * one.curvatures[1], rel=1e-6, abs=1e-9
    )


@given(force=st.floats(-100.0, 100.0), thickness=between(2e-5, 2e-3), scale=between(0.1, 10.0))
def test_bow_of_a_face_scales(force, thickness, scale):
    """With the square of diameter over thickness; the other face bends the other way."""
    given_ = {"youngs_modulus": 1.3e11, "poisson_ratio": 0.28}
    bow = lapping_bow(force, thickness=thickness, diameter=0.05, **given_)
    assert lapping_bow(-force, thickness=thickness, diameter=0.05, **given_) == -bow
    assert lapping_bow(force, thickness=thickness, diameter=0.05 * scale, **given_) == pytest.approx(bow * scale**2)


@given(stress=between(1e6, 1e9), strength=between(1e7, 1e9), modulus=st.floats(2.0, 12.0), area=between(1e-7, 1e-2))
def test_two_halves_break_like_the_whole(stress, strength, modulus, area):
    """Surviving is surviving in both halves; more stress never breaks fewer."""
    given_ = {"strength": strength, "weibull_modulus": modulus}
    whole = breakage_probability(stress, area=area, **given_)
    half = breakage_probability(stress, area=area / 2.0, **given_)
    assert 1.0 - whole == pytest.approx((1.0 - half) ** 2, rel=1e-6, abs=1e-12)
    assert breakage_probability(stress * 1.1, area=area, **given_) >= whole


@example(shift=0.0, later=7892.519899504133, rate=0.125)  # the stamps' differences fall short by a rounding
@given(shift=st.floats(-50.0, 50.0), later=st.floats(0.0, 1e5), rate=st.floats(-0.2, 0.2))
def test_a_trace_does_not_mind_when_it_began(shift, later, rate):
    """Warmer by some kelvins, or later by some hours: the same rates, the same offset less the shift."""
    times = [10.0 * i for i in range(60)]
    plain = HeatTrace(times=tuple(times), temperatures=tuple(350.0 + rate * t for t in times), settings=(350.0,) * 60)
    moved = HeatTrace(
        times=tuple(t + later for t in times),
        temperatures=tuple(350.0 + shift + rate * t for t in times),
        settings=(350.0,) * 60,
    )
    one, other = judged_trace(plain, rate_limit=0.05), judged_trace(moved, rate_limit=0.05)
    assert other.fastest_heating == pytest.approx(one.fastest_heating, abs=1e-6)
    assert other.offset == pytest.approx(one.offset + shift, abs=1e-6)
