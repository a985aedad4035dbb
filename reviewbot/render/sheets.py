"""The sheets of an album: which views, under which title, with which key."""

from __future__ import annotations

from collections.abc import Sequence

from reviewbot.render.canvas import legend, swatch, text
from reviewbot.render.checker import DARK_CELL, LIGHT_CELL, PENNANT
from reviewbot.render.colours import MUTED
from reviewbot.render.heat import HeatScale
from reviewbot.render.pair_sheet import ViewPair, laid_out, pair_sheet, scale_key
from reviewbot.render.picture import Picture
from reviewbot.render.seam_map import seam_key
from reviewbot.render.version import DENSITY, Scales


def checker_sheet(pairs: Sequence[ViewPair], title: str, cells: int, texture_size: int) -> Picture:
    """The checker, `cells` along a tile's side, their size told in texels."""
    texels = texture_size // cells
    views = laid_out(pairs)
    entries = [
        (swatch(LIGHT_CELL), f"one cell: {texels} × {texels} texels of a {texture_size} map"),
        (swatch(DARK_CELL), "square cells: no stretch; cells of one size: even density"),
        (swatch(PENNANT), "pennants fly to the right of their pole, or the UVs are mirrored"),
    ]
    hatched = text("hatched: mirrored; grey, crosshatched: no UVs", colour=MUTED)
    return pair_sheet(
        pairs,
        [views, legend(entries, width=views.shape[1]), hatched],
        kind="checker",
        title=f"Checker on {title}",
        note="",
        caption=f"A board of {texels} × {texels} texels a cell laid on by the UVs.",
    )


def stretch_sheet(pairs: Sequence[ViewPair], title: str, scales: Scales) -> Picture:
    """How far the UVs stretch each face."""
    return pair_sheet(
        pairs,
        [laid_out(pairs), scale_key(scales.stretch, no_value="grey, hatched: no UVs")],
        kind="stretch",
        title=f"UV stretch on {title}",
        note="1: the UVs only scale the face; higher: a texture is pulled or squeezed there.",
        caption="How far the UVs stretch each face, without unit; 1 is none.",
    )


def density_sheet(pairs: Sequence[ViewPair], title: str, scales: Scales, unit: str) -> Picture:
    """How many texels a face has to a unit of length."""
    middle = f"{scales.density:.4g} texels per {unit.removesuffix('s')}"
    return pair_sheet(
        pairs,
        [laid_out(pairs), scale_key(DENSITY, no_value="grey, hatched: no UVs")],
        kind="density",
        title=f"Texel density on {title}",
        note=f"1: the asset's median, {middle}; 2: twice as many texels along a side.",
        caption=f"Texels to a length, as a ratio to the asset's median of {middle}.",
    )


def deviation_sheet(pairs: Sequence[ViewPair], title: str, scale: HeatScale, unit: str) -> Picture:
    """How far the surface moved."""
    largest = f"{scale.high:.3g} {unit}"
    return pair_sheet(
        pairs,
        [
            laid_out(pairs),
            scale_key(scale, no_value="pale: as before; grey, hatched: not in both versions"),
        ],
        kind="deviation",
        title=f"What moved on {title}",
        note=f"Distance of each point from the other version; the largest is {largest}.",
        caption=f"How far the surface moved, {largest} at most.",
        code="reshaped",
    )


def seam_sheet(pairs: Sequence[ViewPair], title: str, *, told_apart: bool) -> Picture:
    """Where the UVs are cut."""
    views = laid_out(pairs)
    apart = "kept, cut and sewn ones told apart" if told_apart else "dimmed behind the form"
    return pair_sheet(
        pairs,
        [views, seam_key(views.shape[1])] if told_apart else [views],
        kind="seams",
        title=f"UV seams on {title}",
        note="",
        caption=f"Where the UVs are cut open, {apart}.",
    )


def end_sheet(pairs: Sequence[ViewPair], title: str) -> Picture:
    """From straight above and from straight below."""
    return pair_sheet(
        pairs,
        [laid_out(pairs)],
        kind="top-bottom",
        title=f"{title} from above and below",
        note="",
        caption="Both ends of the asset, in clay.",
    )
