"""Which pictures belong together, and which lead."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from reviewbot.report.order import by_standing
from reviewbot.report.report import AssetEntry, FindingEntry, PictureEntry

FRAMES = "turntable-frames"
MOVING = "turntable"
_SIDES = ("-before", "-after", "-difference")
_LEADING = ("strip", "contact-sheet")
# What each kind of picture shows: the starts of the codes of changes and findings.
_SHOWS: dict[str, tuple[str, ...]] = {
    "seams": ("seam",),
    "textured": ("texture-missing", "material-changed"),
    "uv-sheet": ("uv-", "seams-", "tile-", "shell-gap"),
    "checker": ("uv-lost", "uv-added", "uv-flipped", "uv-mirrored", "uv-reshaped"),
    "stretch": ("uv-reshaped", "uv-stretch"),
    "density": ("density-", "texture-on-hidden"),
    "deviation": ("reshaped", "part-moved", "retopologised", "subdivided"),
    "silhouette": ("silhouette-change", "reshaped", "part-", "parts-", "retopologised"),
    "subdivision": ("corner-will-round", "uneven-quads", "large-face"),
    "bake": ("pair-",),
}
_IN_COMMENT = 5  # of one asset
_COMMENT_WIDTH = 830  # pixels, as wide as hosts show a comment


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """One thing through one camera, before and after; a side may lack."""

    stem: str
    view: str
    part: str
    before: PictureEntry | None
    after: PictureEntry | None
    difference: PictureEntry | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Gallery:
    """An asset's pictures, each in one place of the page.

    sides      before, after and difference of one view
    frames     sprites to turn the asset by hand
    sheets     UV sheets, to be looked at closely
    spots      close-ups, by finding code and part
    moving     animations: a page links them, for what moves by itself must be stoppable
               (WCAG 2.2, 2.2.2)
    others     everything else, in the order given
    """

    sides: tuple[Sides, ...]
    frames: tuple[PictureEntry, ...]
    sheets: tuple[PictureEntry, ...]
    spots: tuple[PictureEntry, ...]
    moving: tuple[PictureEntry, ...]
    others: tuple[PictureEntry, ...]


def gallery(pictures: Iterable[PictureEntry]) -> Gallery:
    """Pictures sorted by what a page does with them."""
    rest = list(pictures)
    sheets = [picture for picture in rest if picture.kind.startswith("uv-sheet")]
    frames = [picture for picture in rest if picture.kind == FRAMES]
    spots = [picture for picture in rest if picture.kind == "spot"]
    moving = [picture for picture in rest if picture.kind == MOVING]
    sided = [p for p in rest if p.kind.endswith(_SIDES) and p not in sheets]
    taken = {picture.file for group in (sheets, frames, spots, sided, moving) for picture in group}
    return Gallery(
        sides=tuple(_paired(sided)),
        frames=tuple(frames),
        sheets=tuple(sheets),
        spots=tuple(spots),
        moving=tuple(moving),
        others=tuple(picture for picture in rest if picture.file not in taken),
    )


def spots_of(finding: FindingEntry, spots: Iterable[PictureEntry]) -> list[PictureEntry]:
    """The close-ups of one finding."""
    return [spot for spot in spots if (spot.code, spot.part) == (finding.code, finding.part)]


def comment_pictures(asset: AssetEntry) -> list[PictureEntry]:
    """The few pictures that tell an asset's story: an overview, spots of what is new, then those
    that show what happened."""
    sorted_out = gallery(asset.pictures)
    overview = [picture for picture in sorted_out.others if picture.kind in _LEADING]
    grave = [f for f in by_standing(asset.findings).leading if f.severity != "note"]
    spots = [spot for finding in grave for spot in spots_of(finding, sorted_out.spots)]
    told = _codes_told(asset)
    telling = [p for p in (*sorted_out.others, *sorted_out.sheets) if _shows(p, told)]
    first = [*overview, *sorted_out.moving][:1]
    ordered = [*first, *spots[:2], *telling, *spots[2:]]
    return list(dict.fromkeys(ordered))[:_IN_COMMENT]


def _codes_told(asset: AssetEntry) -> set[str]:
    """The codes of what happened and of what is new; a new file shows its UVs."""
    codes = {change.code for change in asset.changes}
    codes.update(finding.code for finding in by_standing(asset.findings).leading)
    return codes | {"uv-added"} if asset.state == "added" else codes


def _shows(picture: PictureEntry, codes: set[str]) -> bool:
    if picture.kind.endswith(_SIDES):
        return False
    starts = _SHOWS.get(picture.kind, ())
    return picture.code in codes or any(code.startswith(starts) for code in codes)


def shown_size(picture: PictureEntry) -> tuple[int, int]:
    """Width and height a picture is shown at, in pixels of a page.

    Views and frames are shown as they are; everything else is laid out at twice its size, so that
    its words stay sharp.
    """
    as_is = picture.kind in (FRAMES, MOVING) or picture.kind.endswith(_SIDES)
    scale = 1 if as_is and not picture.kind.startswith("uv-sheet") else 2
    return max(1, picture.width // scale), max(1, picture.height // scale)


def comment_rows(asset: AssetEntry) -> list[tuple[AssetEntry, tuple[PictureEntry, ...]]]:
    """The comment's pictures in rows: wide ones alone, small ones up to three side by side."""
    rows: list[list[PictureEntry]] = []
    for picture in comment_pictures(asset):
        width = sum(shown_size(other)[0] for other in [*rows[-1], picture]) if rows else 0
        if rows and len(rows[-1]) < 3 and width <= _COMMENT_WIDTH:
            rows[-1].append(picture)
        else:
            rows.append([picture])
    return [(asset, tuple(row)) for row in rows]


def _paired(pictures: Iterable[PictureEntry]) -> list[Sides]:
    groups: dict[tuple[str, str, str], dict[str, PictureEntry]] = {}
    for picture in pictures:
        stem, side = picture.kind.rsplit("-", 1)
        groups.setdefault((stem, picture.view, picture.part), {})[side] = picture
    return [
        Sides(
            stem=stem,
            view=view,
            part=part,
            before=group.get("before"),
            after=group.get("after"),
            difference=group.get("difference"),
        )
        for (stem, view, part), group in groups.items()
    ]
