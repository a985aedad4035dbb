"""Lines on a view: drawn smooth, told apart where the form hides them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components, dijkstra

from reviewbot.geometry.exact import exact_places
from reviewbot.mesh import BoolArray, FloatArray, IndexArray
from reviewbot.render.camera import projected
from reviewbot.render.colours import Rgb, light_of
from reviewbot.render.samples import Floats32, Samples
from reviewbot.render.visibility import ViewBuffer

_GRACE = 3.0  # pixels of depth by which a line may lie behind what is seen beside it
_FINE = 3  # each pixel is cut into 3 x 3 for smoothness


@dataclass(frozen=True, slots=True, kw_only=True)
class LineStyle:
    """How a line is drawn: colour, width in pixels, and dashes (0 for a solid line)."""

    colour: Rgb
    width: float
    dash: float = 0.0
    gap: float = 0.0
    hidden_share: float = 0.28  # how strongly its hidden stretches are drawn


def draw_lines(
    light: Floats32, view: ViewBuffer, segments: FloatArray, style: LineStyle
) -> Floats32:
    """(H, W, 3) light with segments (K, 2, 3) in the scene's space drawn over it."""
    if not len(segments):
        return light
    size = view.samples.height
    x, y, depth = _stepped(view, segments, size, style)
    hidden = _is_hidden(view.samples, x, y, depth, view.camera.span / size)
    drawn = light.copy()
    for some, strength in ((hidden, style.hidden_share), (~hidden, 1.0)):
        cover = stroke(x[some], y[some], style.width, size, size) * np.float32(strength)
        lay(drawn, cover, style.colour)
    return drawn


def over(light: Floats32, cover: Floats32, colour: Rgb) -> Floats32:
    """A colour laid over a picture as far as `cover` (H, W), 0 to 1, says."""
    result = light.copy()
    lay(result, cover, colour)
    return result


def lay(light: Floats32, cover: Floats32, colour: Rgb) -> None:
    """The same on the picture (H, W, 3) itself, where it is drawn on many times."""
    flat, share = light.reshape(-1, 3), cover.reshape(-1)
    touched = np.flatnonzero(share != 0)
    some = share[touched, None]
    flat[touched] = flat[touched] * (1 - some) + light_of(colour) * some


def stroke(x: FloatArray, y: FloatArray, width: float, height_px: int, width_px: int) -> Floats32:
    """(H, W) cover of a round pen of `width` pixels set down at each place (in pixels)."""
    cover = np.zeros((height_px, width_px), dtype=np.float32)
    reach = int(np.ceil(width / 2)) + 1
    near = (x > -reach) & (x < width_px + reach) & (y > -reach) & (y < height_px + reach)
    if not near.any():
        return cover
    x, y = x[near], y[near]
    # Only the box that is drawn in, with room for the pen, is cut into fine cells.
    left, top = int(np.floor(x.min())) - reach, int(np.floor(y.min())) - reach
    wide, high = int(np.ceil(x.max())) + reach - left, int(np.ceil(y.max())) + reach - top
    fine = _inked((x - left) * _FINE, (y - top) * _FINE, width * _FINE / 2, (high, wide))
    share = _blocks(fine, high, wide)
    rows = slice(max(top, 0), min(top + high, height_px))
    columns = slice(max(left, 0), min(left + wide, width_px))
    cover[rows, columns] = share[
        rows.start - top : rows.stop - top, columns.start - left : columns.stop - left
    ]
    return cover


def _inked(x: FloatArray, y: FloatArray, radius: float, size: tuple[int, int]) -> BoolArray:
    """Fine cells within a radius of any place."""
    inked = np.zeros((size[0] * _FINE, size[1] * _FINE), dtype=bool)
    flat, steps = inked.reshape(-1), inked.shape[1]
    places = np.floor(y).astype(np.int64) * steps + np.floor(x).astype(np.int64)
    again = np.zeros(len(places), dtype=bool)
    again[1:] = places[1:] == places[:-1]
    places = places[~again]
    reach = int(radius)
    for down in range(-reach, reach + 1):
        half = int(np.sqrt(max(radius**2 - down**2, 0.0)))
        for across in range(-half, half + 1):
            flat[places + (down * steps + across)] = True
    return inked


