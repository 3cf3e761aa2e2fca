"""Codes of pieces: every wrong letter is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.errors import BadInput
from lapwright.formats.piece_codes import LETTERS, check_character, piece_code, read_code


def test_the_check_character_is_that_of_code_39():
    """The worked example that goes with the symbology: 12345ABCDE/ has T (from memory); by hand 115 = 2 · 43 + 29."""
    assert check_character("12345ABCDE/") == "T"
    assert LETTERS[115 - 2 * 43] == "T"


@given(st.text(alphabet="ABCXYZ0189-.", min_size=1, max_size=20), st.data())
def test_a_single_wrong_character_is_always_refused(name, data):
    """Any letter of any code in place of any other: never accepted, so never another wafer."""
    code = piece_code("wafer", name)
    assert read_code(code) == ("wafer", name)
    place = data.draw(st.integers(0, len(code) - 1))
    wrong = data.draw(st.sampled_from([letter for letter in LETTERS if letter != code[place]]))
    with pytest.raises(BadInput):
        read_code(code[:place] + wrong + code[place + 1 :])


@pytest.mark.parametrize("text", ["", "W", "W/A", "hello", "XP/AP-1", "W1/ÄB"])
def test_what_is_no_code_is_refused_in_a_sentence(text):
    """Found, and what to do."""
    with pytest.raises(BadInput, match="Scan it again"):
        read_code(text)


def test_a_name_that_no_code_can_carry_has_none():
    """Code 39 has no umlauts."""
    assert piece_code("wafer", "Größe-1") is None
