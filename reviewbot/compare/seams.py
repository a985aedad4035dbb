"""Which seams were cut and sewn, by the places they run between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reviewbot.compare.body import Body
from reviewbot.compare.faces import FaceStory
from reviewbot.compare.match import Match
from reviewbot.compare.uv_faces import Mapping
from reviewbot.compare.uv_places import corner_uvs
from reviewbot.geometry.polygons import next_corners
from reviewbot.geometry.rows import rows_where
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

GAP_NOISE = 2e-5  # of a tile: a gap that opens or closes by less was there before


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamStory:
    """Edges after, by row, that were there before with mapped faces on either side.

    cut, sewn, kept   seams that are new, gone, still there
    cut_before, sewn_before   lengths in units of the version before
    length_before     of all seams before
    """

    cut: IndexArray
    sewn: IndexArray
    kept: IndexArray
    cut_before: float
    sewn_before: float
    length_before: float


def tell_seams(
    before: Body, after: Body, match: Match, faces: FaceStory, mapping: Mapping
) -> SeamStory:
    """What happened to seams on edges that both versions have."""
    old_edge = _edges_before(before, after, match)
    rows = rows_where(old_edge >= 0)
    old = old_edge[rows]
    mapped = mapping.both & faces.solid
    both = _fully_mapped(before)[old] & _fully_mapped(after)[rows]
    both &= _all_sides(after, mapped[after.corner_face])[rows]
    both &= _in_one_piece(before)[old] & _in_one_piece(after)[rows]
    both &= before.shells.edges.side_count[old] == after.shells.edges.side_count[rows]
    rows, old = rows[both], old[both]
    was, is_now = before.shells.is_seam[old], after.shells.is_seam[rows]
    opened = was != is_now
    opened[opened] = np.abs(_gaps(after, rows[opened]) - _gaps(before, old[opened])) > GAP_NOISE
    length = before.shells.lengths[old]
    cut, sewn = opened & is_now, opened & was
    return SeamStory(
        cut=rows[cut],
        sewn=rows[sewn],
        kept=rows_where(after.shells.is_seam & ~np.isin(np.arange(len(old_edge)), rows[cut])),
        cut_before=float(length[cut].sum()),
        sewn_before=float(length[sewn].sum()),
        length_before=float(before.shells.lengths[before.shells.is_seam].sum()),
    )


def _edges_before(before: Body, after: Body, match: Match) -> IndexArray:
    """(Ea,) row of the edge before between the same two places, -1 for none."""
    key = _edge_keys(match.before_place[before.shells.edges.ends])
    wanted = _edge_keys(match.twin[match.after_place[after.shells.edges.ends]])
    found = np.full(len(wanted), -1, dtype=np.int32)
    rows_old, rows_new = _lone(key), _lone(wanted)
    order = np.argsort(key[rows_old])
    ordered = key[rows_old[order]]
    if len(ordered) and len(rows_new):
        row = np.minimum(np.searchsorted(ordered, wanted[rows_new]), len(ordered) - 1)
        hit = ordered[row] == wanted[rows_new]
        found[rows_new[hit]] = rows_old[order[row[hit]]]
    return found


def _edge_keys(ends: IndexArray) -> npt.NDArray[np.int64]:
    """One number an edge, the same either way round; -1 for one that leads nowhere."""
    low, high = np.minimum(ends[:, 0], ends[:, 1]), np.maximum(ends[:, 0], ends[:, 1])
    key = (low.astype(np.int64) << 32) | high
    return np.where((low < 0) | (low == high), -1, key)


def _lone(key: npt.NDArray[np.int64]) -> IndexArray:
    """Rows whose key no other row has: of several edges between places so near that they count
    as one, nobody can tell which is which."""
    if not len(key):
        return np.empty(0, dtype=np.int32)
    order = np.argsort(key, kind="stable")
    differs = np.diff(key[order]) != 0
    lone = np.ones(len(key), dtype=bool)
    lone[order] = np.append(differs, True) & np.append(True, differs)
    return rows_where(lone & (key >= 0))


def _fully_mapped(body: Body) -> BoolArray:
    """(E,) bool: at least two faces lie on the edge, and all of them have UVs."""
    return (body.shells.edges.side_count >= 2) & _all_sides(body, body.mapped[body.corner_face])


def _in_one_piece(body: Body) -> BoolArray:
    """(E,) bool: the faces on the edge are of one part; between parts there is no seam."""
    edges = body.shells.edges
    piece = body.piece[body.corner_face][edges.sides]
    if not len(piece) or not piece.any():
        return np.ones(len(edges.ends), dtype=bool)
    low = np.minimum.reduceat(piece, edges.side_start[:-1])
    return np.asarray(low == np.maximum.reduceat(piece, edges.side_start[:-1]))


def _all_sides(body: Body, fine: BoolArray) -> BoolArray:
    """(E,) bool: all sides on the edge are fine; `fine` is (C,), each side by its corner."""
    edges = body.shells.edges
    bad = np.bincount(edges.corner_edge[~fine], minlength=len(edges.ends))
    return np.asarray(bad == 0)


def _gaps(body: Body, rows: IndexArray) -> FloatArray:
    """How far the UVs of the first two sides on each edge lie apart, the larger of both ends."""
    edges = body.shells.edges
    start = edges.side_start[rows]
    first, second = edges.sides[start], edges.sides[start + 1]
    follow = next_corners(body.part.face_start)
    gaps = np.zeros(len(rows))
    for low in (True, False):
        ends = [
            corner_uvs(body, np.where(edges.forward[side] == low, side, follow[side]))
            for side in (first, second)
        ]
        gaps = np.maximum(gaps, np.abs(ends[0] - ends[1]).max(axis=1, initial=0.0))
    return gaps