def _blocks(fine: BoolArray, height: int, width: int) -> Floats32:
    """Share of each pixel's fine cells that are set."""
    cells = fine.view(np.uint8).reshape(height, _FINE, width * _FINE)
    columns = cells.sum(axis=1, dtype=np.uint8).reshape(height, width, _FINE)
    total = columns[..., 0] + columns[..., 1] + columns[..., 2]
    return np.asarray(total / np.float32(_FINE**2), dtype=np.float32)


def _stepped(
    view: ViewBuffer, segments: FloatArray, size: int, style: LineStyle
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Places along the segments, a third of a pixel apart, where the line is drawn: x, y, depth."""
    ends = projected(view.camera, segments.reshape(-1, 3), size).reshape(-1, 2, 3)
    start, step = ends[:, 0], ends[:, 1] - ends[:, 0]
    length = np.hypot(step[:, 0], step[:, 1])
    count = np.minimum(np.ceil(length * _FINE), 8 * size).astype(np.int64) + 1
    owner = np.repeat(np.arange(len(segments)), count)
    first = np.repeat(np.cumsum(count) - count, count)
    share = (np.arange(len(owner)) - first) / np.maximum(count[owner] - 1, 1)
    if style.dash > 0:
        run = runs(segments) * (size / view.camera.span)
        along = run[owner, 0] + share * (run[owner, 1] - run[owner, 0])
        shown = np.mod(along, style.dash + style.gap) < style.dash
        owner, share = owner[shown], share[shown]
    x, y, depth = (start[owner, k] + share * step[owner, k] for k in range(3))
    return x, y, depth


def runs(segments: FloatArray) -> FloatArray:
    """(K, 2) how far along its chain each end of each segment lies, in units of the segments.

    So that dashes run on over many short segments: distances from one end of each chain.
    """
    place, _ = exact_places(segments.reshape(-1, 3))
    ends: IndexArray = place.reshape(-1, 2)
    length = np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1)
    count = int(place.max()) + 1
    graph = coo_array((np.maximum(length, 1e-300), (ends[:, 0], ends[:, 1])), (count, count))
    _, chain = connected_components(graph, directed=False)
    degree = np.bincount(ends.reshape(-1), minlength=count)
    # A loose end where the chain has one, else any of its places.
    order = np.lexsort((degree, chain))
    first = np.ones(count, dtype=bool)
    first[1:] = chain[order][1:] != chain[order][:-1]
    distance = dijkstra(graph, directed=False, indices=order[first], min_only=True)
    return np.asarray(distance[ends])


def nearest_depths(samples: Samples, *, empty: float = np.inf) -> Floats32:
    """(H, W) float32 the least depth seen in each pixel, `empty` where nothing is."""
    pixels = samples.height * samples.width
    depth = np.full(pixels, np.inf, dtype=np.float32)
    whole = samples.weight == 1
    depth[samples.pixel[whole]] = samples.depth[whole]
    np.minimum.at(depth, samples.pixel[~whole], samples.depth[~whole])
    depth[np.isinf(depth)] = empty
    return depth.reshape(samples.height, samples.width)


def _is_hidden(
    samples: Samples, x: FloatArray, y: FloatArray, depth: FloatArray, pixel: float
) -> BoolArray:
    """Whether something seen lies nearer than a place, with some grace about it."""
    nearest = nearest_depths(samples)
    row, column = np.floor(y).astype(np.int32), np.floor(x).astype(np.int32)
    rows, columns = (
        [np.clip(place + step, 0, most - 1) for step in (-1, 0, 1)]
        for place, most in ((row, samples.height), (column, samples.width))
    )
    # The furthest of what is seen in the nine pixels about each place.
    furthest = np.full(len(depth), -np.inf, dtype=np.float32)
    for down in rows:
        for across in columns:
            np.maximum(furthest, nearest[down, across], out=furthest)
    return np.asarray(depth > furthest + _GRACE * pixel)
