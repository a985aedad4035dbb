"""The pictures of the Markdown report: a few rows, the rest counted."""

from __future__ import annotations

import html
from collections.abc import Callable, Sequence
from itertools import islice
from urllib.parse import quote

from reviewbot.report.markdown_blocks import REMARK_ROOM, joined, that_fit
from reviewbot.report.names import names_in
from reviewbot.report.pictures import comment_rows, shown_size
from reviewbot.report.plain_text import markdown_name, markdown_sentence, mentions, plain_sentence
from reviewbot.report.report import AssetEntry, PictureEntry
from reviewbot.report.wording import counted

_ROWS_SHOWN = 12

PictureUrl = Callable[[str], str]


def overview_blocks(overview: Sequence[PictureEntry], picture_url: PictureUrl) -> str:
    """Pictures of all assets together, each under its caption."""
    blocks = (
        joined([caption_of(picture, frozenset()), image_of(picture, frozenset(), picture_url)])
        for picture in overview
    )
    return joined(list(blocks))


def picture_blocks(told: Sequence[AssetEntry], picture_url: PictureUrl, room: int) -> str:
    rows = list(islice((row for asset in told for row in comment_rows(asset)), _ROWS_SHOWN))

    def write(row: tuple[AssetEntry, tuple[PictureEntry, ...]]) -> str:
        return _picture_row(*row, picture_url, with_path=len(told) > 1)

    blocks, misfits = that_fit(rows, write, room - REMARK_ROOM, gap=2)
    shown = sum(len(row[1]) for row in rows) - sum(len(row[1]) for row in misfits)
    more = sum(len(asset.pictures) for asset in told) - shown
    remark = f"And {counted(more, 'more picture')}: see the page." if more else ""
    return joined(["### Pictures" if blocks else "", *blocks, remark])


def _picture_row(
    asset: AssetEntry,
    pictures: Sequence[PictureEntry],
    picture_url: PictureUrl,
    *,
    with_path: bool,
) -> str:
    """One picture under its caption; several small ones as a table of one row."""
    names = names_in(asset)
    captions = [caption_of(picture, names) for picture in pictures]
    images = [image_of(picture, names, picture_url) for picture in pictures]
    path = markdown_name(asset.path) if with_path else ""
    if len(images) == 1:
        return f"{path}: {captions[0]}\n\n{images[0]}" if path else f"{captions[0]}\n\n{images[0]}"
    rows = [captions, [":--"] * len(images), images]
    return joined([path, "\n".join(f"| {' | '.join(row)} |" for row in rows)])


def caption_of(picture: PictureEntry, names: frozenset[str]) -> str:
    told = markdown_sentence(picture.caption, names)
    unsaid = picture.part and not mentions(picture.caption, picture.part)
    return f"{markdown_name(picture.part)}: {told}" if unsaid else told


def image_of(picture: PictureEntry, names: frozenset[str], picture_url: PictureUrl) -> str:
    """As HTML: Markdown cannot say how wide a picture is shown."""
    address = html.escape(quote(picture_url(picture.file), safe=":/?#@!$&'*+,;=%~"))
    alt = html.escape(plain_sentence(picture.alt, names))
    return f'<img src="{address}" alt="{alt}" width="{shown_size(picture)[0]}">'
