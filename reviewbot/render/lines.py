"""Lines on a view: drawn smooth, told apart where the form hides them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components, dijkstra

from reviewbot.geometry.weld import exact_places
from reviewbot.mesh import BoolArray, FloatArray, IndexArray
from reviewbot.render.camera import projected
from reviewbot.render.colours import Rgb, light_of
from reviewbot.render.samples import Floats32, Samples
from reviewbot.render.visibility import ViewBuffer

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
    x, y, depth, along = _stepped(view, segments, size)
    shown = _dashes(along, style)
    x, y, depth = x[shown], y[shown], depth[shown]
    hidden = _is_hidden(view.samples, x, y, depth, view.camera.span / size)
    for some, strength in ((hidden, style.hidden_share), (~hidden, 1.0)):
        cover = stroke(x[some], y[some], style.width, size, size) * np.float32(strength)
        light = over(light, cover, style.colour)
    return light


def over(light: Floats32, cover: Floats32, colour: Rgb) -> Floats32:
    """A colour laid over a picture as far as `cover` (H, W), 0 to 1, says."""
    result = light.copy()
    flat, share = result.reshape(-1, 3), cover.reshape(-1)
    touched = np.flatnonzero(share)
    some = share[touched, None]
    flat[touched] = flat[touched] * (1 - some) + light_of(colour) * some
    return result


def stroke(x: FloatArray, y: FloatArray, width: float, height_px: int, width_px: int) -> Floats32:
    """(H, W) cover of a round pen of `width` pixels set down at each place (in pixels)."""
    column, row = np.floor(x * _FINE).astype(np.int64), np.floor(y * _FINE).astype(np.int64)
    reach = int(width * _FINE / 2)
    # A rim round the picture takes what the pen draws beyond it.
    wide, high = width_px * _FINE + 2 * reach, height_px * _FINE + 2 * reach
    inside = (column >= -reach) & (column < wide - reach) & (row >= -reach) & (row < high - reach)
    inked = np.zeros((high + 2 * reach, wide + 2 * reach), dtype=bool)
    steps = inked.shape[1]
    places = np.unique((row[inside] + 2 * reach) * steps + column[inside] + 2 * reach)
    for down in range(-reach, reach + 1):
        half = int(np.sqrt(max((width * _FINE / 2) ** 2 - down**2, 0.0)))
        for across in range(-half, half + 1):
            inked.reshape(-1)[places + (down * steps + across)] = True
    shown = inked[2 * reach : 2 * reach + height_px * _FINE, 2 * reach :][:, : width_px * _FINE]
    y_fine, x_fine = np.nonzero(shown)
    pixel = (y_fine // _FINE) * width_px + x_fine // _FINE
    count = np.bincount(pixel, minlength=height_px * width_px)
    return np.asarray(count.reshape(height_px, width_px) / _FINE**2, dtype=np.float32)


def _stepped(
    view: ViewBuffer, segments: FloatArray, size: int
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Places along the segments, a third of a pixel apart: x, y, depth, and length run so far."""
    ends = projected(view.camera, segments.reshape(-1, 3), size).reshape(-1, 2, 3)
    start, step = ends[:, 0], ends[:, 1] - ends[:, 0]
    length = np.hypot(step[:, 0], step[:, 1])
    count = np.minimum(np.ceil(length * _FINE), 8 * size).astype(np.int64) + 1
    owner = np.repeat(np.arange(len(segments)), count)
    first = np.repeat(np.cumsum(count) - count, count)
    share = (np.arange(len(owner)) - first) / np.maximum(count[owner] - 1, 1)
    place = start[owner] + share[:, None] * step[owner]
    run = runs(segments) * (size / view.camera.span)
    along = run[owner, 0] + share * (run[owner, 1] - run[owner, 0])
    return place[:, 0], place[:, 1], place[:, 2], along


def _dashes(along: FloatArray, style: LineStyle) -> BoolArray:
    if style.dash <= 0:
        return np.ones(len(along), dtype=bool)
    return np.asarray(np.mod(along, style.dash + style.gap) < style.dash)


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
    """Whether something seen lies nearer than a place, with two pixels' grace about it."""
    furthest = ndimage.maximum_filter(nearest_depths(samples), 3)
    row = np.clip(np.floor(y), 0, samples.height - 1).astype(np.int32)
    column = np.clip(np.floor(x), 0, samples.width - 1).astype(np.int32)
    return np.asarray(depth > furthest[row, column] + 2.0 * pixel)
