"""The look for numbers that nobody can ask why: it must see what lacks one, and be content with one near."""

import pytest

from lapwright.testing.whys import look, unexplained

WHY = '<a class="why" href="/help/why/ttv?from=/wafer">why?</a>'


def page(body):
    """A page with such a middle; what stands around it does not count."""
    return f"<header>{WHY}</header><main>{body}</main><footer>{WHY}</footer>"


TABLE = "<table><thead><tr><th>Wafer</th><th>TTV{why}</th></tr></thead><tr><th>1{row}</th><td class=num>0.4</td></tr></table>"


@pytest.mark.parametrize(
    ("body", "named"),
    [
        ("<dl><div><dt>TTV</dt><dd>0.4 µm</dd></div></dl>", "TTV"),
        ("<dl><dt>Mean</dt><dd>1</dd><dt>TTV</dt><dd>0.4 µm</dd></dl>".replace("Mean</dt>", f"Mean{WHY}</dt>"), "TTV"),
        (TABLE.format(why="", row=""), "TTV"),
        ('<p class="value">0.4 µm</p>', "# µm"),
        (f"<h2>Bond{WHY}</h2><h2>Wafer</h2><dl><dt>TTV</dt><dd>± 0.4 µm</dd></dl>", "TTV"),
    ],
)
def test_a_number_without_a_why_is_named(body, named):
    """By the word that it stands behind, or its column."""
    assert unexplained("wafer", page(body)) == {("wafer", named)}


@pytest.mark.parametrize(
    "body",
    [
        f"<dl><div><dt>TTV{WHY}</dt><dd>0.4 µm</dd></div></dl>",
        f"<dl><dt>TTV</dt><dd>0.4 µm {WHY}</dd></dl>",
        TABLE.format(why=WHY, row=""),
        TABLE.format(why="", row=WHY),
        f"<h2>Wafer{WHY}</h2><dl><dt>TTV</dt><dd>0.4 µm</dd></dl>",
        f"<section><h2>Wafer{WHY}</h2><h3>TTV</h3><p class=value>0.4 µm</p></section>",
        f"<details><p>In numbers{WHY}</p><table><tr><td class=num>0.4</td></tr></table></details>",
        f"<table><caption>TTV{WHY}</caption><tr><td class=num>0.4</td></tr></table>",
        "<dl><dt>Wafer</dt><dd>AP-1-01</dd></dl>",
        "<dl><dt>TTV</dt><dd><input value=0.4></dd></dl>",
    ],
)
def test_a_why_in_the_item_row_column_or_heading_is_near(body):
    """And what is no number, or is typed there, wants none."""
    assert unexplained("wafer", page(body)) == set()


def test_each_kind_is_asked_for_once_and_told_when_it_works_nothing_out():
    """One address of each, the first that was met."""
    asked = []

    def ask(address):
        asked.append(address)
        return '<p class="value">0.4 µm</p>' if "mean" in address else "<p>Nothing was read.</p>"

    mean = WHY.replace("ttv", "mean")
    short, silent, kinds = look([("wafer", "/wafer", page(mean)), ("set", "/set", page(WHY + mean))], ask)
    assert (short, silent, kinds) == ([], ["/help/why/ttv?from=/wafer"], ["mean", "ttv"])
    assert len(asked) == 2
