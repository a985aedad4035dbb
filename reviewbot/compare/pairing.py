"""Which part of the version before is which part of the version after.

By name and place together, then by place alone (renamed, joined, split), then by name alone, then
by shape. Identical copies are told apart by where they are.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.evidence import index_share, same_index_samples
from reviewbot.compare.lay import (
    Lay,
    apart,
    box_overlap,
    counts_of,
    equal_by,
    lay_of,
    same_shape,
    shares_of,
)
from reviewbot.geometry.polygons import newell_vectors
from reviewbot.geometry.rows import lowest_and_highest
from reviewbot.geometry.twins import nearest_few, tree_of
from reviewbot.mesh import FloatArray

How = Literal["kept", "renamed", "joined", "split", "added", "removed"]

THERE = 0.97  # of a part's points lie in another part: it lies there
MOSTLY = 0.9
HALF = 0.5
LOOSELY = 0.3
WITHIN = 0.1  # of a part's size: so far beyond its box a piece of it may reach after an edit
TELLING = 20  # faces: parts of so many that have equal counts are hardly strangers


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """Parts before and after that belong together, as rows of the two versions.

    Several before are joined into one after, or one before is split into several after; one side
    is empty for an added or a removed part.
    """

    before: tuple[int, ...]
    after: tuple[int, ...]
    how: How


class _Open:
    """Parts still without a partner."""

    def __init__(self, before: int, after: int) -> None:
        self.before, self.after = set(range(before)), set(range(after))
        self.pairings: list[Pairing] = []

    def take(self, before: Iterable[int], after: Iterable[int], how: How) -> None:
        pairing = Pairing(before=tuple(sorted(before)), after=tuple(sorted(after)), how=how)
        self.before -= set(pairing.before)
        self.after -= set(pairing.after)
        self.pairings.append(pairing)


def pair_parts(before: Sequence[Body], after: Sequence[Body], reach: float) -> tuple[Pairing, ...]:
    """Pairings of two versions that lie in one space, in the order of the version after, removed
    parts last.

    reach  in units: nearer is the same place
    """
    left = _Open(len(before), len(after))
    _take_unmoved(left, before, after, reach)
    if left.before or left.after:
        _take_others(left, before, after, reach)
    for row in sorted(left.after):
        left.take((), (row,), "added")
    for row in sorted(left.before):
        left.take((row,), (), "removed")
    return tuple(sorted(left.pairings, key=lambda p: (p.after or (len(after),), p.before)))


def _take_unmoved(left: _Open, before: Sequence[Body], after: Sequence[Body], reach: float) -> None:
    """Parts whose name stands once in both versions and whose points of equal index lie together:
    most parts of most exports, found without looking at places."""
    row_before, row_after = _rows_by_name(before), _rows_by_name(after)
    for name, row in row_before.items():
        other = row_after.get(name)
        if other is None or before[row].faces != after[other].faces:
            continue
        pair = before[row], after[other]
        untouched = pair[0] is pair[1]
        if untouched or index_share(*same_index_samples([pair]), np.eye(4), reach) >= THERE:
            left.take((row,), (other,), "kept")


def _rows_by_name(bodies: Sequence[Body]) -> dict[str, int]:
    count = Counter(body.name for body in bodies)
    return {body.name: row for row, body in enumerate(bodies) if count[body.name] == 1}


def _take_others(left: _Open, before: Sequence[Body], after: Sequence[Body], reach: float) -> None:
    lay = lay_of(before, after, reach)
    there = np.minimum(lay.inside, lay.covered)
    same_name = equal_by(before, after, lambda body: body.name)
    alike = same_shape(before, after)
    _take_best(left, np.where(same_name & (there >= THERE), there, 0), before, after)
    _take_best(left, np.where((there >= THERE) & alike, there, 0), before, after)
    _join_to_kept(left, lay, before, after, reach)
    _split_from_kept(left, lay, before, after, reach)
    _take_joined(left, lay, before, after)
    _take_split(left, lay, before, after)
    _take_best(left, np.where(same_name, 1 + there - apart(before, after), 0), before, after)
    _regroup_kept(left, lay, before, after)
    _join_to_kept(left, lay, before, after, reach)
    _split_from_kept(left, lay, before, after, reach)
    _take_best(left, np.where(alike, 2 - apart(before, after), 0), before, after)
    _take_best(left, _resemblance(left, before, after, there), before, after)


def _take_best(
    left: _Open, score: FloatArray, before: Sequence[Body], after: Sequence[Body]
) -> None:
    """Pair the best-scoring parts first; equal scores by equal names, then in the files' order."""
    rows = [
        (-round(float(score[i, j]), 6), before[i].name != after[j].name, abs(i - j), i, j)
        for i, j in zip(*np.nonzero(score > 0), strict=True)
        if i in left.before and j in left.after
    ]
    for _, differs, _, i, j in sorted(rows):
        if i in left.before and j in left.after:
            left.take((int(i),), (int(j),), "renamed" if differs else "kept")


