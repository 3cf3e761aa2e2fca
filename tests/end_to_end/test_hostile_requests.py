"""Hostile requests to a real server: each is refused or does no harm, and the server goes on for everybody else."""

import html
import http.client
import io
import json
import re
import socket
import time
import zipfile
import zlib
from contextlib import suppress
from datetime import UTC, datetime
from urllib.parse import quote, urlsplit

import numpy as np
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings

from lapwright.formats.sdf import sdf_bytes
from lapwright.formats.x3p_archive import md5_of
from lapwright.model.surface import HeightMap
from lapwright.testing.served import form_headers, served

LAUGHS = (
    '<!DOCTYPE l [<!ENTITY a "ha">'
    + "".join(f'<!ENTITY {chr(98 + n)} "{f"&{chr(97 + n)};" * 10}">' for n in range(9))
    + "]>"
)
SMALL = HeightMap(height=np.zeros((2, 3)), pixel_size=(1e-3, 1e-3))
ABSURD = re.sub(
    rb"(NumPoints|NumProfiles)(\s*=\s*)\d+", rb"\1\g<2>60000", sdf_bytes(SMALL, at=datetime.now(UTC), coding="text")
)
SECRET = "root:"  # the first line of /etc/passwd


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """The address of a furnished server."""
    with served(tmp_path_factory.mktemp("hostile") / "data", furnished=True) as address:
        yield address


def asked(server, method, place, body=b"", headers=None, *, wait=30.0):
    """Status and body of one request, its path sent as it stands."""
    connection = http.client.HTTPConnection(urlsplit(server).netloc, timeout=wait)
    try:
        connection.putrequest(method, place, skip_accept_encoding=True)
        for name, value in {"Content-Length": str(len(body)), **(headers or {})}.items():
            connection.putheader(name, value)
        connection.endheaders(body)
        answer = connection.getresponse()
        return answer, answer.read()
    finally:
        connection.close()


def uploaded(server, place, name, content, **fields):
    """What a form with a file is answered with."""
    page, _ = asked(server, "GET", place)
    assert page.status == 200
    edge = "7a1e"
    parts = [
        f'--{edge}\r\nContent-Disposition: form-data; name="{key}"\r\n\r\n{value}\r\n' for key, value in fields.items()
    ]
    parts.append(f'--{edge}\r\nContent-Disposition: form-data; name="files"; filename="{name}"\r\n\r\n')
    body = "".join(parts).encode() + content + f"\r\n--{edge}--\r\n".encode()
    headers = {**form_headers(page), "Content-Type": f"multipart/form-data; boundary={edge}"}
    return asked(server, "POST", place, body, headers)


