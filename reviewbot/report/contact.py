"""The contact sheet of a review of several assets."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePath

from reviewbot.render.colours import Image
from reviewbot.render.contact_sheet import Card, contact_sheet
from reviewbot.render.picture import Picture
from reviewbot.report.order import by_standing, severity_counts
from reviewbot.report.plain_text import visible
from reviewbot.report.report import AssetEntry

_WEIGHT = {"stop": 100.0, "look": 1.0, "note": 0.0}


def contact_picture(
    assets: Sequence[AssetEntry], covers: Sequence[Image | None], *, title: str
) -> Picture | None:
    """All assets on one sheet, the worst first; None for a single one, or where none is pictured.

    covers  of the assets, in their order; None where an asset has none
    """
    if len(assets) < 2 or all(cover is None for cover in covers):
        return None
    cards = [_card(asset, cover) for asset, cover in zip(assets, covers, strict=True)]
    return contact_sheet(cards, title=title)


def _card(asset: AssetEntry, cover: Image | None) -> Card:
    leading = by_standing(asset.findings).leading
    return Card(
        name=visible(PurePath(asset.path).name),
        verdict=asset.verdict,
        note=severity_counts(leading) if asset.state != "unreadable" else "",
        image=cover,
        weight=sum(_WEIGHT[finding.severity] for finding in leading),
    )
