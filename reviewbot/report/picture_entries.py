"""From a drawn picture to its entry in a report."""

from __future__ import annotations

from reviewbot.render.picture import Picture
from reviewbot.report.report import PictureEntry


def picture_entry(file: str, picture: Picture) -> PictureEntry:
    """A picture's entry; `file` is its path relative to the report's folder."""
    return PictureEntry(
        kind=picture.kind,
        file=file,
        caption=picture.caption,
        alt=picture.alt,
        width=picture.width,
        height=picture.height,
        part=picture.part,
        code=picture.code,
        view=picture.view,
        columns=picture.columns,
        rows=picture.rows,
    )
