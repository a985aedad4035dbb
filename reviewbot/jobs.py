"""One asset to review, and what came of it: plain records that travel between processes."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Literal

from reviewbot.checks.acceptances import Acceptance
from reviewbot.history.sources import Source
from reviewbot.render.backends import RendererName
from reviewbot.render.colours import Image
from reviewbot.report.report import AssetEntry
from reviewbot.settings import Settings

PictureWish = Literal["none", "figures", "all"]
PICTURE_FOLDER = "pictures"


@dataclass(frozen=True, slots=True, kw_only=True)
class AssetJob:
    """One asset to review; plain enough to be sent to another process.

    path           for reading
    before, after  None where there is no such version; not both
    pictures       "figures" compares the views and keeps no picture
    detail         "brief" where many assets are reviewed together
    today          the day acceptances are judged by
    """

    path: str
    before: Source | None
    after: Source | None
    settings: Settings
    pictures: PictureWish
    renderer: RendererName
    detail: Literal["full", "brief"]
    acceptances: tuple[Acceptance, ...]
    today: datetime.date


@dataclass(frozen=True, slots=True, kw_only=True)
class AssetReview:
    """What came of a job.

    pictures    files' bytes, by name relative to the report
    cover       (H, W, 3) the asset's front for a contact sheet, None where nothing was pictured
    is_lasting  the same files would give the same again; not so where a reader ran out of time or
                memory, or was ended
    """

    entry: AssetEntry
    pictures: dict[str, bytes]
    cover: Image | None = None
    is_lasting: bool = True