def packed(document, **more):
    """An X3P archive around a description."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("main.xml", document)
        file.writestr("md5checksum.hex", f"{md5_of(document)} *main.xml\n")
        for name, content in more.items():
            file.writestr(name, content)
    return stream.getvalue()


def told_on(page):
    """The words of a page, without its tags."""
    return html.unescape(re.sub(r"<[^>]*>", "", page.decode()))


def lives(server):
    """Whether a page comes within a second or two."""
    began = time.monotonic()
    return asked(server, "GET", "/orders")[0].status == 200 and time.monotonic() - began < 10.0


@pytest.mark.parametrize(
    "place",
    [
        "/static/../../../../../../etc/passwd",
        "/static/%2e%2e/%2e%2e/%2e%2e/%2e%2e/etc/passwd",
        "/static/..%2f..%2f..%2f..%2f..%2fetc%2fpasswd",
        "/static//etc/passwd",
        "/orders/..%2f..%2f..%2fetc%2fpasswd",
        "/api/orders/..%2F..%2Fetc%2Fpasswd",
        "/orders/AP-1/documents/..%2f..%2fetc%2fpasswd",
        "/answers/../../../../etc/passwd",
        "/static/%00/etc/passwd",
    ],
)
def test_no_path_leads_out(server, place):
    """Dots, plain and encoded: not found, and nothing of the machine in the answer."""
    answer, body = asked(server, "GET", place)
    assert answer.status in (400, 404)
    assert SECRET.encode() not in body


def test_an_uploaded_name_leads_nowhere(server, tmp_path_factory):
    """A file called after a place in the data folder is a file without a place."""
    root = tmp_path_factory.getbasetemp()
    answer, _ = uploaded(
        server, "/profiles", "../../../../evil.csv", b"x_mm,z_nm\n0,1\n", filter_kind="gaussian",
        instrument_kind="not_stated", moment="final",
    )  # fmt: skip
    assert answer.status < 500
    assert list(root.rglob("evil*")) == []


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("bomb.x3p", packed(bytes(65 << 20)), "unpacks to more than the .* bytes expected"),
        ("laughs.x3p", packed(f"{LAUGHS}<l>&j;</l>".encode()), "such a file is not read"),
        ("outside.x3p", packed(b'<!DOCTYPE l [<!ENTITY a SYSTEM "file:///etc/passwd">]><l>&a;</l>'), "such a file is not read"),
        ("deep.x3p", packed(b"<a>" * 100_000 + b"</a>" * 100_000), "such a file is not read"),
        ("absurd.sdf", ABSURD, "states 60000 × 60000 points; at most"),
    ],
    ids=lambda value: value if isinstance(value, str) and "." in value else "",
)  # fmt: skip
def test_bombs_are_refused_before_they_go_off(server, name, content, said):
    """Archives and documents that unpack to far more than they are: a sentence, and soon."""
    began = time.monotonic()
    answer, body = uploaded(
        server, "/profiles", name, content, filter_kind="gaussian", instrument_kind="not_stated", moment="final"
    )
    assert answer.status == 422
    assert re.search(said, told_on(body))
    assert SECRET not in body.decode()
    assert time.monotonic() - began < 15.0
    assert lives(server)


def bomb_picture():
    """A PNG of 60000 x 60000 pixels in a few kilobytes, by its specification (W3C PNG, third edition, chapter 5)."""

    def chunk(kind, data):
        return len(data).to_bytes(4) + kind + data + zlib.crc32(kind + data).to_bytes(4)

    head = (60000).to_bytes(4) * 2 + bytes([1, 0, 0, 0, 0])
    rows = zlib.compress(bytes(7501 * 2000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def test_a_picture_that_unpacks_to_gigabytes_is_refused(server):
    """Its size is looked at before its pixels."""
    answer, body = uploaded(
        server, "/surfaces", "bomb.png", bomb_picture(), method="auto", incidence="0°", moment="final",
        fringe_height="0.3 um", diameter="50 mm", mask_kind="auto",
    )  # fmt: skip
    assert answer.status == 422
    assert "states more pixels than are read" in told_on(body)
    assert lives(server)


@pytest.mark.parametrize(
    "text",
    ["' OR '1'='1", "'; DROP TABLE records_order; --", "%' UNION SELECT username, password FROM records_person --"],
)
def test_sql_in_what_is_looked_for_is_only_text(server, text):
    """Nothing is found by it, nothing is lost by it."""
    answer, body = asked(server, "GET", f"/orders?find={quote(text)}")
    assert answer.status == 200
    assert b"scrypt" not in body
    assert asked(server, "GET", f"/api/orders/{quote(text)}")[0].status == 404
    assert asked(server, "GET", f"/gauges/{quote(text)}")[0].status == 404
    assert b"G1" in asked(server, "GET", "/gauges")[1]


def test_templates_and_scripts_in_a_text_are_only_text(server):
    """Looked for, and as the name of what is not there: shown as typed, never run."""
    text = "{{7*191}}{% debug %}<script>alert(1)</script>"
    for place in (f"/orders?find={quote(text)}", f"/orders/{quote(text, safe='')}", f"/gauges/{quote(text, safe='')}"):
        _, body = asked(server, "GET", place)
        assert b"1337" not in body
        assert b"<script>alert" not in body


def test_an_upload_beyond_the_limit_is_refused_by_its_length(server):
    """201 MB announced to a page and to the API, not sent: refused at once, or the connection is closed."""
    page, _ = asked(server, "GET", "/profiles")
    for place, kind in (("/profiles", "multipart/form-data; boundary=x"), ("/api/thickness", "application/json")):
        headers = {**form_headers(page), "Content-Type": kind, "Content-Length": str(201 << 20)}
        said = b""
        host, port = urlsplit(server).netloc.split(":")
        with socket.create_connection((host, int(port)), timeout=20.0) as line:
            lines = "".join(f"{name}: {value}\r\n" for name, value in headers.items())
            line.sendall(f"POST {place} HTTP/1.1\r\nHost: {host}\r\n{lines}\r\n".encode())
            line.sendall(b"--x\r\n")
            line.shutdown(socket.SHUT_WR)
            with suppress(ConnectionError), line.makefile("rb") as answer:
                said = answer.readline()
        assert b" 2" not in said[:12]
    assert lives(server)


def test_many_slow_clients_hold_nobody_up(server):
    """Eighty connections that send their request a byte at a time, half of them a body: others are answered as before."""
    host, port = urlsplit(server).netloc.split(":")
    slow = []
    try:
        for number in range(80):
            line = socket.create_connection((host, int(port)), timeout=20.0)
            if number % 2:
                line.sendall(b"POST /api/thickness HTTP/1.1\r\nHost: x\r\nContent-Length: 1000\r\n\r\n{")
            else:
                line.sendall(b"GET /orders HTTP/1.1\r\nHo")
            slow.append(line)
        for line in slow:
            line.sendall(b"s")
        assert lives(server)
        assert lives(server)
    finally:
        for line in slow:
            line.close()


KNOWN = {"order_id": "AP-1", "wafer_id": "AP-1-01", "plate_id": "L1"}


def test_every_operation_of_the_api_answers_in_its_shape_whatever_is_asked(server):
    """Cases drawn from its own OpenAPI document: never a fault of the program's own, always the one shape."""
    wrong, asked_for = [], 0
    for found in schemathesis.openapi.from_url(f"{server}/api/openapi.json").get_all_operations():
        operation = found.ok()

        @settings(
            max_examples=9,
            derandomize=True,
            deadline=None,
            database=None,
            suppress_health_check=list(HealthCheck),
            phases=[Phase.generate],
        )
        @given(case=operation.as_strategy())
        def holds(case):
            nonlocal asked_for
            asked_for += 1
            if asked_for % 2:
                case.path_parameters.update({name: KNOWN[name] for name in case.path_parameters if name in KNOWN})
            answer = case.call()
            told = json.loads(answer.content)
            fine = answer.status_code < 500 and told["ok"] == (answer.status_code == 200)
            if not (fine and ("result" in told if told["ok"] else told["code"] and told["error"])):
                wrong.append((case.method, case.formatted_path, case.query, case.body, answer.text[:300]))

        holds()
    assert wrong == []
    assert asked_for > 100
