"""Texts kept as files: found again while they follow from the same, worked out again where they are missing or damaged.

No source: what a kept text must do follows from the words of `kept_texts`.
"""

import os

import pytest

from lapwright.app import kept_texts, passing_files


@pytest.fixture
def asked(started_records, tmp_path, monkeypatch):  # noqa: ARG001  it needs a data folder
    """How often a text was worked out, and what asks for it, over a folder of its own."""
    monkeypatch.setattr(kept_texts, "_folder", lambda: tmp_path / "worked-out")
    worked = []

    def ask(*follows_from):
        return kept_texts.kept_text(follows_from, lambda: worked.append(follows_from) or f"µm {follows_from}")

    return worked, ask


def test_a_text_is_worked_out_once(asked):
    """Each of what it follows from counts, and none runs into the next."""
    worked, ask = asked
    assert ask("a", "b") == ask("a", "b") == "µm ('a', 'b')"
    assert ask("ab", "") != ask("a", "b")
    assert worked == [("a", "b"), ("ab", "")]


def test_another_program_works_it_out_anew(asked, monkeypatch):
    """A text of an earlier version is not shown by a later one."""
    worked, ask = asked
    ask("a")
    monkeypatch.setattr(kept_texts, "_program", lambda: "later")
    ask("a")
    assert len(worked) == 2


@pytest.mark.parametrize("content", [b"", b"no gzip", b"\x1f\x8b\x08\x00half"])
def test_a_damaged_file_is_replaced(asked, tmp_path, content):
    """Cut short by a full disk, or overwritten."""
    worked, ask = asked
    ask("a")
    (file,) = (tmp_path / "worked-out").iterdir()
    file.write_bytes(content)
    assert ask("a") == ask("a") == "µm ('a',)"
    assert len(worked) == 2


def test_a_folder_that_cannot_be_written_costs_only_time(asked, tmp_path):
    """A file lies where the folder should be."""
    worked, ask = asked
    (tmp_path / "worked-out").write_bytes(b"")
    assert ask("a") == ask("a") == "µm ('a',)"
    assert len(worked) == 2


def test_the_oldest_make_room(tmp_path):
    """Sizes 3, 3 and 3 where 7 may be held: the one written first goes; one too old goes, however small."""
    for age, name in enumerate("abc"):
        passing_files.keep(tmp_path, name, b"xxx", most_held=100)
        os.utime(tmp_path / name, (1000.0 + age, 1000.0 + age))
    passing_files.keep(tmp_path, "d", b"x", most_held=7)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["b", "c", "d"]
    passing_files.keep(tmp_path, "e", b"x", most_held=7, oldest_s=1001.5)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["c", "d", "e"]
