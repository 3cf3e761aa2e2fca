"""Where the demonstration lays its data: refused with a sentence, never with a fault of the program's own."""

import pytest

from lapwright.cli.demo import _make_room
from lapwright.errors import RecordError


def test_a_folder_that_cannot_be_made_is_told(tmp_path):
    """As in a container whose working folder belongs to somebody else; here a file stands in the way."""
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    with pytest.raises(RecordError, match=r"taken/demo-data cannot be made: .+\. Name another with --data\."):
        _make_room(tmp_path / "taken" / "demo-data")
