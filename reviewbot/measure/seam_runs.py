"""Runs of exposed seam, and whether another route would hide them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from reviewbot.geometry.groups import joined_labels, renumbered
from reviewbot.measure.face_samples import GENERIC
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

RUNS = 8  # most exposed runs that are kept
DETOURS = 4  # of those, how many another route is sought for
# A hidden route may be longer, but not without end: a unit of it weighs as much as this much of a
# unit in the open.
HIDDEN_WEIGHT = 0.1
_ALIKE = 1e-6  # of a weight: finer differences are rounding
WORTH_IT = 0.5  # a route of more than this of the weight is not worth the work


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamRun:
    """Exposed seam edges that hang together.

    segments  (K, 2, 3) float64, asset's space
    length    units
    exposed   length times how openly it lies, units
    detour    the same if the way between its farthest ends took a better route, along edges without
              a seam; `exposed` where none is much better, or the run has no two ends
    at        (3,) float64 middle of its most openly lying edge
    """

    segments: FloatArray
    length: float
    exposed: float
    detour: float
    at: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenEdges:
    """Edges of a part and how openly a seam lies, or would lie, on each.

    places   (E, 2) int32 the places at their ends
    ends     (E, 2, 3) float64 where those lie
    length   (E,) float64 units
    exposed  (E,) float64 0 to 1: nothing where another edge in the light hides a seam
    is_cut   (E,) bool: the surface ends here, or is cut already
    """

    places: IndexArray
    ends: FloatArray
    length: FloatArray
    exposed: FloatArray
    is_cut: BoolArray


def worst_runs(
    edges: OpenEdges, seam: IndexArray, everywhere: Callable[[], FloatArray]
) -> tuple[SeamRun, ...]:
    """The most exposed runs of seam edges that lie open for more than half, the worst first.

    edges       all of a part's; `exposed` need only be known on seams
    seam        (N,) rows of those that are seams
    everywhere  gives `exposed` of all edges: it is only asked for where a route is sought
    """
    is_open = seam[edges.exposed[seam] > 0.5]
    if not len(is_open):
        return ()
    label = _runs_of(edges.places[is_open])
    weights = (edges.length * edges.exposed)[is_open]
    total = np.bincount(label, weights=weights).astype(np.float64)
    worst = np.lexsort((_heights(edges, is_open, label), -_coarse(total)))[:RUNS].tolist()
    owns = [is_open[label == run] for run in worst]
    ends = [_two_ends(edges, own) if rank < DETOURS else None for rank, own in enumerate(owns)]
    if any(pair is not None for pair in ends):
        edges = replace(edges, exposed=everywhere())
    return tuple(_run(edges, own, pair) for own, pair in zip(owns, ends, strict=True))


def _run(edges: OpenEdges, own: IndexArray, ends: tuple[int, int] | None) -> SeamRun:
    weight = edges.length[own] * edges.exposed[own]
    exposed = float(weight.sum())
    saved = 0.0 if ends is None else _saving(edges, own, *ends)
    return SeamRun(
        segments=edges.ends[own],
        length=float(edges.length[own].sum()),
        exposed=exposed,
        detour=max(exposed - saved, 0.0),
        at=_most_open(edges.ends[own].mean(axis=1), weight),
    )


def _most_open(middles: FloatArray, weight: FloatArray) -> FloatArray:
    """Of the heaviest edges' middles the first along a fixed direction, in whatever order."""
    heaviest = middles[weight >= weight.max() * (1 - _ALIKE)]
    return np.asarray(heaviest[np.argmin(heaviest @ GENERIC)])


def _heights(edges: OpenEdges, own: IndexArray, label: IndexArray) -> FloatArray:
    """(R,) of each run the place of its edges' middles, mean, along a fixed direction."""
    height = edges.ends[own].mean(axis=1) @ GENERIC
    return np.asarray(np.bincount(label, weights=height) / np.bincount(label))


def _coarse(total: FloatArray) -> FloatArray:
    """What differs by rounding alone is the same."""
    step = _ALIKE * float(total.max(initial=0.0))
    return np.round(total / step) if step > 0 else total


def _two_ends(edges: OpenEdges, own: IndexArray) -> tuple[int, int] | None:
    """The two loose ends of a run that lie farthest apart; None for a closed one."""
    places, where, count = np.unique(edges.places[own], return_index=True, return_counts=True)
    loose = np.flatnonzero(count == 1)
    if len(loose) < 2:
        return None
    points = edges.ends[own].reshape(-1, 3)[where[loose]]
    first = int(np.argmax(np.linalg.norm(points - points.mean(axis=0), axis=1)))
    second = int(np.argmax(np.linalg.norm(points - points[first], axis=1)))
    return int(places[loose[first]]), int(places[loose[second]])


def _saving(edges: OpenEdges, own: IndexArray, start: int, end: int) -> float:
    """How much weight a better route between two ends of a run saves; 0 where none is much better.

    A seam's end may slide along borders and other seams without cutting anything. Where those
    alone lead from end to end, the run parts two shells, and moving it would join them: 0 then.
    """
    is_own = np.zeros(len(edges.length), dtype=bool)
    is_own[own] = True
    free = edges.is_cut & ~is_own
    if _hang_together(edges.places[free], start, end):
        return 0.0
    weight = edges.length * (np.where(free, 0.0, edges.exposed) + HIDDEN_WEIGHT)
    present = _least_weight(edges.places[own], weight[own], start, end, at_most=np.inf)
    worth_it = WORTH_IT * present
    other = _least_weight(edges.places[~is_own], weight[~is_own], start, end, at_most=worth_it)
    return present - other if np.isfinite(other) else 0.0


def _hang_together(places: IndexArray, start: int, end: int) -> bool:
    """Whether edges between places (K, 2) lead from one place to another."""
    if not (places == start).any() or not (places == end).any():
        return False  # as where a seam ends in the open
    label = joined_labels(int(places.max()) + 1, *places.T)
    return bool(label[start] == label[end])


def _least_weight(
    places: IndexArray, weight: FloatArray, start: int, end: int, *, at_most: float
) -> float:
    """Weight of the lightest way between two places; inf where that is more than `at_most`."""
    count = max(int(places.max(initial=0)), start, end) + 1
    # Nothing weighs nothing: a sparse graph takes no weight for no edge.
    graph = coo_array((np.maximum(weight, 1e-300), tuple(places.T)), shape=(count, count)).tocsr()
    away = dijkstra(graph, directed=False, indices=np.array([start]), limit=at_most)
    return float(away[0, end])


def _runs_of(places: IndexArray) -> IndexArray:
    """(K,) the run of each edge: edges that share a place hang together."""
    count = int(places.max()) + 1
    label = joined_labels(count, places[:, 0], places[:, 1])
    return renumbered(label[places[:, 0]])
