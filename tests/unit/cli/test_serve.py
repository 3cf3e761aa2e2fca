"""`lapwright serve` before it serves: who may reach it, and a port in use."""

import json
import socket
import subprocess
import sys

from lapwright.cli.main import exit_status


def answer(capsys, *arguments):
    """Exit status and answer."""
    status = exit_status(["serve", *map(str, arguments), "--json"])
    return status, json.loads(capsys.readouterr().out)


def served(folder, *arguments):
    """What `lapwright serve` says in a process of its own before it serves."""
    command = [sys.executable, "-m", "lapwright", "serve", "--data", str(folder), "--port", "0", "--json", *arguments]
    done = subprocess.run(command, check=False, capture_output=True, text=True, timeout=50)
    return done.returncode, json.loads(done.stdout)


def test_elsewhere_is_not_served_before_there_is_an_admin(tmp_path):
    """Nobody else may reach the records while nobody can let them in."""
    status, told = served(tmp_path, "--host", "0.0.0.0")
    assert (status, told["code"]) == (2, "setting.unknown")
    assert "lapwright people add NAME --role admin" in told["error"]


def test_a_certificate_without_its_key_is_refused(tmp_path):
    """And one that is none."""
    (tmp_path / "a.pem").write_text("no certificate")
    status, told = served(tmp_path, "--certificate", str(tmp_path / "a.pem"))
    assert (status, "go together" in told["error"]) == (2, True)
    both = ("--certificate", str(tmp_path / "a.pem"), "--key", str(tmp_path / "a.pem"))
    status, told = served(tmp_path, *both)
    assert (status, "cannot be used" in told["error"]) == (2, True)


def test_a_port_in_use_is_told(capsys, started_records):
    """With what to do."""
    with socket.socket() as busy:
        busy.bind(("127.0.0.1", 0))
        busy.listen()
        port = busy.getsockname()[1]
        status, told = answer(capsys, "--data", started_records.data, "--port", port)
    assert status == 2
    assert f"{port} on 127.0.0.1 cannot be used" in told["error"]
