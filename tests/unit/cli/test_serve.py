"""`lapwright serve` before it serves: who may reach it, and a port in use."""

import json
import socket

import pytest

from lapwright.cli.main import exit_status


def answer(capsys, *arguments):
    """Exit status and answer."""
    status = exit_status(["serve", *map(str, arguments), "--json"])
    return status, json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.10", "::", "example.org"])
def test_only_this_machine_is_served(capsys, tmp_path, host):
    """Without accounts nobody else may reach the records."""
    status, told = answer(capsys, "--data", tmp_path, "--host", host)
    assert (status, told["code"]) == (2, "setting.unknown")
    assert "this machine only" in told["error"]


def test_a_port_in_use_is_told(capsys, started_records):
    """With what to do."""
    with socket.socket() as busy:
        busy.bind(("127.0.0.1", 0))
        busy.listen()
        port = busy.getsockname()[1]
        status, told = answer(capsys, "--data", started_records.data, "--port", port)
    assert status == 2
    assert f"{port} on 127.0.0.1 cannot be used" in told["error"]