def _join_to_kept(
    left: _Open, lay: Lay, before: Sequence[Body], after: Sequence[Body], reach: float
) -> None:
    """A part that is gone, but lies in a kept part which grew by its faces, was joined to it."""
    for pairing in list(left.pairings):
        if not pairing.before or not pairing.after:
            continue
        own, whole = [before[i] for i in pairing.before], [after[j] for j in pairing.after]
        grown = sum(body.faces for body in whole) - sum(body.faces for body in own)
        share = lay.inside[:, list(pairing.after)].max(axis=1)
        inside = _inside(left.before, share, before, whole[0].name)
        inside = inside or _of_just_size(left.before, before, own, whole[0])
        pieces = [before[i] for i in inside]
        if pieces and (
            _about(grown, sum(piece.faces for piece in pieces))
            or _comes_of_steps([*own, *pieces], whole)
            or _lie_apart(pieces, own, share[inside], reach)
        ):
            left.pairings.remove(pairing)
            left.take((*pairing.before, *inside), pairing.after, "joined")


def _lie_apart(
    pieces: Sequence[Body], kept: Sequence[Body], share: FloatArray, reach: float
) -> bool:
    """Whether pieces that lie wholly in the other version's part lie on nothing of what that part
    is in their own version: then they are in it whatever was done to its faces besides."""
    own = shares_of(pieces, kept, reach).max(axis=1)
    return bool((share >= THERE).all() and (own < HALF).all())


def _split_from_kept(
    left: _Open, lay: Lay, before: Sequence[Body], after: Sequence[Body], reach: float
) -> None:
    """A new part that lies in a kept part which lost as many faces was split from it."""
    for pairing in list(left.pairings):
        if not pairing.after or not pairing.before:
            continue
        whole, kept = [before[i] for i in pairing.before], [after[j] for j in pairing.after]
        lost = sum(body.faces for body in whole) - sum(body.faces for body in kept)
        share = lay.covered[list(pairing.before)].max(axis=0)
        inside = _inside(left.after, share, after, whole[0].name)
        inside = inside or _of_just_size(left.after, after, kept, whole[0])
        pieces = [after[j] for j in inside]
        if not (
            pieces
            and (
                _about(lost, sum(piece.faces for piece in pieces))
                or _are_cut_out(whole, kept, pieces)
                or _comes_of_steps(whole, [*kept, *pieces])
                or _lie_apart(pieces, kept, share[inside], reach)
            )
        ):
            inside = _adjoining(left.after, after, whole, kept, reach)
        if inside:
            left.pairings.remove(pairing)
            how: How = "split" if len(whole) == 1 else "joined"
            left.take(pairing.before, (*pairing.after, *inside), how)


