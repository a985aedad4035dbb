"""UV tiles as sheets: shells by part, what overlaps, what is mirrored, how much is used."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import floor

import numpy as np
from scipy import ndimage

from reviewbot.mesh import BoolArray, FloatArray
from reviewbot.render.canvas import (
    LABEL,
    NOTE,
    beside,
    framed,
    label,
    legend,
    paper,
    sheet,
    swatch,
    text,
    under,
)
from reviewbot.render.clay import hatch
from reviewbot.render.colours import (
    INK,
    PAPER,
    VERMILLION,
    Image,
    Rgb,
    category_lights,
    light_of,
    srgb_from_linear,
)
from reviewbot.render.encoding import drawn_picture
from reviewbot.render.lines import lay, stroke
from reviewbot.render.picture import Picture
from reviewbot.render.samples import Floats32, Scene
from reviewbot.render.uv_tile import (
    UvFaces,
    UvTile,
    borders_of,
    draw_tile,
    padding_of,
    shrunk,
    tile_edges,
    tile_pixels,
    tile_span,
    tiles_of,
    uv_faces,
)

MOST_TILES = 6
_MOST_NAMED = 14  # parts in the key
_GROUND: Rgb = (244, 245, 246)
_MOST_EDGES = 250_000.0  # pixels in all: a thicket is drawn without its edges
_DROP = 36  # pixels from a shell's middle, where a number may stand, to its part's name
_FINEST_EDGE = 7.0  # pixels, on average: finer meshes are drawn without their edges
_GRID: Rgb = (214, 217, 221)
_MAP_FIELDS = ("uvs", "uv", "part", "chart", "is_drawn_edge", "part_colour")


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedShell:
    """A shell that lies elsewhere in the version after; middles in UVs."""

    before: tuple[float, float]
    after: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class UvVersion:
    """One version's UVs.

    is_stacked  (T,) bool: triangles of shells that are copies stacked on purpose, or None
    """

    scene: Scene
    is_stacked: BoolArray | None = None


def tile_name(column: int, row: int) -> str:
    """A tile's number, 1001 + column + 10 row, as OpenUSD and the trade count; else its place."""
    if 0 <= column <= 9 and row >= 0:
        return str(1001 + column + 10 * row)
    return f"({column}, {row})"


def uv_sheets(
    before: UvVersion | None,
    after: UvVersion | None,
    *,
    title: str,
    texture_size: int,
    padding: float,
    size: int = 800,
    moved: Sequence[MovedShell] = (),
) -> list[Picture]:
    """A sheet for each tile that either version uses, the six lowest at most.

    padding  in texels of the texture, round each shell
    size     of a tile with its rim, in pixels; two of 800 fit beside each other
    moved    shells to be linked by number, the furthest first
    """
    laid = [
        _Laid(words=words, version=version, faces=uv_faces(version.scene))
        for words, version in (("before", before), ("after", after))
        if version is not None
    ]
    used = {tile for one in laid for tile in tiles_of(one.faces)}
    sheets = []
    for column, row in sorted(used, key=lambda tile: (tile[1], tile[0]))[:MOST_TILES]:
        sheets.append(
            _tile_sheet(
                laid,
                column=column,
                row=row,
                title=title,
                size=size,
                padding=padding / texture_size,
                told_padding=f"{padding:g} texels of a {texture_size} map",
                moved=moved,
            )
        )
    return sheets


@dataclass(frozen=True, slots=True, kw_only=True)
class _Laid:
    """A version with its faces in the UV plane."""

    words: str
    version: UvVersion
    faces: UvFaces


