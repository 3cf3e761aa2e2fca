"""Order files: the example of the reference, and every fault at once."""

import re
import tomllib
from datetime import date
from pathlib import Path

import pytest

from lapwright.errors import BadInput, FileFormatError
from lapwright.formats.order_toml import order_from_dict, order_text, read_order
from lapwright.model.wafer import Polygon, Rectangle, Round

PAGE = Path(__file__).parents[3] / "docs" / "reference" / "order-file.md"


def example():
    """The example of the reference as text."""
    return re.search(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)[1]


def _read(text):
    return order_from_dict(tomllib.loads(text), name="o.toml")


def _faults(text):
    with pytest.raises(BadInput) as caught:
        _read(text)
    return caught.value.faults


def test_the_example_of_the_reference_is_read_as_it_says():
    """Every definition arrives in SI."""
    order = _read(example())
    assert (order.order_id, order.quantity, order.spares) == ("AP-0042", 6, 1)
    assert order.outline == Round(diameter=50.8e-3, mark="flat", flat_length=16e-3)
    assert order.due == date(2026, 3, 31)
    assert (order.start_thickness, order.target_thickness) == (500e-6, 100e-6)
    assert (order.limit("thickness").lower, order.limit("thickness").upper) == (98e-6, 102e-6)
    assert order.limit("roughness_ra").upper == 1e-9
    assert (order.rule.kind, order.rule.false_accept, order.hold) == ("guarded", 0.02, "free")
    assert order.edge_exclusion == 3e-3


def test_a_written_order_reads_back_equal():
    """To the last bit, with every field."""
    order = _read(example())
    assert _read(order_text(order)) == order


def test_any_unit_of_the_quantity_will_do():
    """2 in are 50.8 mm, exact by definition (NIST SP 811)."""
    assert _read(example().replace("diameter_mm = 50.8", "diameter_in = 2")).outline.diameter == 50.8e-3


@pytest.mark.parametrize("line", ["diameter = 50.8", 'diameter = "50.8 mm"', "diameter_mm = true", "diameter_mm = nan"])
def test_a_number_without_a_unit_is_refused(line):
    """A bare number, a text, a truth value, not a number."""
    (fault,) = _faults(example().replace("diameter_mm = 50.8", line))
    assert fault.field.startswith("piece.diameter")


def test_all_missing_definitions_come_in_one_list():
    """An order must say by which rule, on which area and how held it is judged."""
    faults = _faults('order = "a"\ncustomer = "b"\n[piece]\nshape = "round"\n')
    assert {fault.code for fault in faults} == {"order.missing"}
    assert {fault.field for fault in faults} == {
        "quantity", "incoming", "finished", "judging", "limit", "piece.material", "piece.diameter_mm", "incoming.thickness_um",
        "finished.thickness_um", "judging.edge_exclusion_mm", "judging.hold", "judging.rule",
    }  # fmt: skip


def test_unknown_keys_are_named_with_the_nearest_known_one():
    """Misspelt keys are not passed over."""
    (fault,) = _faults(example().replace("spares = 1", "spare = 1"))
    assert (fault.field, fault.code) == ("spare", "order.unknown_key")
    assert "did you mean 'spares'" in fault.sentence


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("diameter_mm = 50.8", "diameter_mm = 50.8\ndiameter_in = 2", "order.twice"),
        ("diameter_mm = 50.8", "diameter_mm = -1", "value.out_of_range"),
        ("lower_um = 98.0", "lower_um = 103.0", "value.out_of_range"),
        ('quantity = "ttv"', 'quantity = "thickness"', "order.twice"),
        ('quantity = "ttv"', 'quantity = "tvt"', "order.not_a_choice"),
        ("false_accept_percent = 2.0", "false_accept_percent = 80", "value.out_of_range"),
        ("quantity = 6", "quantity = 0", "order.not_a_count"),
        ("quantity = 6", "quantity = 1.5", "order.not_a_count"),
        ("due = 2026-03-31", 'due = "soon"', "order.not_a_date"),
        ('customer = "Fennbach Filters"', "customer = 7", "order.not_a_text"),
        ("value_per_wafer = 480.0", 'value_per_wafer = "a lot"', "order.not_a_number"),
        ("[finished]\nthickness_um = 100.0", "[finished]\nthickness_um = -100.0", "value.out_of_range"),
        ("edge_exclusion_mm = 3.0", "edge_exclusion_mm = -3.0", "value.out_of_range"),
        ("[[limit]]", "[limit]", None),
    ],
)
def test_a_value_that_does_not_fit_is_named(old, new, code):
    """Each kind of fault has its code."""
    if code is None:
        with pytest.raises(tomllib.TOMLDecodeError):
            _read(example().replace(old, new))
        return
    assert code in {fault.code for fault in _faults(example().replace(old, new, 1))}


def test_a_thickness_without_a_limit_is_refused():
    """What is thinned to a thickness is judged by it."""
    text = re.sub(r"\[\[limit\]\]\nquantity = \"thickness\"\n.*?\n\n", "", example(), flags=re.DOTALL)
    (fault,) = _faults(text)
    assert fault.code == "order.missing"
    assert "thickness has no limit" in fault.sentence


@pytest.mark.parametrize(
    ("rows", "outline"),
    [
        ('shape = "rectangle"\nwidth_mm = 25\nheight_mm = 10', Rectangle(width=25e-3, height=10e-3)),
        ('shape = "polygon"\ncorners_mm = [[0, 0], [10, 0], [0, 10.5]]', Polygon(corners=((0, 0), (10e-3, 0), (0, 10.5e-3)))),
        ('shape = "round"\ndiameter_mm = 100\nmark = "notch"', Round(diameter=0.1, mark="notch")),
    ],
)  # fmt: skip
def test_every_shape_is_read_and_written(rows, outline):
    """Round with flat or notch, rectangle, polygon."""
    text = re.sub(r'shape = "round".*?flat_length_mm = 16.0', rows, example(), flags=re.DOTALL)
    order = _read(text)
    assert order.outline == outline
    assert _read(order_text(order)) == order


@pytest.mark.parametrize(
    "corners",
    ["[[0, 0], [nan, 0], [0, 1]]", '[["0", 0], [1, 0], [0, 1]]', "[[0, 0, 0], [1, 0], [0, 1]]", "7", "[1, 2, 3]"],
)
def test_corners_are_pairs_of_numbers(corners):
    """No text, no third number, no NaN."""
    text = re.sub(
        r'shape = "round".*?flat_length_mm = 16.0',
        f'shape = "polygon"\ncorners_mm = {corners}',
        example(),
        flags=re.DOTALL,
    )
    assert _faults(text)[0].field == "piece.corners_mm"


def test_a_file_that_is_no_toml_is_told(tmp_path):
    """With the place where reading stopped."""
    path = tmp_path / "o.toml"
    path.write_text("order = \n", encoding="utf-8")
    with pytest.raises(FileFormatError, match="line 1"):
        read_order(path)
    path.write_text(example(), encoding="utf-8")
    assert read_order(path).quantity == 6