def _regroup_kept(left: _Open, lay: Lay, before: Sequence[Body], after: Sequence[Body]) -> None:
    """A kept part from which a piece was split, and to which another part was joined."""
    for pairing in list(left.pairings):
        if len(pairing.before) != 1 or len(pairing.after) != 1:
            continue
        row, other = pairing.before[0], pairing.after[0]
        joined = [i for i in sorted(left.before) if lay.inside[i, other] >= MOSTLY]
        covered = lay.covered[[row, *joined]].max(axis=0)
        pieces = [j for j in sorted(left.after) if covered[j] >= MOSTLY]
        had = before[row].faces + sum(before[i].faces for i in joined)
        has = after[other].faces + sum(after[j].faces for j in pieces)
        if joined and pieces and MOSTLY <= has / max(had, 1) <= 1 / MOSTLY:
            left.pairings.remove(pairing)
            left.take((row, *joined), (other, *pieces), "joined")


def _adjoining(
    rows: Iterable[int],
    bodies: Sequence[Body],
    whole: Sequence[Body],
    kept: Sequence[Body],
    reach: float,
) -> list[int]:
    """Parts whose border runs along that of what was kept of a whole which lost about their faces
    or their area, wherever the whole may lie by now."""
    border = np.concatenate([_border(body) for body in kept])
    found = []
    for row in sorted(rows):
        own = _border(bodies[row])
        if len(own) < 3 or not len(border):
            continue
        near, _ = nearest_few(tree_of(border), own, 1, reach)
        if np.isfinite(near[:, 0]).mean() >= HALF:
            found.append(row)
    pieces = [bodies[row] for row in found]
    lost = sum(body.faces for body in whole) - sum(body.faces for body in kept)
    gone = _about(lost, sum(piece.faces for piece in pieces)) or _are_cut_out(whole, kept, pieces)
    return found if found and gone else []


def _border(body: Body) -> FloatArray:
    """(K, 3) middles of the edges that one face lies on."""
    edges = body.shells.edges
    return np.asarray(body.spots[edges.ends[edges.side_count == 1]].mean(axis=1))


def _inside(rows: Iterable[int], share: FloatArray, bodies: Sequence[Body], name: str) -> list[int]:
    """Of these parts, those that lie almost whole in one of the other version, or, for one of its
    name, by half: it may have been edited as well."""
    return [
        row
        for row in sorted(rows)
        if bodies[row].faces and share[row] >= (HALF if bodies[row].name == name else MOSTLY)
    ]


def _of_just_size(
    rows: Iterable[int], bodies: Sequence[Body], others: Sequence[Body], whole: Body
) -> list[int]:
    """The one part that with others has just as many faces as the whole, or as the whole gives
    when it is subdivided, and lies within its box: the whole was bent besides, so that no place
    tells; nothing where it is not the only one."""
    if whole.faces < TELLING or not len(whole.used_spots):
        return []
    fitting = [
        row
        for row in sorted(rows)
        if bodies[row].faces >= TELLING
        and (
            sum(body.faces for body in others) + bodies[row].faces == whole.faces
            or _comes_of_steps([whole], [*others, bodies[row]])
            or _comes_of_steps([*others, bodies[row]], [whole])
        )
    ]
    if len(fitting) != 1 or not len(bodies[fitting[0]].used_spots):
        return fitting if len(fitting) == 1 else []
    low, high = lowest_and_highest(whole.used_spots)
    slack = WITHIN * float(np.linalg.norm(high - low))
    own_low, own_high = lowest_and_highest(bodies[fitting[0]].used_spots)
    is_within = (own_low >= low - slack).all() and (own_high <= high + slack).all()
    return fitting if is_within else []


def _comes_of_steps(before: Sequence[Body], after: Sequence[Body]) -> bool:
    """Whether the faces after are as many as one to three subdivision steps give: a quad a corner,
    then four a quad; or four a triangle."""
    faces = sum(body.faces for body in after)
    corners = sum(len(body.corner_face) for body in before)
    had = sum(body.faces for body in before)
    triangles = [4**k * had for k in (1, 2, 3)] if corners == 3 * had else []
    return had > 0 and faces in [corners, 4 * corners, 16 * corners, *triangles]


def _about(faces: int, wanted: int) -> bool:
    """As many, or a few more or less from another edit."""
    return abs(faces - wanted) <= 0.25 * wanted


