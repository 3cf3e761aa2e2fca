"""Benchmarks: each part in its own process, a failure loses nothing of the rest, parts are merged into what is kept."""

import json
import math
import shutil

import pytest

from lapwright.testing import bench, bench_page
from lapwright.testing.growth import exponent

ROW = "{{'name': '{name}', 'ours_s': {ours}, 'reference_s': 2.0, 'ratio': {ours} / 2.0, 'conditions': 'idle'}}"
GROWTH = """
from lapwright.testing.growth import Growth

def curves():
    return [Growth(names=("a sum",), counts="numbers", sizes=(10, 100, 1000), prepare="summing")]

def summing(size):
    if size > 100:
        raise MemoryError("too large for this test")
    return [lambda: sum(range(size))]
"""


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A folder of a good benchmark, one that fails, one that never ends, and a growth that breaks off; run once."""
    folder = tmp_path_factory.mktemp("bench")
    (folder / "bench_good.py").write_text("def rows():\n    return [" + ROW.format(name="good", ours=1.0) + "]\n")
    (folder / "bench_bad.py").write_text("def rows():\n    raise ValueError('no such thing')\n")
    (folder / "bench_endless.py").write_text("def rows():\n    while True:\n        pass\n")
    (folder / "growth_shop.py").write_text(GROWTH)
    page = folder / "performance.md"
    found = bench.main([str(folder), "bad", "good", "growth", "--report", str(page)])
    return folder, page, found


def test_what_fails_is_named_and_loses_nothing_of_the_rest(place):
    """The row of the good one, the points before the break, both faults with their reason; and the code says so."""
    _folder, page, code = place
    text = page.read_text(encoding="utf-8")
    assert code == 1
    assert "| good | 1 | 2 | 0.5 | idle |" in text
    assert "- bad: ended with 1: ValueError: no such thing" in text
    assert "- a sum: broke off at 1000 numbers: MemoryError: too large for this test" in text
    assert "| a sum | 10, 100 numbers |" in text
    assert (page.parent / "performance-1.svg").read_text(encoding="utf-8").startswith("<svg")


def test_a_part_measured_anew_leaves_the_others_as_kept(place, tmp_path):
    """Only the row asked for is new; the others keep their figures and their conditions."""
    folder = shutil.copytree(place[0], tmp_path / "bench")
    page = folder / "performance.md"
    before = bench_page.kept(page)
    (folder / "bench_good.py").write_text("def rows():\n    return [" + ROW.format(name="good", ours=3.0) + "]\n")
    assert bench.main([str(folder), "good", "--report", str(page)]) == 0
    after = json.loads(page.with_suffix(".json").read_text(encoding="utf-8"))
    assert after["good"]["rows"][0]["ours_s"] == 3.0
    assert {part: one for part, one in after.items() if part != "good"} == {
        part: one for part, one in before.items() if part != "good"
    }
    assert "| good | 3 | 2 | 1.5 | idle |" in page.read_text(encoding="utf-8")


def test_a_part_that_does_not_end_is_ended(place):
    """Stopped with all it started, and said."""
    folder, _page, _code = place
    assert bench.run(folder, "endless", most=0.3)["fault"].startswith("stopped after")


def test_an_unknown_name_is_refused_with_the_known_ones(place):
    """Before anything is measured."""
    with pytest.raises(SystemExit, match=r"No benchmark nonsense\. There are: bad, endless, good, growth_summing"):
        bench.main([str(place[0]), "nonsense"])


def test_the_power_of_a_power_law_is_found():
    """Time 3 n^1.5 at any sizes has the power 1.5, by definition; nothing is fitted to values that have no logarithm."""
    sizes = [10.0, 40.0, 1000.0]
    assert math.isclose(exponent(sizes, [3.0 * size**1.5 for size in sizes]), 1.5, rel_tol=1e-12)
    assert math.isnan(exponent(sizes, [0.0, 1.0, 2.0]))