def _tile_sheet(
    laid: Sequence[_Laid],
    *,
    column: int,
    row: int,
    title: str,
    size: int,
    padding: float,
    told_padding: str,
    moved: Sequence[MovedShell],
) -> Picture:
    name = tile_name(column, row)
    sides: list[Image] = []
    told = []
    for one in laid:
        ends = [shell.before if one.words == "before" else shell.after for shell in moved]
        if not sides or moved or not _is_same_map(laid[0], one):
            image, used = _tile_of_version(one, column, row, size=size, padding=padding, marks=ends)
        head = f"{one.words}: {100 * used:.0f}% used"
        sides.append(under([label(head, size, size=LABEL, weight="Medium"), framed(image)], gap=4))
        told.append(f"{one.words} {100 * used:.0f}%")
    tiles = beside(sides)
    parts = _shown_parts(laid[::-1], column, row)
    key = [_key(parts, told_padding, tiles.shape[1])]
    numbers = ""
    if any((column, row) in (_tile_of(one.before), _tile_of(one.after)) for one in moved):
        key.append(beside([_tag(1), text("numbers: one shell before and after, where it moved")]))
        numbers = " Numbers link shells that moved, the furthest first."
    return drawn_picture(
        sheet(f"{title}, tile {name}", "", [tiles, *key]),
        kind="uv-sheet",
        name=f"uv-sheet-{name}",
        caption=(
            f"UV tile {name}, shells coloured by part; used: {', '.join(told)}. Vermillion "
            "crosshatching: shells that overlap; black hatching: mirrored; dots: copies stacked "
            f"on purpose.{numbers}"
        ),
        alt=f"UV tile {name}: {', '.join(told)} used",
    )


def _is_same_map(before: _Laid, after: _Laid) -> bool:
    """Whether both look the same in the UV plane: much is changed in form alone."""
    old, new = before.version, after.version
    return (
        old.scene.part_names == new.scene.part_names
        and np.array_equal(_stacked_of(old), _stacked_of(new))
        and all(
            np.array_equal(getattr(old.scene, name), getattr(new.scene, name))
            for name in _MAP_FIELDS
        )
    )


def _stacked_of(version: UvVersion) -> BoolArray:
    if version.is_stacked is None:
        return np.zeros(len(version.scene.uv), dtype=bool)
    return version.is_stacked


def _tile_of_version(
    one: _Laid,
    column: int,
    row: int,
    *,
    size: int,
    padding: float,
    marks: Sequence[tuple[float, float]],
) -> tuple[Image, float]:
    """A tile's picture, and the share of it that is used."""
    scene = one.version.scene
    tile = draw_tile(scene, one.faces, column, row, size=size, is_stacked=one.version.is_stacked)
    edges = _shown_edges(scene, one.faces, tile)
    return tile_image(tile, scene, edges=edges, padding=padding, marks=marks), tile.used


def _shown_edges(scene: Scene, faces: UvFaces, tile: UvTile) -> FloatArray:
    if tile.grain < _FINEST_EDGE / tile.size:
        return np.empty((0, 2, 2))
    return tile_edges(scene, faces, tile.column, tile.row)


def tile_image(
    tile: UvTile,
    scene: Scene,
    *,
    edges: FloatArray,
    padding: float,
    marks: Sequence[tuple[float, float]] = (),
) -> Image:
    """(size, size, 3) a tile with its rim.

    edges    (K, 2, 2) polygon edges in UVs within the tile; drawn where they are not too fine
    padding  round each shell, as a share of the tile
    marks    middles of moved shells in UVs, numbered from 1
    """
    size, fine = tile.size, tile.fine
    light = _ground(size)
    padded, tight = padding_of(tile, padding)
    _fill(light, tile, _tints(scene))
    light[padded] *= np.float32(0.86)
    for where, pattern, strength, colour in (
        (tile.mirrored, _stripes, 1.0, INK),
        (tile.stacked, _dots, 0.7, INK),
        (tile.accidental, _crossed, 1.0, VERMILLION),
    ):
        if where.any():
            share = shrunk(where, fine) * np.float32(strength)
            lay(light, share * pattern(size, size), colour)
    _lay_edges(light, tile, edges)
    lay(light, shrunk(borders_of(tile), fine) * np.float32(0.85), INK)
    if tight.any():
        grown = ndimage.binary_dilation(tight, iterations=2).astype(np.float32)
        lay(light, grown, VERMILLION)
    image = srgb_from_linear(light)
    _write_names(image, tile, scene.part_names)
    _write_numbers(image, tile, marks)
    return image


