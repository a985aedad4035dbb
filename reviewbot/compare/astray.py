"""Pieces that were moved besides being split off, or before they were joined.

A part that lost faces and a new part that has as many, or the other way round, may belong together
wherever the new part lies: it does where some rigid move lays it into the other version.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np

from reviewbot.compare.body import Body, carried
from reviewbot.compare.pairing import Pairing
from reviewbot.compare.pose import Versions, find_pose
from reviewbot.geometry.rigid import inverse, is_reflected, scale_of
from reviewbot.geometry.twins import nearest_within, tree_of
from reviewbot.mesh import FloatArray

THERE = 0.9  # of a piece's points must lie on points of the other version
FACES = 0.8  # of its faces must do so, too
HALF = 0.5  # of a piece's points on those of another
LEAST = 6  # faces: fewer fit somewhere by chance
BALANCE = 0.25  # of the faces of a piece that may be missing from the whole, or too many
RIGID = 1e-4
TRIES = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Stray:
    """A piece that lies elsewhere.

    row     of the part among those of its version
    after   it is a part of the version after; else of the one before
    matrix  (4, 4) carries it to where it belongs in the other version
    """

    row: int
    after: bool
    matrix: FloatArray

    @property
    def turn(self) -> FloatArray:
        """(4, 4) what carries the piece after onto the piece before."""
        return self.matrix if self.after else inverse(self.matrix)

    def is_in(self, pairing: Pairing) -> bool:
        """Whether the piece is one of these parts."""
        return self.row in (pairing.after if self.after else pairing.before)

    def under(self, undo: FloatArray) -> Stray:
        """The same in the space of the version after, which `undo` (4, 4) carries to where
        `matrix` is told of."""
        return replace(self, matrix=inverse(undo) @ self.matrix @ undo)


def find_strays(
    pairings: Sequence[Pairing], before: Sequence[Body], after: Sequence[Body], reach: float
) -> list[Stray]:
    """Pieces that were moved; `pairings` is what places and names tell."""
    found: list[Stray] = []
    for number, (whole, pieces, is_after) in enumerate(_groups(pairings, before, after)):
        if number == TRIES:
            break
        bodies = after if is_after else before
        lying = [_pose_into(whole, bodies[row], reach) for row in pieces]
        strays = [
            Stray(row=row, after=is_after, matrix=matrix)
            for row, matrix in zip(pieces, lying, strict=True)
            if matrix is not None and not np.array_equal(matrix, np.eye(4))
        ]
        settled = laid_back(bodies, strays, after=is_after)
        if all(matrix is not None for matrix in lying) and not (
            strays and _lie_together([settled[row] for row in pieces], reach)
        ):
            found += strays
    return found


def _lie_together(pieces: Sequence[Body], reach: float) -> bool:
    """Whether one piece lies on another: then it is not itself, but one like it, that was found."""
    return any(
        (nearest_within(tree_of(other.used_spots), one.used_spots, reach)[1] >= 0).mean() >= HALF
        for one, other in permutations(pieces, 2)
        if len(one.used_spots)
    )


def _groups(
    pairings: Sequence[Pairing], before: Sequence[Body], after: Sequence[Body]
) -> Iterator[tuple[Body, list[int], bool]]:
    """A whole, rows of what may be its pieces, and whether those are parts after."""
    added = [p.after[0] for p in pairings if not p.before]
    removed = [p.before[0] for p in pairings if not p.after]
    for pairing in pairings:
        one, other = [*pairing.before], [*pairing.after]
        if len(one) == 1 and len(other) > 1:
            yield before[one[0]], other, True
        elif len(one) > 1 and len(other) == 1:
            yield after[other[0]], one, False
        elif len(one) == len(other) == 1:
            grown = after[other[0]].faces - before[one[0]].faces
            for row in _of_about(-grown, added, after):
                yield before[one[0]], [other[0], row], True
            for row in _of_about(grown, removed, before):
                yield after[other[0]], [one[0], row], False


def _of_about(faces: int, rows: Sequence[int], bodies: Sequence[Body]) -> list[int]:
    return [
        row
        for row in rows
        if bodies[row].faces >= LEAST
        and abs(faces - bodies[row].faces) <= BALANCE * bodies[row].faces
    ]


def _pose_into(whole: Body, piece: Body, reach: float) -> FloatArray | None:
    """The rigid move that lays a piece into a whole; None where there is none."""
    still = np.eye(4)
    if not len(piece.used_spots) or not len(whole.used_spots):
        return None
    _, row = nearest_within(tree_of(whole.used_spots), piece.used_spots, reach)
    if (row >= 0).mean() >= THERE:
        return still
    pose = find_pose(Versions(before=[whole], after=[piece], pairs=[], reach=reach, whole=False))
    found, matrix = pose.evidence, pose.matrix
    rigid = abs(scale_of(matrix) - 1) <= RIGID and not is_reflected(matrix)
    if found is None or not rigid or found.bodies.min(initial=1.0) < THERE or found.faces < FACES:
        return None
    return matrix


def laid_back(bodies: Sequence[Body], strays: Sequence[Stray], *, after: bool) -> list[Body]:
    """The bodies of one version, each stray where it belongs."""
    where = {stray.row: stray.matrix for stray in strays if stray.after == after}
    return [carried(body, where[row]) if row in where else body for row, body in enumerate(bodies)]
