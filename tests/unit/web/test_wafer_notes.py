"""Notes and photographs of a wafer: kept, shown, and refused in words."""

import errno
import io
import os

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from lapwright.app import orders, wiring
from lapwright.formats import photographs

PAGE = "/orders/AP-1/wafers/AP-1-01"


def picture(kind="JPEG", grey=128):
    """The bytes of a small grey picture."""
    file = io.BytesIO()
    Image.new("L", (40, 30), grey).save(file, kind)
    return file.getvalue()


def send(client, name, content):
    """The answer to a photograph that is sent."""
    return client.post(f"{PAGE}/photograph", {"photograph": SimpleUploadedFile(name, content)})


def kept():
    """The photographs of the wafer."""
    return orders.show_wafer("AP-1-01").documents


@pytest.mark.parametrize(("kind", "ending", "shown"), [("JPEG", ".jpg", "image/jpeg"), ("PNG", ".png", "image/png")])
def test_a_photograph_is_kept_whole_and_shown(client, lot, kind, ending, shown):  # noqa: ARG001
    """Byte for byte, under the ending of what it is, and served as that and nothing else."""
    assert send(client, "void.<b>.exe", picture(kind)).status_code == 302
    (one,) = kept()
    assert one.name.endswith(ending)
    answer = client.get(f"/orders/AP-1/documents/{one.document_id}")
    assert answer.headers["Content-Type"] == shown
    assert b"".join(answer.streaming_content) == picture(kind)
    assert f"documents/{one.document_id}" in client.get(PAGE).content.decode()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"GIF89a" + b"0" * 50, "no JPEG or PNG"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "no JPEG or PNG"),
        (picture()[:200], "cut short or damaged"),
    ],
)
def test_what_is_no_photograph_is_refused_in_words(client, lot, content, words):  # noqa: ARG001
    """One sentence on the page of the wafer, nothing kept."""
    answer = send(client, "void.jpg", content)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert kept() == ()


@pytest.mark.parametrize(("number", "words"), [(errno.ENOSPC, "The disk is full"), (errno.EACCES, "cannot be written")])
def test_a_photograph_for_which_there_is_no_room(client, lot, monkeypatch, number, words):  # noqa: ARG001
    """A sentence without the places of the machine; nothing is recorded of it, and no half file is left."""
    folder = wiring.current_settings().data / "documents"
    before = sorted(folder.rglob("*"))

    def refuse(_number):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "fsync", refuse)
    answer = send(client, "wafer.png", picture("PNG", grey=number))
    assert (answer.status_code, words in answer.content.decode()) == (503, True)
    assert str(folder.parent) not in answer.content.decode()
    assert [one for one in sorted(folder.rglob("*")) if one not in before and one.is_file()] == []
    assert kept() == ()


def test_a_photograph_beyond_the_limit_is_refused(client, lot, monkeypatch):  # noqa: ARG001
    """The sentence says how large it is and what is kept at most."""
    monkeypatch.setattr(photographs, "MOST_PHOTO_BYTES", 100)
    answer = send(client, "void.jpg", picture())
    assert "at most" in answer.content.decode()
    assert answer.status_code == 422


def test_a_long_note_comes_back_whole_and_a_fitting_one_is_kept(client, lot):  # noqa: ARG001
    """10 001 letters are refused and stand in the box again; 10 000 are kept, with markup as text."""
    long = "x" * 10_001
    answer = client.post(f"{PAGE}/note", {"text": long})
    assert answer.status_code == 422
    assert long in answer.content.decode()
    fitting = "<script>alert(1)</script>" + "y" * 9_000
    assert client.post(f"{PAGE}/note", {"text": fitting, "warning": "on"}).status_code == 302
    (note,) = orders.show_wafer("AP-1-01").notes
    assert (note.text, note.kind) == (fitting, "warning")
    assert "<script>alert(1)" not in client.get(PAGE).content.decode()
