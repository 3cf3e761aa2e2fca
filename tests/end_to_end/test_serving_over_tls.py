"""The real command, serving over TLS on another address than this machine's name, with accounts: what elsewhere meets."""

import json
import shutil
import ssl
import subprocess
import sys
import urllib.error
import urllib.request

import pytest

PASSWORD = "mica-and-pitch-7"


@pytest.fixture
def certificate(tmp_path):
    """A certificate of our own for 127.0.0.1, and its key."""
    if shutil.which("openssl") is None:
        pytest.skip("openssl, which makes the certificate, is not installed")
    paths = (tmp_path / "bench.pem", tmp_path / "bench.key")
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=bench",
         "-addext", "subjectAltName=IP:127.0.0.1", "-out", str(paths[0]), "-keyout", str(paths[1])],
        check=True, capture_output=True, timeout=50,
    )  # fmt: skip
    return paths


def test_the_command_serves_over_tls_and_asks_who_it_is(tmp_path, certificate):
    """On 0.0.0.0: health is open, a page leads to the log-in, the API asks for a token and takes one."""
    run = [sys.executable, "-m", "lapwright"]
    add = [*run, "people", "add", "mara", "--role", "admin", "--password-stdin", "--data", str(tmp_path / "data")]
    subprocess.run(add, input=f"{PASSWORD}\n", text=True, check=True, capture_output=True, timeout=50)
    made = subprocess.run(
        [*run, "people", "token", "mara", "--for", "test", "--scope", "read", "--data", str(tmp_path / "data"), "--json"],
        check=True, capture_output=True, text=True, timeout=50,
    )  # fmt: skip
    token = json.loads(made.stdout)["result"]["text"]
    command = [*run, "serve", "--data", str(tmp_path / "data"), "--host", "0.0.0.0", "--port", "0", "--no-recorder",
               "--certificate", str(certificate[0]), "--key", str(certificate[1]), "--json"]  # fmt: skip
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
        try:
            address = json.loads(server.stdout.readline())["result"]["address"]
            assert address.startswith("https://0.0.0.0:")
            here = address.replace("0.0.0.0", "127.0.0.1")
            trusted = ssl.create_default_context(cafile=certificate[0])

            def ask(path, **headers):
                request = urllib.request.Request(here + path, headers=headers)
                with urllib.request.urlopen(request, context=trusted, timeout=30) as answer:
                    return answer.geturl(), answer.headers, answer.read()

            assert json.loads(ask("health")[2])["ok"] is True
            reached, headers, _page = ask("orders")
            assert reached.endswith("/login?next=%2Forders")
            assert headers["Strict-Transport-Security"].startswith("max-age=")
            assert all("Secure" in cookie for cookie in headers.get_all("Set-Cookie"))
            with pytest.raises(urllib.error.HTTPError) as refused:
                ask("api/orders")
            refused.value.close()
            assert refused.value.code == 401
            assert json.loads(ask("api/orders", Authorization=f"Bearer {token}")[2])["ok"] is True
        finally:
            server.terminate()
            server.wait(timeout=30)
