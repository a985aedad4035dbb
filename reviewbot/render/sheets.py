"""The sheets of an album: which views, under which title, with which key."""

from __future__ import annotations

from collections.abc import Sequence

from reviewbot.render.canvas import legend, swatch, text
from reviewbot.render.checker import DARK_CELL, LIGHT_CELL, PENNANT
from reviewbot.render.colours import MUTED, Image
from reviewbot.render.pair_sheet import ViewPair, pair_sheet, scale_key
from reviewbot.render.picture import Picture
from reviewbot.render.seam_map import seam_key
from reviewbot.render.version import DENSITY, Scales


def checker_sheet(
    pairs: Sequence[ViewPair], title: str, scales: Scales, texture_size: int
) -> Picture:
    """The checker, its cells' size told in texels."""
    texels = texture_size // scales.cells
    key = legend(
        [
            (swatch(LIGHT_CELL), f"one cell is {texels} × {texels} texels of a {texture_size} map"),
            (swatch(DARK_CELL), "square cells: no stretch; even cells: even density"),
            (swatch(PENNANT), "pennants fly to the right of their pole, or the UVs are mirrored"),
        ]
    )
    hatched = text("hatched: mirrored; grey, crosshatched: no UVs", colour=MUTED)
    return pair_sheet(
        pairs,
        kind="checker",
        title=f"Checker on {title}",
        note="",
        caption=f"A board of {texels} × {texels} texels a cell laid on by the UVs.",
        key=[key, hatched],
    )


def stretch_sheet(pairs: Sequence[ViewPair], title: str, scales: Scales) -> Picture:
    """How far the UVs stretch each face."""
    return pair_sheet(
        pairs,
        kind="stretch",
        title=f"UV stretch on {title}",
        note="1: the UVs only scale the face; higher: a texture is pulled or squeezed there.",
        caption="How far the UVs stretch each face, without unit; 1 is none.",
        key=[scale_key(scales.stretch, unmapped="grey, hatched: no UVs")],
    )


def density_sheet(pairs: Sequence[ViewPair], title: str, scales: Scales, unit: str) -> Picture:
    """How many texels a face has to a unit of length."""
    middle = f"{scales.density:.4g} texels per {unit.removesuffix('s')}"
    return pair_sheet(
        pairs,
        kind="density",
        title=f"Texel density on {title}",
        note=f"1: the asset's median, {middle}; 2: twice as many texels along a side.",
        caption=f"Texels to a length, as a ratio to the asset's median of {middle}.",
        key=[scale_key(DENSITY, unmapped="grey, hatched: no UVs")],
    )


def deviation_sheet(pairs: Sequence[ViewPair], title: str, scales: Scales, unit: str) -> Picture:
    """How far the surface moved."""
    if scales.deviation is None:
        raise ValueError("a deviation sheet needs deviations")
    largest = f"{scales.deviation.high:.3g} {unit}"
    return pair_sheet(
        pairs,
        kind="deviation",
        title=f"Form moved on {title}",
        note=f"Distance of each point from the other version; the largest is {largest}.",
        caption=f"How far the surface moved, {largest} at most.",
        key=[scale_key(scales.deviation)],
        code="reshaped",
    )


def seam_sheet(pairs: Sequence[ViewPair], title: str, *, told_apart: bool) -> Picture:
    """Where the UVs are cut."""
    apart = "kept, cut and sewn ones told apart" if told_apart else "dimmed behind the form"
    key: list[Image] = [seam_key()] if told_apart else []
    return pair_sheet(
        pairs,
        kind="seams",
        title=f"UV seams on {title}",
        note="",
        caption=f"Where the UVs are cut open, {apart}.",
        key=key,
    )


def end_sheet(pairs: Sequence[ViewPair], title: str) -> Picture:
    """From straight above and from straight below."""
    return pair_sheet(
        pairs,
        kind="top-bottom",
        title=f"{title} from above and below",
        note="",
        caption="The asset from above and below, in clay.",
    )
