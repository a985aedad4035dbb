"""The similarity that best carries the version after onto the version before.

Candidates come from boxes, from points of equal index and from points of equal UV; each is
weighed on samples, and nothing having happened is believed until another pose explains more.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.evidence import (
    Evidence,
    Ground,
    Probe,
    SideTable,
    corner_uvs,
    ground_of,
    index_share,
    place_shares,
    probe_of,
    reach_under,
    side_table,
    weigh,
)
from reviewbot.compare.whole import snapped
from reviewbot.geometry.rigid import (
    consensus_similarity,
    fit_similarity,
    is_reflected,
    moved,
    scale_of,
    signed_axes,
    similarity,
    turn_of,
)
from reviewbot.geometry.twins import nearest_within, tree_of
from reviewbot.mesh import FloatArray

BOXES = 10  # bodies whose boxes are tried beside the whole asset's
FINALISTS = 8
UNMOVED = 0.999  # of the points lie where they lay
ALIKE = 1e-4  # of a size: boxes that differ by less have equal proportions
MATCHED_UV = 1e-5


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """A pose and what speaks for it.

    matrix    (4, 4) carries the version after onto the version before; the identity where
              nothing else explains more
    evidence  None where nothing had to be weighed
    """

    matrix: FloatArray = field(default_factory=lambda: np.eye(4))
    evidence: Evidence | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Versions:
    """Bodies of two versions.

    pairs  bodies before and after that may be the same, for their order of points and UVs
    reach  in units of the version before: nearer is the same place
    """

    before: Sequence[Body]
    after: Sequence[Body]
    pairs: Sequence[tuple[Body, Body]]
    reach: float


def find_pose(versions: Versions) -> Pose:
    """The pose of the version after against the one before."""
    reach = versions.reach
    ground, probe = ground_of(versions.before, reach), probe_of(versions.after, versions.pairs)
    if not len(ground.spots) or not len(probe.spots):
        return Pose()
    still = np.eye(4)
    if index_share(probe, still, reach) >= 0.5:
        return Pose()
    sides = side_table(versions.before)
    unmoved = weigh(ground, probe, still, sides)
    if unmoved.place >= UNMOVED and unmoved.uv >= 0.5:
        return Pose(evidence=unmoved)
    best = _best_candidate(versions, ground, probe, sides)
    if best is None or not _explains_more(best, unmoved):
        return Pose(evidence=unmoved)
    return _rounded(best, ground, probe, sides)


def _rounded(pose: Pose, ground: Ground, probe: Probe, sides: SideTable) -> Pose:
    """The pose with exact turns and factors, where these explain as much."""
    found = pose.evidence
    assert found is not None
    matrix = snapped(pose.matrix)
    reach = 4 * reach_under(ground, pose.matrix)
    _, row = nearest_within(ground.tree, moved(probe.spots, pose.matrix), reach)
    hit = row >= 0
    landed = ground.spots[row[hit]] - moved(probe.spots[hit], matrix)
    matrix[:3, 3] += np.median(landed, axis=0) if hit.any() else 0.0
    matrix[:3, 3] = np.where(np.abs(matrix[:3, 3]) <= ground.reach / 4, 0.0, matrix[:3, 3])
    evidence = weigh(ground, probe, matrix, sides)
    if evidence.place < found.place - 0.01:
        return pose
    return Pose(matrix=matrix, evidence=evidence)


def _explains_more(best: Pose, unmoved: Evidence) -> bool:
    """Whether a pose explains so much more than standing still that it is what happened."""
    found = best.evidence
    assert found is not None
    if unmoved.place >= UNMOVED:
        turned_in_itself = found.place >= UNMOVED and found.uv >= 0.95 and unmoved.uv < 0.5
        ordered = found.index > unmoved.index + 0.5
        return turned_in_itself and (ordered or found.wound >= 0.95)
    if (unmoved.explained & ~found.explained).any() and found.explained.mean() < 0.75:
        return False
    return found.place > unmoved.place + 0.02 and found.total > unmoved.total + 0.05


def _best_candidate(
    versions: Versions, ground: Ground, probe: Probe, sides: SideTable
) -> Pose | None:
    candidates = [
        *_from_order(probe, ground.reach),
        *_from_uvs(versions),
        *_from_boxes(versions),
    ]
    rated = [(float(place_shares(ground, probe, c).mean()) + _plainness(c), c) for c in candidates]
    rated = [one for one in rated if np.isfinite(one[0])]
    rated.sort(key=lambda one: -one[0])
    best: Pose | None = None
    best_total = -np.inf
    for _, matrix in _distinct(rated, ground)[:FINALISTS]:
        sharp = _sharpened(matrix, ground, probe)
        evidence = weigh(ground, probe, sharp, sides)
        if evidence.total + _plainness(sharp) > best_total:
            best, best_total = Pose(matrix=sharp, evidence=evidence), evidence.total
            best_total += _plainness(sharp)
    return best


def _plainness(matrix: FloatArray) -> float:
    """A little in favour of what needs fewer words, to decide between poses that explain alike."""
    angle, _ = turn_of(matrix)
    return -1e-4 * angle - (0.01 if is_reflected(matrix) else 0.0)


def _distinct(
    rated: Sequence[tuple[float, FloatArray]], ground: Ground
) -> list[tuple[float, FloatArray]]:
    kept: list[tuple[float, FloatArray]] = []
    low, high = ground.spots.min(axis=0), ground.spots.max(axis=0)
    size = float(np.linalg.norm(high - low)) or 1.0
    for score, matrix in rated:
        scale = scale_of(matrix)
        twins = (
            np.abs(other[:3, :3] - matrix[:3, :3]).max() <= 1e-3 * scale
            and np.abs(other[:3, 3] - matrix[:3, 3]).max() <= 1e-3 * size
            for _, other in kept
        )
        if not any(twins):
            kept.append((score, matrix))
        if len(kept) >= FINALISTS:
            break
    return kept


def _sharpened(matrix: FloatArray, ground: Ground, probe: Probe) -> FloatArray:
    """Fitted to all samples that land on points, a little farther off at first."""
    for factor in (4.0, 1.0, 1.0):
        _, row = nearest_within(
            ground.tree, moved(probe.spots, matrix), factor * reach_under(ground, matrix)
        )
        hit = row >= 0
        if hit.sum() < 4:
            return matrix
        matrix = fit_similarity(probe.spots[hit], ground.spots[row[hit]])
    return matrix


def _from_order(probe: Probe, reach: float) -> Iterator[FloatArray]:
    if len(probe.old) >= 4:
        found = consensus_similarity(probe.new, probe.old, 2 * reach)
        if found.share >= 0.1:
            yield found.matrix


def _from_uvs(versions: Versions) -> Iterator[FloatArray]:
    """Points that carry the same UV in bodies that may be the same."""
    old, new = [np.empty((0, 3))], [np.empty((0, 3))]
    for one, other in versions.pairs or _all_pairs(versions):
        spots = _points_of_equal_uv(one, other)
        old.append(spots[0])
        new.append(spots[1])
    sources, targets = np.concatenate(new), np.concatenate(old)
    if len(sources) >= 4:
        found = consensus_similarity(sources, targets, 2 * versions.reach)
        if found.share >= 0.05:
            yield found.matrix


def _all_pairs(versions: Versions) -> list[tuple[Body, Body]]:
    return [(one, other) for one in versions.before for other in versions.after][:16]


def _points_of_equal_uv(before: Body, after: Body) -> tuple[FloatArray, FloatArray]:
    rng = np.random.default_rng(11)
    own = rng.permutation(len(after.corner_face))[:1500].astype(np.int32)
    other = rng.permutation(len(before.corner_face))[:60_000].astype(np.int32)
    uv, uv_before = corner_uvs(after, own), corner_uvs(before, other)
    known = np.isfinite(uv_before).all(axis=1)
    other, uv_before = other[known], uv_before[known]
    _, row = nearest_within(tree_of(uv_before), uv, MATCHED_UV)
    hit = row >= 0
    place_before, place = before.shells.corner_place, after.shells.corner_place
    return before.spots[place_before[other[row[hit]]]], after.spots[place[own[hit]]]


def _from_boxes(versions: Versions) -> Iterator[FloatArray]:
    whole = (_all_spots(versions.before), _all_spots(versions.after))
    largest = sorted(versions.pairs, key=lambda pair: -pair[0].faces)[:BOXES]
    for old, new in [whole, *((b.used_spots, a.used_spots) for b, a in largest)]:
        if len(old) and len(new):
            yield from _box_to_box(old, new)


def _all_spots(bodies: Sequence[Body]) -> FloatArray:
    return np.concatenate([np.empty((0, 3)), *(body.used_spots for body in bodies)])


def _box_to_box(old: FloatArray, new: FloatArray) -> Iterator[FloatArray]:
    """Right-angled poses that carry the box round `new` onto the box round `old`."""
    sides_old, sides_new = np.ptp(old, axis=0), np.ptp(new, axis=0)
    if sides_old.max() == 0 or sides_new.max() == 0:
        return
    middle_old = (old.max(axis=0) + old.min(axis=0)) / 2
    middle_new = (new.max(axis=0) + new.min(axis=0)) / 2
    scale = float(np.sort(sides_old) @ np.sort(sides_new) / (sides_new @ sides_new))
    for turn in signed_axes():
        off = np.abs(scale * np.abs(turn) @ sides_new - sides_old).max()
        if off <= ALIKE * sides_old.max():
            yield similarity(scale * turn, middle_new, middle_old)
