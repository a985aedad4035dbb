"""Words fit where they are put, and are read at the size where they are shown."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewbot.render import canvas
from reviewbot.render.canvas import (
    NOTE,
    WIDTH,
    beside,
    fitted,
    flow,
    label,
    legend,
    paper,
    printable,
    sheet,
    swatch,
    text,
    under,
)


def test_the_smallest_words_are_twelve_pixels_high_on_a_pull_request() -> None:
    """Shown about 830 pixels wide; 12 are the least to read (common practice, no source)."""
    assert min(canvas.TITLE, canvas.LABEL, canvas.NOTE) * 830 / WIDTH >= 11.9


@given(words=st.text(max_size=80), width=st.integers(60, 400))
def test_words_never_reach_beyond_their_width(words: str, width: int) -> None:
    assert label(words, width).shape[1] == width
    assert text(words, width=width).shape[1] <= width + 2
    assert printable(words).isprintable()


def test_long_names_keep_both_ends() -> None:
    word = "lantern_" + "x" * 80 + "_low"
    cut = canvas.shortened(word, canvas._font(NOTE, "Regular"), 200)
    assert cut.startswith("lan")
    assert cut.endswith("low")
    assert "…" in cut


def test_lines_are_broken_at_blanks() -> None:
    one, many = text("word"), text("word " * 30, width=200)
    assert many.shape[0] % one.shape[0] == 0
    assert many.shape[0] > 4 * one.shape[0]


def test_letters_beyond_latin_are_drawn() -> None:
    for words in ("Größe ×2 – Καλημέρα", "фонарь"):
        assert (text(words) < 128).sum() > 200


def test_pieces_side_by_side_and_under_each_other() -> None:
    a, b = paper(30, 10, (0, 0, 0)), paper(20, 40, (9, 9, 9))
    assert beside([a, b], gap=5).shape == (40, 55, 3)
    assert under([a, b], gap=5).shape == (55, 30, 3)
    assert fitted(a, 50, 50, across="middle", down="end")[40:, 10:40].max() == 0


@pytest.mark.parametrize(
    ("count", "width", "rows"), [(4, 390, 1), (4, 600, 2), (3, 500, 1), (5, 900, 5)]
)
def test_rows_are_filled_evenly(count: int, width: int, rows: int) -> None:
    laid = flow([paper(width, 10) for _ in range(count)], gap=20)
    assert laid.shape[0] == rows * 10 + (rows - 1) * 20


def test_a_sheet_is_as_wide_as_its_body() -> None:
    page = sheet("Title", "note", [paper(1000, 50, (0, 0, 0))])
    assert page.shape[1] == 1000 + 2 * canvas.GAP
    assert sheet("", "", [paper(10, 10)]).shape[1] >= 700


def test_legends_break_to_their_width() -> None:
    entries = [(swatch((200, 30, 30)), f"entry number {k}") for k in range(8)]
    narrow = legend(entries, width=500)
    assert narrow.shape[1] <= 520
    assert narrow.shape[0] > legend(entries, width=1600).shape[0]
    assert not np.array_equal(narrow, paper(*narrow.shape[1::-1]))
