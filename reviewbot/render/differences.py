"""How far two pictures of one view differ, on the object and not on the empty ground about it."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree
from skimage.metrics import structural_similarity

from reviewbot.cores import thread_count
from reviewbot.mesh import BoolArray
from reviewbot.render.colours import Image
from reviewbot.render.compose import ViewImage
from reviewbot.render.flip import flip_map
from reviewbot.render.samples import Floats32

_WINDOW = 11  # pixels: Gaussian window of Wang et al., sigma 1.5
FLIP_VIEWS = 3  # it takes ten times as long as SSIM
_MARGIN = 8  # pixels kept round the object, so that windows at its edge are whole
# Pixels round what differs beyond which neither map tells: twice what their filters reach. SSIM's
# window reaches 5 pixels, FLIP's widest filter 10 at 67 pixels a degree.
_SSIM_MARGIN, _FLIP_MARGIN = 10, 20
SAME_SSIM = 0.9995  # at or above this nothing is to be seen, and FLIP is not worth its time


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewDifference:
    """One view before and after; figures over the union of both silhouettes.

    ssim            mean structural similarity of the grey pictures, 1 where alike
    ssim_worst      its first percentile: the worst hundredth of the object
    flip            mean of the FLIP map, 0 where alike, or None where it was not worked out
    flip_worst      its 99th percentile
    silhouette_iou  common area of both silhouettes over their joint area, 1 where both are empty
    outline_pixels  largest distance of a point of one outline from the other, in pixels; inf
                    where only one version is seen
    outline_at      (x, y) of that point in the picture, or None
    changed         (H, W) float32 where the pictures differ, 0 to 1: one less SSIM
    """

    name: str
    ssim: float
    ssim_worst: float
    flip: float | None
    flip_worst: float | None
    silhouette_iou: float
    outline_pixels: float
    outline_at: tuple[float, float] | None
    changed: Floats32


def view_difference(
    name: str, before: Image, after: Image, *, before_mask: BoolArray, after_mask: BoolArray
) -> ViewDifference:
    """Compare two pictures (H, W, 3) of one view, seen by the same camera and back end.

    Masks (H, W) say what is covered. SSIM: Wang, Bovik, Sheikh & Simoncelli 2004; FLIP is left out,
    see `with_flip`.
    """
    union = before_mask | after_mask
    box = _box(union, _MARGIN)
    area, old, new = union[box], before[box], after[box]
    changed = np.zeros(union.shape, dtype=np.float32)
    pixels, at = outline_displacement(before_mask[box], after_mask[box])
    if at is not None:
        at = (at[0] + box[1].start, at[1] + box[0].start)
    similarity = np.ones(area.shape, dtype=np.float32)
    differs = _differing(old, new)
    if area.any() and differs.any():
        near = _box(differs, _SSIM_MARGIN)
        similarity[near] = ssim_map(grey(old[near]), grey(new[near]))
        changed[box] = np.where(area, np.clip(1 - similarity, 0, 1), 0)
    seen = similarity[area] if area.any() else np.ones(1)
    return ViewDifference(
        name=name,
        ssim=float(seen.mean()),
        ssim_worst=float(np.percentile(seen, 1)),
        flip=None,
        flip_worst=None,
        silhouette_iou=overlap(before_mask, after_mask),
        outline_pixels=pixels,
        outline_at=at,
        changed=changed,
    )


def with_flip(
    difference: ViewDifference,
    before: Image,
    after: Image,
    *,
    before_mask: BoolArray,
    after_mask: BoolArray,
) -> ViewDifference:
    """The same with its FLIP figures (Andersson et al. 2020), where SSIM shows a difference."""
    if not difference.ssim < SAME_SSIM:
        return difference
    union = before_mask | after_mask
    box = _box(union, _MARGIN)
    area, old, new = union[box], before[box], after[box]
    near = _box(_differing(old, new), _FLIP_MARGIN)
    flip = np.zeros(area.shape, dtype=np.float32)
    flip[near] = flip_map(old[near], new[near])
    seen = flip[area]
    return replace(difference, flip=float(seen.mean()), flip_worst=float(np.percentile(seen, 99)))


def differences_of(
    before: Sequence[ViewImage], after: Sequence[ViewImage], *, flip_views: int = FLIP_VIEWS
) -> tuple[ViewDifference, ...]:
    """All views compared; FLIP only for the few that SSIM finds most different."""

    def compared(k: int) -> ViewDifference:
        old, new = before[k], after[k]
        return view_difference(
            new.name, old.clay, new.clay, before_mask=old.mask, after_mask=new.mask
        )

    def flipped(k: int) -> ViewDifference:
        old, new = before[k], after[k]
        return with_flip(found[k], old.clay, new.clay, before_mask=old.mask, after_mask=new.mask)

    with ThreadPoolExecutor(thread_count()) as pool:
        found = list(pool.map(compared, range(len(after))))
        worst = sorted(range(len(found)), key=lambda k: found[k].ssim)[:flip_views]
        for k, again in zip(worst, pool.map(flipped, worst), strict=True):
            found[k] = again
    return tuple(found)


def _differing(before: Image, after: Image) -> BoolArray:
    """(H, W) bool: pixels of two pictures that are not the very same."""
    red, green, blue = (before[..., k] != after[..., k] for k in range(3))
    return np.asarray(red | green | blue)


def grey(image: Image) -> Floats32:
    """(H, W) float32 luma of sRGB values (ITU-R BT.709 weights), 0 to 255."""
    weights = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)
    return np.asarray(image @ weights, dtype=np.float32)


def ssim_map(before: Floats32, after: Floats32) -> Floats32:
    """(H, W) structural similarity of two grey pictures of 0 to 255, Gaussian windows.

    Pictures smaller than the window are compared by a window of their own size.
    """
    window = min(_WINDOW, *before.shape)
    _, similarity = structural_similarity(  # type: ignore[no-untyped-call]
        before,
        after,
        win_size=window - (window + 1) % 2,
        gaussian_weights=window == _WINDOW,
        sigma=1.5,
        use_sample_covariance=False,
        data_range=255.0,
        full=True,
    )
    return np.asarray(similarity, dtype=np.float32)


def overlap(before: BoolArray, after: BoolArray) -> float:
    """Intersection over union of two masks; 1 where both are empty."""
    union = int(np.count_nonzero(before | after))
    return int(np.count_nonzero(before & after)) / union if union else 1.0


def outline_displacement(
    before: BoolArray, after: BoolArray
) -> tuple[float, tuple[float, float] | None]:
    """The largest distance of one outline from the other (Hausdorff), in pixels, and where.

    0 and None where both are the same; inf and None where one is empty.
    """
    if np.array_equal(before, after):
        return 0.0, None
    if not before.any() or not after.any():
        return float("inf"), None
    before_line, after_line = outline(before), outline(after)
    worst, at = 0.0, None
    for line, other in ((after_line, before_line), (before_line, after_line)):
        places = np.argwhere(line & ~other)
        if not len(places):
            continue
        distance = np.asarray(cKDTree(np.argwhere(other)).query(places)[0])
        far = int(distance.argmax())
        if distance[far] > worst:
            row, column = places[far].tolist()
            worst, at = float(distance[far]), (column + 0.5, row + 0.5)
    return worst, at


def outline(mask: BoolArray) -> BoolArray:
    """(H, W) pixels of a mask beside one that is not of it; the picture's rim is outside."""
    inner = np.zeros_like(mask)
    middle = mask[1:-1, 1:-1] & mask[:-2, 1:-1] & mask[2:, 1:-1]
    inner[1:-1, 1:-1] = middle & mask[1:-1, :-2] & mask[1:-1, 2:]
    return mask & ~inner


def _box(mask: BoolArray, margin: int) -> tuple[slice, slice]:
    """The rows and columns round what is set, and a margin; one pixel and it where nothing is."""
    spans = []
    for axis, length in ((1, mask.shape[0]), (0, mask.shape[1])):
        used = np.flatnonzero(mask.any(axis=axis))
        low, high = (int(used[0]), int(used[-1]) + 1) if len(used) else (0, 1)
        spans.append(slice(max(0, low - margin), min(length, high + margin)))
    return spans[0], spans[1]
