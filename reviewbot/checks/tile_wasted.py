"""Texture tiles that are mostly empty."""

from __future__ import annotations

from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import percent


def find(subject: Subject) -> Iterator[Finding]:
    """One finding for the asset that names the tiles used less than the limit.

    A tile that shells of another one only reach into was never meant to be filled.
    """
    limit = subject.settings.limits.tile_use
    tiles = subject.examination.tiles
    wasted = [tile for tile in tiles.tiles if tile.number in tiles.homes and tile.used < limit]
    if wasted:
        said = ", ".join(f"tile {tile.number}: {percent(tile.used)}" for tile in wasted[:8])
        more = f" and {len(wasted) - 8} more" if len(wasted) > 8 else ""
        yield Finding(
            code=RULE.code,
            severity=RULE.severity,
            part="",
            count=len(wasted),
            value=min(tile.used for tile in wasted),
            limit=limit,
            unit="of the tile",
            message=f"Little of the texture is used ({said}{more}); scale the shells up together "
            "and pack them tighter.",
        )


RULE = Rule(code="tile-wasted", severity="note", title="mostly empty tiles", find=find)
