"""One suite over every format that is both written and read: round trip, faults, strange bytes."""

import io
import tomllib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from lapwright.errors import LapwrightError, WrongQuestion
from lapwright.formats.order_toml import order_from_dict, order_text, read_order
from lapwright.formats.readings_csv import parse_readings, read_readings
from lapwright.formats.readings_write import write_readings
from lapwright.model.order import Limit, Order
from lapwright.model.readings import Conditions, ThicknessSet
from lapwright.model.wafer import Round


@dataclass(frozen=True)
class Format:
    """A file format: a sample, its text, the value behind a text, the reader of files, and a faulty text."""

    name: str
    sample: object
    write: object
    parse: object
    read: object
    faulty: str


def _write_sets(sets):
    stream = io.StringIO()
    write_readings(stream, sets)
    return stream.getvalue()


def _plain(sets):
    return [
        (one.piece, one.labels, one.x.tolist(), one.y.tolist(), one.site.tolist(), np.nan_to_num(one.thickness).tolist(), one.conditions)
        for one in sets
    ]  # fmt: skip


SETS = (
    ThicknessSet(
        piece="W1", labels=("a", "b"), x=np.array([0.0, 0.01]), y=np.array([0.0, 0.02]), site=np.array([0, 1, 0]),
        thickness=np.array([500.1e-6, np.nan, 500.2e-6]), conditions=Conditions(hold="free", zero_before=1e-7),
    ),
)  # fmt: skip
ORDER = Order(
    order_id="O", customer="C", material="Si", outline=Round(diameter=0.1), quantity=2, start_thickness=500e-6,
    target_thickness=100e-6, limits=(Limit(quantity="thickness", upper=102e-6),), edge_exclusion=3e-3, hold="free",
)  # fmt: skip
FORMATS = (
    Format(
        "readings", _plain(SETS), lambda _: _write_sets(SETS),
        lambda text: _plain(parse_readings(text.splitlines(keepends=True), name="f").sets()),
        lambda path: _plain(read_readings(path).sets()), "wafer,site,x_mm,y_mm,thickness_um\nA,1,0,0,bad\nA,2,0,bad,1\n",
    ),
    Format(
        "order", ORDER, order_text, lambda text: order_from_dict(tomllib.loads(text), name="f"), read_order,
        "order = 1\ncustomer = 2\n",
    ),
)  # fmt: skip
each = pytest.mark.parametrize("form", FORMATS, ids=lambda form: form.name)


@each
def test_what_is_written_reads_back_equal(form, tmp_path):
    """From text and from a file, with and without byte order mark."""
    text = form.write(form.sample)
    assert form.parse(text) == form.sample
    path = tmp_path / "file"
    for encoding in ("utf-8", "utf-8-sig"):
        path.write_text(text, encoding=encoding)
        assert form.read(path) == form.sample


@each
def test_writing_twice_gives_the_same_bytes(form):
    """No clock, no chance."""
    assert form.write(form.sample) == form.write(form.sample)


@each
def test_all_faults_are_listed(form, tmp_path):
    """More than one fault, each with a sentence and a code."""
    path = tmp_path / "file"
    path.write_text(form.faulty, encoding="utf-8")
    with pytest.raises(WrongQuestion) as caught:
        form.read(path)
    assert len(caught.value.faults) > 1
    assert all(fault.sentence and fault.code for fault in caught.value.faults)


@each
@pytest.mark.parametrize(
    "content", [b"", b"\n", b"\xff\xfe\x00", b"\x00" * 64, b"PK\x03\x04", "wafer;ü".encode("latin-1")]
)
def test_strange_bytes_are_refused_by_an_error_of_ours(form, content, tmp_path):
    """Empty, UTF-16, zeros, an archive, another encoding."""
    path: Path = tmp_path / "file"
    path.write_bytes(content)
    with pytest.raises(LapwrightError):
        form.read(path)
    with pytest.raises(LapwrightError):
        form.read(tmp_path / "none")
    with pytest.raises(LapwrightError):
        form.read(tmp_path)
