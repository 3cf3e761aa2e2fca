"""One suite over every format of profiles and maps: round trips, cut files, strange and hostile bytes."""

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lapwright.errors import BadInput, FileFormatError
from lapwright.formats.map_csv import map_grid_text, map_list_text
from lapwright.formats.profile_csv import profile_text
from lapwright.formats.sdf import sdf_bytes
from lapwright.formats.surfaces import read_surface, surface_from_bytes, write_surface
from lapwright.formats.x3p import x3p_bytes
from lapwright.model.surface import HeightMap, HeightProfile

AT = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
METRES = {"place_unit": "m", "height_unit": "m"}


@dataclass(frozen=True)
class Form:
    """A format: its name, how it is written, which kinds it holds, and whether heights read back bit for bit."""

    name: str
    write: object
    kinds: tuple = ("map", "profile")
    is_exact: bool = True


FORMS = (
    Form("x3p", lambda one: x3p_bytes(one, at=AT)),
    Form("sdf-binary", lambda one: sdf_bytes(one, at=AT)),
    Form("sdf-text", lambda one: sdf_bytes(one, at=AT, coding="text")),
    Form("profile-m", lambda one: profile_text(one, **METRES).encode(), kinds=("profile",)),
    Form("profile-nm", lambda one: profile_text(one).encode(), kinds=("profile",), is_exact=False),
    Form("grid-m", lambda one: map_grid_text(one, **METRES).encode(), kinds=("map",)),
    Form("grid-um", lambda one: map_grid_text(one).encode(), kinds=("map",), is_exact=False),
    Form("list-m", lambda one: map_list_text(one, **METRES).encode(), kinds=("map",)),
)
each = pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)
CASES = [pytest.param(form, kind, id=f"{form.name}-{kind}") for form in FORMS for kind in form.kinds]
each_kind = pytest.mark.parametrize(("form", "kind"), CASES)


def surface(kind, *, seed=1, **about):
    """A rough surface with gaps, of sizes that differ along both axes."""
    rng = np.random.default_rng(seed)
    height = rng.normal(0.0, 1e-6, (7, 5) if kind == "map" else 60)
    height[rng.random(height.shape) < 0.2] = np.nan
    height.flat[[0, -1]] = 0.0, -1.25e-7
    if kind == "map":
        return HeightMap(height=height, pixel_size=(3e-4, 2.5e-4), **about)
    return HeightProfile(height=height, spacing=5e-7)


def steps(one):
    """Pixel size or spacing."""
    return one.pixel_size if isinstance(one, HeightMap) else (one.spacing,)


@each_kind
def test_what_is_written_reads_back_bit_for_bit_with_gaps_kept(form, kind):
    """Heights, gaps and steps; text in nm or µm to one rounding step of the double (3e-16), as it converts units."""
    before = surface(kind)
    after = surface_from_bytes(form.write(before), name="f")
    assert type(after) is type(before)
    assert np.array_equal(np.isnan(before.height), np.isnan(after.height))
    if form.is_exact:
        assert np.array_equal(before.height, after.height, equal_nan=True)
        assert steps(before) == steps(after)
    else:
        np.testing.assert_allclose(after.height, before.height, rtol=3e-16, atol=0.0)
        assert steps(after) == pytest.approx(steps(before), rel=3e-16)


@each
@given(data=st.data())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_surface_reads_back(form, data):
    """Any size and any finite heights from 1e-300 to 1e9 m, or none: the exact formats return them bit for bit."""
    kind = data.draw(st.sampled_from(form.kinds))
    shape = tuple(data.draw(st.lists(st.integers(2, 6), min_size=2, max_size=2))) if kind == "map" else (7,)
    numbers = st.one_of(
        st.just(float("nan")), st.floats(-1e9, 1e9, allow_subnormal=False).filter(lambda z: z == 0 or abs(z) > 1e-300)
    )
    size = int(np.prod(shape))
    height = np.array(data.draw(st.lists(numbers, min_size=size, max_size=size))).reshape(shape)
    step = data.draw(st.floats(1e-9, 1.0))
    before = (
        HeightMap(height=height, pixel_size=(step, 2.0 * step)) if kind == "map" else HeightProfile(height=height, spacing=step)
    )  # fmt: skip
    after = surface_from_bytes(form.write(before), name="f")
    if form.is_exact:
        assert np.array_equal(before.height, after.height, equal_nan=True)
    else:
        np.testing.assert_allclose(after.height, before.height, rtol=3e-16, atol=1e-320)


