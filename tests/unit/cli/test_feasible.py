"""`lapwright feasible`."""

import json
from pathlib import Path

from lapwright.cli.main import exit_status


def test_an_order_file_is_weighed(capsys):
    """The example of the documentation: can, with remarks on rim and bow; a bevelled edge binds."""
    file = Path(__file__).parents[3] / "docs" / "tutorial" / "data" / "order.toml"
    assert exit_status(["feasible", str(file), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["result"]
    assert found["answer"] in ("can", "only_with")
    assert len(found["lines"]) == 3
    assert any("the middle of" in one for one in found["remarks"])
    assert exit_status(["feasible", str(file), "--edge", "bevelled", "--json"]) == 0
    bevelled = json.loads(capsys.readouterr().out)["result"]
    assert "edge" in [one["limit"] for one in bevelled["checks"]]
    assert exit_status(["feasible", str(file)]) == 0
    assert "it takes" in capsys.readouterr().out
