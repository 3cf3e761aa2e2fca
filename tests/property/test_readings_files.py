"""Laws of readings files: what is written reads back bit for bit, whatever the separator, sign and mark."""

import contextlib
import io

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from lapwright.errors import LapwrightError
from lapwright.formats.readings_csv import parse_readings
from lapwright.formats.readings_write import write_readings
from lapwright.model.readings import Conditions, ThicknessSet

NAMES = st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=8)
MICROMETRES = st.integers(1, 10**8).map(lambda n: n / 1000 / 1e6)  # as a gauge shows them: 0.001 µm steps
PLACES = st.integers(-300_000, 300_000).map(lambda n: n / 1000 / 1e3)


@st.composite
def thickness_sets(draw, lengths=MICROMETRES):
    """A set with repeats, missing readings and everything a set can say of itself."""
    labels = draw(st.lists(NAMES, min_size=1, max_size=6, unique=True))
    extra = draw(st.lists(st.integers(0, len(labels) - 1), max_size=8))
    site = np.array([*range(len(labels)), *extra])
    # a set names its sites in the order met, which is what a file can say
    thickness = np.array(draw(st.lists(lengths | st.just(float("nan")), min_size=len(site), max_size=len(site))))
    return ThicknessSet(
        piece=draw(NAMES), labels=tuple(labels), site=site, thickness=thickness,
        x=np.array(draw(st.lists(PLACES, min_size=len(labels), max_size=len(labels)))),
        y=np.array(draw(st.lists(PLACES, min_size=len(labels), max_size=len(labels)))),
        conditions=Conditions(
            hold=draw(st.sampled_from([None, "free", "clamped"])), soaked=draw(st.sampled_from([None, True, False])),
            temperature=draw(st.none() | st.integers(-40, 90).map(lambda t: t + 273.15)),
            zero_before=draw(st.none() | MICROMETRES), zero_after=draw(st.none() | MICROMETRES),
        ),
        gauge=draw(st.none() | NAMES), operator=draw(st.none() | NAMES),
    )  # fmt: skip


def same(one, other):
    """Whether two sets are equal to the last bit, NaN included."""
    plain = ("piece", "labels", "gauge", "operator")
    conditions = ("hold", "soaked", "zero_before", "zero_after")
    return (
        all(getattr(one, name) == getattr(other, name) for name in plain)
        and all(getattr(one.conditions, name) == getattr(other.conditions, name) for name in conditions)
        and all(np.array_equal(getattr(one, name), getattr(other, name)) for name in ("x", "y", "site"))
        and np.array_equal(one.thickness, other.thickness, equal_nan=True)
    )


def written(sets, **options):
    """The text of a readings file."""
    stream = io.StringIO()
    write_readings(stream, sets, **options)
    return stream.getvalue()


@given(
    st.lists(thickness_sets(), min_size=1, max_size=3, unique_by=lambda one: one.piece),
    st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", ",")]),
    st.booleans(), st.sampled_from(["\n", "\r\n"]), st.booleans(),
)  # fmt: skip
def test_what_is_written_reads_back_bit_for_bit(sets, signs, mark, line_end, keep_texts):
    """Separator, decimal sign, byte order mark and line end change nothing."""
    text = written(sets, separator=signs[0], decimal=signs[1])
    text = ("\ufeff" if mark else "") + text.replace("\n", line_end)
    lines = io.StringIO(text, newline=None).readlines()
    read = parse_readings(lines, name="t", keep_texts=keep_texts).sets()
    assert len(read) == len(sets)
    assert all(same(one, other) for one, other in zip(read, sets, strict=True))


@given(thickness_sets(lengths=st.floats(1e-12, 1.0)))
def test_in_metres_every_float_reads_back_bit_for_bit(one):
    """A value that never was a short number in µm is safe in metres."""
    (read,) = parse_readings(written([one], unit="m").splitlines(keepends=True), name="t").sets()
    assert np.array_equal(read.thickness, one.thickness, equal_nan=True)


@given(thickness_sets(), st.randoms(use_true_random=False))
def test_the_order_of_wafers_and_rows_of_other_wafers_does_not_matter(one, random):
    """Rows of a second wafer strewn in between leave the first wafer as it was."""
    head, *rows = written([one]).splitlines(keepends=True)
    width = len(head.split(","))
    other = "\u2020other,q,1,2,300,1" + "," * (width - 6) + "\n"
    position = random.randint(0, len(rows))
    mixed = parse_readings([head, *rows[:position], other, *rows[position:]], name="t").sets()
    assert any(same(one, read) for read in mixed)


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused_by_an_error_of_ours(text):
    """No input makes the reader fail in another way."""
    for content in (text, "wafer,site,x_mm,y_mm,thickness_um\n" + text, "wafer;site;x_mm;y_mm;thickness_um\n" + text):
        with contextlib.suppress(LapwrightError):
            parse_readings(io.StringIO(content).readlines(), name="t")
