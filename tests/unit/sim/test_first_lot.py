"""The tutorial's lot is written by the simulator and nothing else."""

from pathlib import Path

from lapwright.formats.readings_csv import read_readings
from lapwright.sim.first_lot import WAFER_IDS, files

DATA = Path(__file__).parents[3] / "docs" / "tutorial" / "data"


def test_the_files_of_the_tutorial_are_those_the_simulator_writes():
    """Name by name and byte by byte; write them anew when the simulator changed."""
    written = files()
    assert written == {path.name: path.read_text(encoding="utf-8") for path in sorted(DATA.glob("*.csv"))}


def test_every_file_of_the_lot_can_be_read():
    """Nine sites, three repeats, both zeros."""
    for name in files():
        for one in read_readings(DATA / name):
            assert len(one.readings.labels) == 9
            assert one.readings.thickness.size == 27
            assert one.readings.conditions.zero_after is not None


def test_another_seed_gives_another_lot_of_the_same_wafers():
    """Seeded, not fixed."""
    assert files(1) != files()
    assert WAFER_IDS[0] in files(1)["incoming.csv"]
