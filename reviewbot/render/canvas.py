"""Words and panels on paper: small pieces of picture, put beside and under each other.

Pictures are laid out 1660 pixels wide. A pull request shows them about half that size, so the
smallest text here, 24 pixels high, is read there at 12.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, lru_cache
from importlib import resources
from typing import Literal

import numpy as np
from PIL import Image as PillowImage
from PIL import ImageDraw, ImageFont

from reviewbot.render.colours import INK, MUTED, PAPER, RULE, Image, Rgb

WIDTH = 1660
GAP = 20
TITLE, LABEL, NOTE = 36, 28, 24
_NARROWEST = 760
Weight = Literal["Regular", "Medium", "Semi Bold"]
Align = Literal["start", "middle", "end"]


@cache
def _font(size: int, weight: Weight) -> ImageFont.FreeTypeFont:
    file = resources.files("reviewbot.render").joinpath("fonts/Inter-roman.var.ttf")
    with resources.as_file(file) as path:
        font = ImageFont.truetype(str(path), size)
    font.set_variation_by_name(weight)
    return font


@lru_cache(maxsize=256)  # "before", "after", views' names: the same words on sheet after sheet
def text(
    words: str,
    *,
    size: int = NOTE,
    weight: Weight = "Regular",
    colour: Rgb = INK,
    background: Rgb = PAPER,
    width: int | None = None,
) -> Image:
    """(H, W, 3) words in one or more lines, broken to fit a width; one line high if empty.

    Not to be written to: the same words come again as the same picture.
    """
    font = _font(size, weight)
    lines = _lines(printable(words), font, width)
    step = round(size * 1.35)
    wide = max(1, *(int(np.ceil(font.getlength(line))) for line in lines))
    wide = wide if width is None else min(wide, width)
    sheet = PillowImage.new("RGB", (wide + 2, step * len(lines)), background)
    draw = ImageDraw.Draw(sheet)
    for index, line in enumerate(lines):
        draw.text((0, index * step), line, font=font, fill=colour)
    image = np.asarray(sheet)
    image.setflags(write=False)
    return image


def printable(words: str) -> str:
    """Names from files may hold anything: what cannot be printed in a line becomes a dot."""
    return "".join(c if c.isprintable() else "·" for c in words)


def _lines(words: str, font: ImageFont.FreeTypeFont, width: int | None) -> list[str]:
    if width is None:
        return [words]
    lines = [""]
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if font.getlength(longer) <= width:
            lines[-1] = longer
        else:
            lines.append(shortened(word, font, width))
    return lines if lines[0] else lines[1:] or [""]


@lru_cache(maxsize=256)
def shortened(words: str, font: ImageFont.FreeTypeFont, width: float) -> str:
    """Cut in the middle, so that a name's start and end are both still read."""
    if font.getlength(words) <= width:
        return words
    keep = len(words) - 1
    while keep > 2 and font.getlength(_cut(words, keep)) > width:
        keep -= 1
    return _cut(words, keep)


def _cut(words: str, keep: int) -> str:
    return words[: (keep + 1) // 2] + "…" + words[len(words) - keep // 2 :]


def label(words: str, width: int, *, size: int = NOTE, weight: Weight = "Regular") -> Image:
    """One line, exactly `width` wide, shortened if need be."""
    words = shortened(printable(words), _font(size, weight), width - 2)
    line = text(words, size=size, weight=weight)[:, :width]
    return fitted(line, width, line.shape[0])


def fitted(
    piece: Image,
    width: int,
    height: int,
    *,
    across: Align = "start",
    down: Align = "start",
    background: Rgb = PAPER,
) -> Image:
    """A piece on paper of at least that size."""
    width, height = max(width, piece.shape[1]), max(height, piece.shape[0])
    sheet = paper(width, height, background)
    left = _offset(width - piece.shape[1], across)
    top = _offset(height - piece.shape[0], down)
    sheet[top : top + piece.shape[0], left : left + piece.shape[1]] = piece
    return sheet


def _offset(room: int, align: Align) -> int:
    return {"start": 0, "middle": room // 2, "end": room}[align]


def paper(width: int, height: int, colour: Rgb = PAPER) -> Image:
    if len(set(colour)) == 1:
        return np.full((height, width, 3), colour[0], dtype=np.uint8)
    return np.broadcast_to(np.array(colour, np.uint8), (height, width, 3)).copy()


def beside(pieces: Sequence[Image], *, gap: int = GAP, down: Align = "start") -> Image:
    """Pieces from left to right."""
    height = max(piece.shape[0] for piece in pieces)
    spacer = paper(gap, height)
    row: list[Image] = []
    for piece in pieces:
        row += [spacer, fitted(piece, piece.shape[1], height, down=down)]
    return np.concatenate(row[1:], axis=1)


def under(pieces: Sequence[Image], *, gap: int = GAP, across: Align = "start") -> Image:
    """Pieces from top to bottom."""
    width = max(piece.shape[1] for piece in pieces)
    spacer = paper(width, gap)
    column: list[Image] = []
    for piece in pieces:
        column += [spacer, fitted(piece, width, piece.shape[0], across=across)]
    return np.concatenate(column[1:], axis=0)


def framed(piece: Image, colour: Rgb = RULE) -> Image:
    """A hairline round a piece, drawn over its outermost pixels."""
    piece = piece.copy()
    for edge in (piece[:2], piece[-2:], piece[:, :2], piece[:, -2:]):
        edge[:] = colour
    return piece


def sheet(title: str, note: str, body: Sequence[Image]) -> Image:
    """A whole picture, as wide as its widest piece: title, how to read it, what is shown."""
    inner = max(_NARROWEST, *(piece.shape[1] for piece in body))
    head = [text(title, size=TITLE, weight="Semi Bold", width=inner)] if title else []
    if note:
        head.append(text(note, size=NOTE, colour=MUTED, width=inner))
    column = under([*([under(head, gap=4)] if head else []), *body], gap=GAP)
    page = paper(inner + 2 * GAP, column.shape[0] + 2 * GAP)
    page[GAP : GAP + column.shape[0], GAP : GAP + column.shape[1]] = column
    return page


def flow(pieces: Sequence[Image], *, width: int = WIDTH - 2 * GAP, gap: int = GAP) -> Image:
    """Pieces in rows, as many to a row as fit (at least one), rows filled evenly."""
    widest = max(piece.shape[1] for piece in pieces)
    fit = max(1, (width + gap) // (widest + gap))
    columns = -(-len(pieces) // -(-len(pieces) // fit))
    rows = [pieces[at : at + columns] for at in range(0, len(pieces), columns)]
    return under([beside(row, gap=gap) for row in rows], gap=gap)


def legend(entries: Sequence[tuple[Image, str]], *, width: int) -> Image:
    """Swatches with their meaning, one after the other, broken to fit a width."""
    pieces = [beside([swatch, text(words)], gap=10, down="middle") for swatch, words in entries]
    rows: list[list[Image]] = [[]]
    used = 0
    for piece in pieces:
        if rows[-1] and used + piece.shape[1] > width:
            rows.append([])
            used = 0
        used += piece.shape[1] + 2 * GAP
        rows[-1].append(piece)
    return under([beside(row, gap=2 * GAP) for row in rows if row], gap=8)


def swatch(colour: Rgb, *, background: Rgb = PAPER) -> Image:
    """A plain patch of colour, edged so that it shows on any paper."""
    patch = paper(44, 26, colour)
    return framed(patch, tuple(int(0.75 * c) for c in colour) if background == PAPER else RULE)  # type: ignore[arg-type]