def _take_joined(left: _Open, lay: Lay, before: Sequence[Body], after: Sequence[Body]) -> None:
    """Several parts before that lie in one part after are joined in it."""
    for row in sorted(left.after):
        inside = _inside(left.before, lay.inside[:, row], before, after[row].name)
        if not inside:
            continue
        missing = after[row].faces - sum(before[i].faces for i in inside)
        adrift = _adrift(left.before, inside, np.delete(lay.inside, row, axis=1))
        inside += _of_size(missing, adrift, before)
        if len(inside) > 1 and _accounts_for(inside, row, before, after):
            left.take(inside, (row,), "joined")


def _take_split(left: _Open, lay: Lay, before: Sequence[Body], after: Sequence[Body]) -> None:
    """One part before whose places lie in several parts after is split into them."""
    for row in sorted(left.before):
        inside = _inside(left.after, lay.covered[row], after, before[row].name)
        if not inside:
            continue
        missing = before[row].faces - sum(after[j].faces for j in inside)
        adrift = _adrift(left.after, inside, np.delete(lay.covered, row, axis=0).T)
        inside += _of_size(missing, adrift, after)
        if len(inside) > 1 and _accounts_for(inside, row, after, before):
            left.take((row,), inside, "split")


def _adrift(rows: Iterable[int], settled: Sequence[int], share: FloatArray) -> list[int]:
    """Parts that lie nowhere; `share` is how much of each lies in each part of the other version
    that is asked about."""
    return [
        row for row in sorted(rows) if row not in settled and share[row].max(initial=0.0) < MOSTLY
    ]


def _of_size(missing: int, rows: Sequence[int], bodies: Sequence[Body]) -> list[int]:
    """The one part of exactly the missing number of faces, or all if together they have it."""
    if missing <= 0:
        return []
    exact = [row for row in rows if bodies[row].faces == missing]
    if len(exact) == 1:
        return exact
    return list(rows) if sum(bodies[row].faces for row in rows) == missing else []


def _accounts_for(
    pieces: Sequence[int], whole: int, bodies: Sequence[Body], wholes: Sequence[Body]
) -> bool:
    return _make_up([bodies[piece] for piece in pieces], [wholes[whole]])


def _make_up(pieces: Sequence[Body], wholes: Sequence[Body]) -> bool:
    """Whether the pieces have about as many faces as the whole, or at least as much area."""
    faces = sum(body.faces for body in pieces) / max(sum(body.faces for body in wholes), 1)
    if MOSTLY <= faces <= 1 / MOSTLY:
        return True
    own = sum(_area(body) for body in wholes)
    return own > 0 and MOSTLY <= sum(_area(body) for body in pieces) / own <= 1 / MOSTLY


def _are_cut_out(whole: Sequence[Body], kept: Sequence[Body], pieces: Sequence[Body]) -> bool:
    """Whether a part lost about the area of these pieces, whose faces may be others by now."""
    lost = sum(_area(body) for body in whole) - sum(_area(body) for body in kept)
    area = sum(_area(body) for body in pieces)
    return area > 0 and abs(lost - area) <= (1 - MOSTLY) * area


def _area(body: Body) -> float:
    vectors = newell_vectors(body.points, body.part.corner_point, body.part.face_start)
    return float(np.nansum(np.linalg.norm(vectors, axis=1)))


def _resemblance(
    left: _Open, before: Sequence[Body], after: Sequence[Body], there: FloatArray
) -> FloatArray:
    """(B, A) above 0 for parts that were renamed and edited at once: one name within the other
    or equal counts, in about the same box; or a good share of points in place."""
    score = np.zeros((len(before), len(after)))
    counts = equal_by(before, after, counts_of)
    for i in left.before:
        for j in left.after:
            old, new = before[i], after[j]
            if not old.faces or not new.faces:
                continue
            boxes = box_overlap(old.used_spots, new.used_spots)
            named = old.name in new.name or new.name in old.name
            near = there[i, j] >= LOOSELY or (boxes >= 0.5 and (named or counts[i, j]))
            if near or (counts[i, j] and old.faces >= TELLING):
                score[i, j] = boxes + there[i, j] + named + counts[i, j]
    return score
