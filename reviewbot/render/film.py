"""An asset's versions side by side as a film strip, and one after the other as an animation."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reviewbot.render.animation import fitting_webp
from reviewbot.render.canvas import (
    GAP,
    LABEL,
    NOTE,
    WIDTH,
    beside,
    fitted,
    framed,
    label,
    paper,
    sheet,
    text,
    under,
)
from reviewbot.render.colours import BACKDROP, BLUE, MUTED, RULE, Image
from reviewbot.render.contact_sheet import Verdict, badge
from reviewbot.render.encoding import shaded_picture
from reviewbot.render.panels import empty_panel, scaled
from reviewbot.render.picture import Picture

MOST_FRAMES = 18  # of one asset; what is left out is counted
_COLUMNS = 6
_GUTTER = 16
_CARD = (WIDTH - 2 * GAP - (_COLUMNS - 1) * _GUTTER) // _COLUMNS
_HEIGHT = round(1.1 * _CARD)
_LINES = 3  # of a message under its frame
_MOVING_WIDTH, _MOVING_HEIGHT = 560, 480
_FRAME_MILLISECONDS = 1500  # time to read a message; under the flash limit by far
_STEP = 1.35  # height of a line, in text sizes


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmFrame:
    """One version.

    image    (H, W, 3) cropped; None where there is nothing to be seen
    instead  why, in a word
    day      when, in a few characters
    words    the commit's message, or what else to say
    size     where the version is drawn at another scale than the others: how large it really is
    verdict  how it stands; None where that is not known
    """

    image: Image | None
    instead: str
    day: str
    words: str
    size: str
    verdict: Verdict | None


def chosen_frames(count: int) -> list[int]:
    """Which of so many versions are shown: all, or the first, the last and evenly between."""
    if count <= MOST_FRAMES:
        return list(range(count))
    return sorted({round(k * (count - 1) / (MOST_FRAMES - 1)) for k in range(MOST_FRAMES)})


def film_strip(frames: Sequence[FilmFrame], *, title: str, left_out: int) -> Picture:
    """The versions in order, six to a row, their days and messages beneath."""
    cards = [_card(frame) for frame in frames]
    rows = [beside(cards[at : at + _COLUMNS], gap=_GUTTER) for at in range(0, len(cards), _COLUMNS)]
    told = f"{len(frames)} versions, the oldest first"
    if left_out:
        told += f"; {left_out} between them are not shown"
    return shaded_picture(
        sheet(title, "", rows),
        kind="film-strip",
        name="film-strip",
        caption=f"{told}. Square: must be mended; diamond: wants a look; disc: nothing open.",
        alt=f"Film strip of {told}",
    )


def _card(frame: FilmFrame) -> Image:
    picture = framed(_pictured(frame, _CARD, _HEIGHT))
    head = [badge(frame.verdict)] if frame.verdict else []
    day = label(frame.day, _CARD - 44 * len(head), size=NOTE, weight="Semi Bold")
    words = [text(frame.size, colour=MUTED, width=_CARD)] if frame.size else []
    words.append(_cut_lines(frame.words, _CARD, _LINES, size=NOTE))
    return under(
        [picture, under([beside([*head, day], gap=8, down="middle"), *words], gap=2)], gap=6
    )


def _cut_lines(words: str, width: int, lines: int, *, size: int) -> Image:
    """At most so many lines; where there were more, dots say so."""
    height = lines * round(size * _STEP)
    whole = text(words, size=size, width=width)
    kept = words
    while whole.shape[0] > height and " " in kept:
        kept = kept.rsplit(" ", 1)[0]
        whole = text(f"{kept} …", size=size, width=width)
    return fitted(whole[:height, :width], width, height)


def _pictured(frame: FilmFrame, width: int, height: int) -> Image:
    if frame.image is None:
        return empty_panel(frame.instead, (height, width))
    share = min(width / frame.image.shape[1], height / frame.image.shape[0])
    small = scaled(frame.image, max(1, int(frame.image.shape[1] * share)))[:height, :width]
    return fitted(small, width, height, across="middle", down="middle", background=BACKDROP)


def film_animation(frames: Sequence[FilmFrame]) -> Picture:
    """One version after the other, each long enough to read what was said of it."""
    moving = [_moving(frame, at, len(frames)) for at, frame in enumerate(frames)]
    data, first = fitting_webp(moving, _FRAME_MILLISECONDS)
    seconds = len(frames) * _FRAME_MILLISECONDS / 1000
    return Picture(
        kind="film",
        name="film",
        data=data,
        suffix=".webp",
        width=first.shape[1],
        height=first.shape[0],
        caption=f"{len(frames)} versions one after the other, {seconds:.0f} seconds.",
        alt=f"Animation of {len(frames)} versions one after the other",
    )


def _moving(frame: FilmFrame, at: int, count: int) -> Image:
    day = text(frame.day, size=LABEL, weight="Semi Bold")
    head = beside([*([badge(frame.verdict)] if frame.verdict else []), day], gap=8, down="middle")
    head = fitted(head, _MOVING_WIDTH, badge("pass").shape[0] + 4)
    said = f"{frame.words} ({frame.size})" if frame.size else frame.words
    words = _cut_lines(said, _MOVING_WIDTH, 2, size=NOTE)
    picture = _pictured(frame, _MOVING_WIDTH, _MOVING_HEIGHT)
    column = under([picture, _progress_bar(at, count), head, words], gap=8)
    page = paper(column.shape[1] + 2 * GAP, column.shape[0] + 2 * GAP)
    page[GAP : GAP + column.shape[0], GAP : GAP + column.shape[1]] = column
    return page


def _progress_bar(at: int, count: int) -> Image:
    """How far along a frame is."""
    bar = paper(_MOVING_WIDTH, 8, RULE)
    edges = np.linspace(0, _MOVING_WIDTH, count + 1).astype(int)
    bar[:, : edges[at + 1]] = BLUE
    return bar
