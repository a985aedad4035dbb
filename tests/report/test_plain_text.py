import itertools
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report.sample import HOSTILE_NAMES

from reviewbot.report.plain_text import (
    html_sentence,
    markdown_name,
    markdown_sentence,
    pieces,
    plain_sentence,
    visible,
)


@pytest.mark.parametrize(
    "name", ["handle", "handle_low", "Laterne gross", "poignée", "灯", "a-b.c (2)", "lamp&co", "#1"]
)
def test_ordinary_names_stay_as_they_are(name):
    assert visible(name) == name


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("", "‹no name›"),
        ("a`b", "a‹backtick›b"),
        ("a|b", "a‹pipe›b"),
        ("a\\b", "a‹backslash›b"),
        ("a\nb", "a‹newline›b"),
        ("a\x1b[31m", "a‹U+001B›[31m"),
        ("\u202eb", "‹U+202E›b"),
        ("a\u200bb", "a‹U+200B›b"),
        ("a\u00a0b", "a‹hard space›b"),
        ("\u3164", "‹U+3164›"),
        (" a  b ", "‹space›a ‹space›b‹space›"),
        ("   ", "‹space›‹space›‹space›"),
    ],
)
def test_what_acts_or_hides_is_written_out(name, shown):
    assert visible(name) == shown


def test_long_names_lose_their_middle():
    assert len(visible("x" * 5000)) < 110


@given(st.text(st.characters()))
def test_a_shown_name_has_no_hidden_or_acting_character(name):
    shown = visible(name)
    assert not set(shown) & set("`|\\\n\r\t")
    assert all(
        unicodedata.category(c) not in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"} for c in shown
    )
    assert all(c == " " or unicodedata.category(c) != "Zs" for c in shown)


@pytest.mark.parametrize(
    "sentence",
    [
        "Everything is as it was.",
        "4 faces (12%) have more than four sides; cut them into quads.",
        "It moved by 0.5 units, 3–4 times -1.5 or ±2.",
        "The asset's size is 100× larger; “cm” read as “m”.",
        "1,000 of 2,000 faces (50%), at most 3.5°.",
        "Is it 12 px/unit? Yes!",
    ],
)
def test_plain_sentences_stay_as_they_are(sentence):
    assert markdown_sentence(sentence) == sentence


def test_names_are_set_apart():
    assert markdown_sentence("handle's UVs are gone.", ["handle"]) == "`handle`'s UVs are gone."
    assert markdown_sentence("handles stay", ["handle"]) == "handles stay"
    assert markdown_sentence("see http://x.example now") == "see `http://x.example` now"
    assert html_sentence("a <b> c") == "a <code><bdi>&lt;b&gt;</bdi></code> c"


def test_quotation_marks_round_a_name_go():
    assert (
        markdown_sentence("The part 'cap_low' is new.", ["cap_low"]) == "The part `cap_low` is new."
    )
    assert markdown_sentence("'cap' isn't 'lid'", ["cap"]) == "`cap` isn't 'lid'"
    assert markdown_sentence("cap's rim", ["cap"]) == "`cap`'s rim"


def test_longer_names_win():
    assert markdown_sentence("handle ring moved", ["handle", "handle ring"]) == (
        "`handle ring` moved"
    )


def test_names_that_touch_share_one_span():
    assert markdown_sentence("[handle]", ["handle"]) == "`[handle]`"


@pytest.mark.parametrize("start", ["-", "+", "1.", "12)", "=", "===", "---"])
def test_a_sentence_never_starts_a_block(start):
    assert markdown_sentence(f"{start} word").startswith("`")


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_sentences_of_hostile_names_stay_on_one_line(name):
    for text in (plain_sentence(name), markdown_sentence(name), markdown_name(name)):
        assert len(text.splitlines()) <= 1
        assert "\x1b" not in text


@given(st.text(st.characters(), max_size=60), st.lists(st.text(max_size=8), max_size=3))
def test_two_name_pieces_never_touch(sentence, names):
    found = pieces(sentence, names)
    assert not any(a.is_name and b.is_name for a, b in itertools.pairwise(found))
