"""The size report counts as the house style says."""

from pathlib import Path

from lapwright.testing import sizes

SOURCE = Path(__file__).parents[2] / "src"


def test_no_module_and_no_function_is_too_large():
    """At most 500 lines a module, 60 lines a body."""
    offences, _ = sizes.report(SOURCE)
    assert offences == []


def test_a_docstring_does_not_count_as_body(tmp_path):
    """Three statements after a long docstring are three lines."""
    body = "\n".join(
        ["def f():", '    """One.', *["    more"] * 100, '    """', "    a = 1", "    b = 2", "    return a + b"]
    )
    (tmp_path / "one.py").write_text(body + "\n")

    assert sizes.report(tmp_path)[0] == []


def test_a_long_body_is_named(tmp_path):
    """The offence says where and how long."""
    (tmp_path / "one.py").write_text("def f():\n" + "    a = 1\n" * 61)

    assert [f"{tmp_path / 'one.py'}:1: f has 61 lines (at most 60)"] == sizes.report(tmp_path)[0]