def _lay_edges(light: Floats32, tile: UvTile, edges: FloatArray) -> None:
    start, end = (tile_pixels(edges[:, k].T, tile.size) for k in (0, 1))
    step = end - start
    length = np.hypot(*step)
    if not len(length) or float(length.sum()) > _MOST_EDGES:
        return
    count = np.minimum(np.ceil(length * 3), 6 * tile.size).astype(np.int64) + 1
    owner = np.repeat(np.arange(len(length)), count)
    share = (np.arange(len(owner)) - (np.cumsum(count) - count)[owner]) / count[owner]
    x, y = (start[axis][owner] + share * step[axis][owner] for axis in (0, 1))
    cover = stroke(x, y, 1.0, tile.size, tile.size)
    lay(light, cover * np.float32(0.22), INK)


def _write_names(image: Image, tile: UvTile, part_names: Sequence[str]) -> None:
    """Each part's name where it has most room, if it has enough."""
    parts = tile.part[:: tile.fine, :: tile.fine]
    for part, box in enumerate(ndimage.find_objects(parts + 1)):
        if box is None:
            continue
        word = text(part_names[part][:24], size=NOTE, weight="Medium", colour=INK)
        room = np.pad(parts[box] == part, 1)
        if word.shape[0] > room.shape[0] or word.shape[1] > room.shape[1]:
            continue
        y, x, half = _roomiest(room)
        if word.shape[0] <= 2 * half and word.shape[1] <= _row_room(room, y, x):
            drop = min(_DROP, half - word.shape[0] // 2)
            left, top = box[1].start + x, box[0].start + y + drop
            _laid_over(image, word, left - word.shape[1] // 2, top - word.shape[0] // 2)


def _roomiest(room: BoolArray) -> tuple[int, int, int]:
    """Row, column (within a rim of one) and reach of the middle of the widest place."""
    reach = ndimage.distance_transform_cdt(room, metric="chessboard")[1:-1, 1:-1]
    half = int(reach.max())
    rows, columns = np.nonzero(reach >= half - 1)
    off = np.abs(rows - np.median(rows)) + np.abs(columns - np.median(columns))
    nearest = int(off.argmin())
    return int(rows[nearest]), int(columns[nearest]), half


def _row_room(room: BoolArray, y: int, x: int) -> int:
    """How wide a word in the middle may be, in the row through a place."""
    row = room[y + 1]
    left = x + 1 - int(np.flatnonzero(~row[: x + 1])[-1])
    right = int(np.flatnonzero(~row[x + 1 :])[0])
    return 2 * min(left, right) - 8


def _laid_over(image: Image, word: Image, left: int, top: int) -> None:
    """Dark words on what is there."""
    height, width = word.shape[:2]
    target = image[max(top, 0) : top + height, max(left, 0) : left + width]
    inked = word[: target.shape[0], : target.shape[1]].astype(np.float32) / 255
    target[:] = np.asarray(target * inked, dtype=np.uint8)


def _ground(size: int) -> Floats32:
    """The tile's paper, its border, and lines at quarters."""
    light = np.empty((size, size, 3), dtype=np.float32)
    light[:] = light_of(_GROUND)
    for quarter in range(5):
        place = tile_pixels(np.array([quarter / 4, 1 - quarter / 4]), size)
        x, y = np.clip(np.round(place).astype(int), 0, size - 1)
        low, high = tile_span(size)
        colour = light_of(INK if quarter in (0, 4) else _GRID)
        light[low:high, x - (quarter == 4) : x + 1] = colour
        light[y : y + 1, low:high] = colour
    return light


def _fill(light: Floats32, tile: UvTile, tints: Floats32) -> None:
    """Shells in their part's colour, softened so that marks stand out."""
    fine, flat = tile.fine, light.reshape(-1, 3)
    cells = [tile.part[i::fine, j::fine].reshape(-1) for i in range(fine) for j in range(fine)]
    mixed = np.zeros(len(flat), dtype=bool)
    for cell in cells[1:]:
        mixed |= cell != cells[0]
    coloured = np.concatenate([tints, np.zeros((1, 3), np.float32)])  # -1, no part, is the last
    plain = ~mixed & (cells[0] >= 0)
    np.copyto(flat, np.take(coloured, cells[0], axis=0, mode="wrap"), where=plain[:, None])
    rest = np.flatnonzero(mixed)
    some = np.stack([cell[rest] for cell in cells])
    bare = np.count_nonzero(some < 0, axis=0).astype(np.float32) / np.float32(len(cells))
    flat[rest] = flat[rest] * bare[:, None] + coloured[some].mean(axis=0)


def _tints(scene: Scene) -> Floats32:
    """(parts, 3) parts' colours, paled so that marks stand out on them."""
    pale = np.float32(0.45) + np.float32(0.55) * category_lights(scene.part_colour)
    return np.asarray(pale, dtype=np.float32)


def _dots(height: int, width: int) -> Floats32:
    y, x = (((np.arange(side) % 12) - 5.5) ** 2 for side in (height, width))
    return np.asarray(y[:, None] + x < 6.0, dtype=np.float32)


def _stripes(height: int, width: int) -> Floats32:
    pixels = np.arange(height * width, dtype=np.int32)
    return hatch(pixels, width).reshape(height, width) * np.float32(0.6)


def _crossed(height: int, width: int) -> Floats32:
    pixels = np.arange(height * width, dtype=np.int32)
    both = hatch(pixels, width) | hatch(pixels, width, falling=True)
    return np.where(both, np.float32(0.9), np.float32(0.25)).reshape(height, width)


def _write_numbers(image: Image, tile: UvTile, marks: Sequence[tuple[float, float]]) -> None:
    """Numbers on moved shells, so that the eye finds each again on the other side."""
    for number, (u, v) in enumerate(marks, start=1):
        if _tile_of((u, v)) != (tile.column, tile.row):
            continue
        tag = _tag(number)
        place = tile_pixels(np.array([u - tile.column, v - tile.row]), tile.size)
        left, top = (np.round(place).astype(int) - [tag.shape[1] // 2, tag.shape[0] // 2]).tolist()
        left = int(np.clip(left, 0, tile.size - tag.shape[1]))
        top = int(np.clip(top, 0, tile.size - tag.shape[0]))
        image[top : top + tag.shape[0], left : left + tag.shape[1]] = tag


def _tag(number: int) -> Image:
    word = text(str(number), size=NOTE, weight="Semi Bold", colour=PAPER, background=INK)
    tag = paper(word.shape[1] + 12, word.shape[0] + 2, INK)
    tag[1 : 1 + word.shape[0], 6 : 6 + word.shape[1]] = word
    return tag


def _tile_of(place: tuple[float, float]) -> tuple[int, int]:
    return floor(place[0]), floor(place[1])


def _shown_parts(laid: Sequence[_Laid], column: int, row: int) -> dict[str, Rgb]:
    """Names and colours of the parts with a face in the tile, in any version."""
    shown: dict[str, Rgb] = {}
    for one in laid:
        scene, tile = one.version.scene, one.faces.tile
        here = one.faces.triangle[(tile[:, 0] == column) & (tile[:, 1] == row)]
        colours = srgb_from_linear(_tints(scene)).tolist()
        for part in np.unique(scene.part[here]).tolist():
            shown.setdefault(scene.part_names[part], tuple(colours[part]))
    return shown


def _key(parts: Mapping[str, Rgb], padding: str, width: int) -> Image:
    entries = [(swatch(colour), name[:40]) for name, colour in list(parts.items())[:_MOST_NAMED]]
    if len(parts) > _MOST_NAMED:
        entries.append((paper(1, 26), f"and {len(parts) - _MOST_NAMED} more parts"))
    marks = [
        (_mark("accidental"), "shells overlap"),
        (_mark("stacked"), "copies stacked on purpose"),
        (_mark("mirrored"), "mirrored"),
        (swatch(VERMILLION), f"closer than the padding of {padding}"),
    ]
    return under([legend(entries, width=width), legend(marks, width=width)], gap=8)


def _mark(name: str) -> Image:
    """A swatch hatched as in the tile."""
    patterns = {"accidental": _crossed, "stacked": _dots, "mirrored": _stripes}
    light = np.broadcast_to(light_of((205, 214, 222)), (26, 44, 3)).astype(np.float32)
    lay(light, patterns[name](26, 44), VERMILLION if name == "accidental" else INK)
    return framed(srgb_from_linear(light))