@each_kind
def test_writing_twice_gives_the_same_bytes(form, kind):
    """No clock, no chance."""
    assert form.write(surface(kind)) == form.write(surface(kind))


@pytest.mark.parametrize("form", [form for form in FORMS if "map" in form.kinds], ids=lambda form: form.name)
def test_an_unknown_sign_and_a_thickness_stay_known(form):
    """What a format has no field for is kept as a remark."""
    about = {"sign_ambiguous": True, "quantity": "thickness"}
    after = surface_from_bytes(form.write(surface("map", **about)), name="f")
    assert {name: getattr(after, name) for name in about} == about
    plain = surface_from_bytes(form.write(surface("map")), name="f")
    assert (plain.sign_ambiguous, plain.quantity) == (False, "height")


@each_kind
def test_a_file_cut_at_any_place_is_refused_or_whole(form, kind):
    """Every length from nothing to one byte short: an error of ours, or all points (of text, but for the last digits)."""
    before = surface(kind)
    content = form.write(before)
    for length in range(len(content)):
        try:
            after = surface_from_bytes(content[:length], name="f")
        except (FileFormatError, BadInput):
            continue
        assert after.height.shape == before.height.shape
        last = before.height.shape[-1] - 1
        same = np.isclose(before.height, after.height, rtol=3e-16, atol=0.0, equal_nan=True)
        assert same.all() or np.argwhere(~same).tolist() in (
            [[last]],
            [[before.height.shape[0] - 1, last]],
            [[0, last]],
        )


@each_kind
@given(place=st.integers(0, 10_000), value=st.integers(0, 255), more=st.binary(max_size=8))
@settings(max_examples=150, deadline=None)
def test_changed_bytes_never_crash_the_reader(form, kind, place, value, more):
    """A byte changed and some put in: a surface or an error of ours, nothing else."""
    content = bytearray(form.write(surface(kind)))
    place %= len(content)
    content[place] = value
    content[place:place] = more
    try:
        after = surface_from_bytes(bytes(content), name="f")
    except (FileFormatError, BadInput):
        return
    assert not np.isinf(after.height).any()


@pytest.mark.parametrize(
    "start", [b"", b"PK\x03\x04", b"aISO-1.0\r\n", b"bISO-2.0", b"x_mm,z_nm\n", b"# grid: z_um\n", b"x_mm,y_mm,z_um\n"]
)
@given(content=st.binary(max_size=300))
@settings(max_examples=80, deadline=None)
def test_garbage_is_refused_by_an_error_of_ours(start, content):
    """Random bytes, bare or behind the beginning of a known format."""
    with pytest.raises((FileFormatError, BadInput)) as caught:
        surface_from_bytes(start + b"\xfe?" + content, name="f")
    assert caught.value.sentence


@pytest.mark.parametrize("ending", [".x3p", ".sdf", ".csv", ".TXT"])
@pytest.mark.parametrize("kind", ["map", "profile"])
def test_files_are_written_by_their_ending_and_read_by_their_content(ending, kind, tmp_path):
    """The name does not matter when reading."""
    before = surface(kind)
    write_surface(tmp_path / f"a{ending}", before, at=AT)
    (tmp_path / f"a{ending}").rename(tmp_path / "b.dat")
    after = read_surface(tmp_path / "b.dat")
    np.testing.assert_allclose(after.height, before.height, rtol=3e-16, atol=0.0)
    assert list(tmp_path.iterdir()) == [tmp_path / "b.dat"]


def test_other_files_and_names_are_refused(tmp_path):
    """No file, a folder, a device, an empty file, an unknown ending, a folder that is not there."""
    (tmp_path / "empty.x3p").write_bytes(b"")
    for path in (tmp_path / "none", tmp_path, tmp_path / "empty.x3p", type(tmp_path)("/dev/zero")):
        with pytest.raises(FileFormatError):
            read_surface(path)
    for path in (tmp_path / "a.pdf", tmp_path / "none" / "a.x3p"):
        with pytest.raises(FileFormatError):
            write_surface(path, surface("map"), at=AT)
