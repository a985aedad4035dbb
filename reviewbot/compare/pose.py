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
    Scales,
    ground_of,
    index_share,
    landing,
    probe_of,
    reach_under,
    same_index_samples,
    side_table,
    thinned,
    weigh,
)
from reviewbot.compare.landmarks import matched_landmarks
from reviewbot.compare.rough import pose_by_surface, pose_by_trend
from reviewbot.compare.uv_places import corner_uvs
from reviewbot.compare.whole import causes_of, natural_centres, snapped
from reviewbot.geometry.registration import registrations
from reviewbot.geometry.rigid import (
    consensus_similarity,
    fit_similarity,
    is_reflected,
    mirror_axis_of,
    mirroring,
    moved,
    nearest_signed_axes,
    scale_of,
    signed_axes,
    similarity,
    turn_of,
)
from reviewbot.geometry.twins import nearest_within, tree_of
from reviewbot.measure.surface import extent
from reviewbot.mesh import FloatArray

REGISTERED = 3
LIKELY = 0.6  # of the points must be explained by a pose
SURE = 0.75  # of the points of equal index meet under a pose: no other one needs to be tried
SURE_FACES = 0.5  # the same of faces, which have several points
UNLIKELY = 0.2  # the same for a pose that no edit of points resembles
FEW = 24  # points fit on others by chance; then faces must fit too
FEW_FACES = 0.3
BOXES = 10  # bodies whose boxes are tried beside the whole asset's
FINALISTS = 6
RIVALS = 24  # finalists where so many explain the places alike: a cube has all right-angled turns
FURTHER_CAUSE = 0.12  # of evidence: what must speak for a pose that takes one change more to tell
TIED = 0.02  # of a rating: points alone do not tell apart what differs by less
COARSE = 8  # a sifting looks at every so many-th sample
ORDERLY = 0.6  # of the points of equal index lie where they lay: the asset did not move
UNMOVED = 0.999  # of the points lie where they lay
ALIKE = 1e-4  # of a size: boxes that differ by less have equal proportions
MATCHED_UV = 1e-5


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """A pose and what speaks for it.

    matrix    (4, 4) carries the version after onto the version before; the identity where
              nothing else explains more
    evidence  None where nothing had to be weighed
    causes    how many changes of a whole asset it takes to tell it; 1 for a part
    """

    matrix: FloatArray = field(default_factory=lambda: np.eye(4))
    evidence: Evidence | None = None
    causes: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Versions:
    """Bodies of two versions.

    pairs  bodies before and after that may be the same, for their order of points and UVs
    reach  in units of the version before: nearer is the same place
    whole  they are whole assets, to which slips of export happen; not one part, which is edited
    """

    before: Sequence[Body]
    after: Sequence[Body]
    pairs: Sequence[tuple[Body, Body]]
    reach: float
    whole: bool


def find_pose(versions: Versions) -> Pose:
    """The pose of the version after against the one before."""
    still = np.eye(4)
    if index_share(*same_index_samples(versions.pairs), still, versions.reach) > ORDERLY:
        return Pose()
    ground = ground_of(versions.before, versions.reach)
    probe = probe_of(versions.after, versions.pairs)
    if not len(ground.spots) or not len(probe.spots):
        return Pose()
    scales = _scales(versions, ground, probe)
    unmoved = weigh(scales, still)
    may_be_turned = versions.whole and unmoved.place >= UNMOVED and unmoved.uv < 0.95
    if unmoved.place >= LIKELY and unmoved.uv >= LIKELY and not may_be_turned:
        return Pose(evidence=unmoved)
    best = _best_candidate(versions, scales)
    if best is not None and _explains_more(best, unmoved, scales, whole=versions.whole):
        return _rounded(best, scales)
    if versions.whole and unmoved.place < UNLIKELY:
        return _rough_pose(versions) or Pose(evidence=unmoved)
    return Pose(evidence=unmoved)


def _rough_pose(versions: Versions) -> Pose | None:
    matrix = pose_by_trend(*same_index_samples(versions.pairs), turns_only=False)
    if matrix is None:
        matrix = pose_by_trend(*_equal_uvs(versions), turns_only=True)
    if matrix is None:
        matrix = pose_by_surface(versions.before, versions.after)
    return None if matrix is None else Pose(matrix=matrix)


def _scales(versions: Versions, ground: Ground, probe: Probe) -> Scales:
    size = extent(ground.spots) or 1.0
    after = _all_spots(versions.after)
    return Scales(
        ground=ground,
        probe=probe,
        sides=side_table(versions.before),
        ground_after=ground_of(versions.after, versions.reach * extent(after) / size),
        probe_before=probe_of(versions.before, []),
    )


def _rounded(pose: Pose, scales: Scales) -> Pose:
    """The pose with exact turns and factors, where these explain as much."""
    found, ground, probe = pose.evidence, scales.ground, scales.probe
    assert found is not None
    matrix = snapped(pose.matrix)
    reach = 4 * reach_under(ground, pose.matrix)
    _, row = nearest_within(ground.tree, moved(probe.spots, pose.matrix), reach)
    hit = row >= 0
    landed = ground.spots[row[hit]] - moved(probe.spots[hit], matrix)
    matrix[:3, 3] += np.median(landed, axis=0) if hit.any() else 0.0
    matrix[:3, 3] = np.where(np.abs(matrix[:3, 3]) <= ground.reach / 4, 0.0, matrix[:3, 3])
    evidence = weigh(scales, matrix)
    if evidence.place < found.place - 0.01:
        return pose
    return Pose(matrix=matrix, evidence=evidence)


def _explains_more(best: Pose, unmoved: Evidence, scales: Scales, *, whole: bool) -> bool:
    """Whether a pose explains so much more than standing still that it is what happened."""
    found = best.evidence
    assert found is not None
    if unmoved.place >= UNMOVED:
        return _is_turned_in_itself(best, unmoved, whole=whole)
    if unmoved.is_ordered and unmoved.index >= 0.3 and unmoved.index > found.index:
        return False  # points that keep their index stay where they are
    least = _needed_of_a_slip(best) if whole else LIKELY
    if unmoved.uv > found.uv + 0.05 or found.place < least:
        return False
    if len(scales.probe.spots) < FEW and max(found.faces, found.uv) < FEW_FACES:
        return False
    if (unmoved.explained & ~found.explained).any() and found.explained.mean() < 0.75:
        return False
    return found.place > unmoved.place + 0.02 and found.total > unmoved.total + 0.05


def _is_turned_in_itself(best: Pose, unmoved: Evidence, *, whole: bool) -> bool:
    """Whether a form whose points all lie on points was turned onto itself all the same, as its
    UVs or its faces tell.

    Of a part that is its own mirror image, rather the faces or the UVs were turned over.
    """
    found = best.evidence
    assert found is not None
    if not whole and is_reflected(best.matrix) and not found.is_ordered:
        return False
    textured = found.uv >= 0.95 and unmoved.uv < (0.9 if whole else 0.5)
    faceted = found.faces > unmoved.faces + 0.05 and found.uv >= unmoved.uv
    ordered = found.index > unmoved.index + 0.5
    turned_in_itself = found.place >= UNMOVED and (textured or faceted)
    return turned_in_itself and (ordered or found.wound >= 0.95)


def _needed_of_a_slip(pose: Pose) -> float:
    """How much a pose has to explain. No edit of points looks like another unit or other axes, so
    less has to speak for those."""
    scale = scale_of(pose.matrix)
    if max(scale, 1 / scale) > 1.5:
        return UNLIKELY
    turn = nearest_signed_axes(pose.matrix, 1e-3)
    turned = turn is not None and not np.array_equal(turn, np.eye(3))
    fits = pose.evidence is not None and pose.evidence.faces >= UNLIKELY
    return 0.35 if turned and fits else LIKELY


def _best_candidate(versions: Versions, scales: Scales) -> Pose | None:
    centres = natural_centres(scales.ground.spots) if versions.whole else None
    by_order = [*_from_order(scales.probe, versions.reach)]
    ordered = _best_of(scales, centres, by_order, [])
    if ordered is not None and _is_certain(ordered):
        return ordered  # most moves of most exports, found without trying any other
    sure = [*by_order, *_from_uvs(versions)]
    many = [*_from_boxes(versions), *_from_registration(versions)]
    best = _best_of(scales, centres, sure, many)
    if best is None or _is_doubtful(best):
        other = _best_of(scales, centres, list(_from_landmarks(versions)), [])
        rivals = _without_needless_reflections([p for p in (best, other) if p is not None])
        return max(rivals, key=_merit, default=None)
    return best


def _is_certain(pose: Pose) -> bool:
    """Most points meet by index, and bring their faces and their UVs: under another pose those
    same points would have to meet others, with the same faces and UVs, all over the form."""
    found = pose.evidence
    assert found is not None
    met = found.is_ordered and found.index >= SURE
    looks = min(found.uv, found.faces, found.wound) >= SURE_FACES
    return met and looks and pose.causes <= 1 and not is_reflected(pose.matrix)


def _is_doubtful(pose: Pose) -> bool:
    """It explains little, or mirrors what may be symmetric in itself."""
    found = pose.evidence
    assert found is not None
    return found.place < LIKELY or (is_reflected(pose.matrix) and not found.is_ordered)


def _best_of(
    scales: Scales,
    centres: FloatArray | None,
    sure: Sequence[FloatArray],
    many: Sequence[FloatArray],
) -> Pose | None:
    """The best of few candidates that all are weighed and of many that are sifted first.

    centres  the natural ones of a whole asset, None for a part
    """
    finalists = [*filter(_is_sound, sure), *_sifted(scales, [*filter(_is_sound, many)])]
    sharp = [_sharpened(matrix, scales.ground, scales.probe) for matrix in finalists]
    poses = [_weighed(scales, centres, matrix) for matrix in filter(_is_sound, sharp)]
    return max(_without_needless_reflections(poses), key=_merit, default=None)


def _weighed(scales: Scales, centres: FloatArray | None, matrix: FloatArray) -> Pose:
    reach = 4 * scales.ground.reach  # a sharpened pose is a little off still
    causes = 1 if centres is None else causes_of(snapped(matrix), centres, reach)
    found = weigh(scales, matrix)
    turned_over = found.faces > LIKELY and found.wound < 0.5 * found.faces
    if centres is not None and turned_over and not is_reflected(matrix):
        causes += 1  # a reflection turns the faces over by itself, or an export does it for it
    return Pose(matrix=matrix, evidence=found, causes=causes)


def _without_needless_reflections(poses: Sequence[Pose]) -> list[Pose]:
    """A symmetric form is its own mirror image: where a turn explains places, faces and their
    winding, a reflection that only explains the UVs better is a flip of the UVs."""
    turns = [pose.evidence for pose in poses if pose.evidence and not is_reflected(pose.matrix)]

    def is_needless(pose: Pose) -> bool:
        found = pose.evidence
        if found is None or not is_reflected(pose.matrix) or found.is_ordered:
            return False
        return found.wound < 0.5 * found.faces and any(
            turn.place >= found.place - 0.01
            and turn.faces >= found.faces - 0.01
            and turn.wound >= 0.9 * turn.faces
            for turn in turns
        )

    return [pose for pose in poses if not is_needless(pose)]


def _is_sound(matrix: FloatArray) -> bool:
    """Neither squashed to a point nor blown up."""
    scale = scale_of(matrix)
    return bool(np.isfinite(matrix).all() and 1e-9 < scale < 1e9)


def _sifted(scales: Scales, candidates: Sequence[FloatArray]) -> list[FloatArray]:
    """Those that explain the most places: so many turns, and so many reflections."""
    ground, probe = scales.ground, thinned(scales.probe, COARSE)
    rated = [(landing(ground, probe, c).rating + _plainness(c), c) for c in candidates]
    rated.sort(key=lambda one: -one[0])
    turns = [one for one in rated if not is_reflected(one[1])]
    reflections = [one for one in rated if is_reflected(one[1])]
    return [matrix for some in (turns, reflections) for _, matrix in _distinct(some, ground)]


def _merit(pose: Pose) -> float:
    explained = 0.0 if pose.evidence is None else pose.evidence.total
    return explained + _plainness(pose.matrix) - FURTHER_CAUSE * max(pose.causes - 1, 0)


def _plainness(matrix: FloatArray) -> float:
    """A little in favour of what needs fewer words, to decide between poses that explain alike."""
    if is_reflected(matrix):
        return -0.1 - 1e-4 * turn_of(matrix @ mirroring(mirror_axis_of(matrix)))[0]
    return -1e-4 * turn_of(matrix)[0]


def _distinct(
    rated: Sequence[tuple[float, FloatArray]], ground: Ground
) -> list[tuple[float, FloatArray]]:
    kept: list[tuple[float, FloatArray]] = []
    size = extent(ground.spots) or 1.0
    for score, matrix in rated:
        scale = scale_of(matrix)
        twins = (
            np.abs(other[:3, :3] - matrix[:3, :3]).max() <= 1e-3 * scale
            and np.abs(other[:3, 3] - matrix[:3, 3]).max() <= 1e-3 * size
            for _, other in kept
        )
        tied = score >= rated[0][0] - TIED
        if len(kept) >= (RIVALS if tied else FINALISTS):
            break
        if not any(twins):
            kept.append((score, matrix))
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
    yield from _agreed(probe.new, probe.old, reach, tries=160)


def _from_uvs(versions: Versions) -> Iterator[FloatArray]:
    old, new = _equal_uvs(versions)
    yield from _agreed(new, old, versions.reach, tries=160)


def _equal_uvs(versions: Versions) -> tuple[FloatArray, FloatArray]:
    """Points before and after that carry the same UV, in bodies that may be the same."""
    spots = [_points_of_equal_uv(*pair) for pair in versions.pairs or _all_pairs(versions)]
    old, new = ([pair[side] for pair in spots] for side in (0, 1))
    return np.concatenate([np.empty((0, 3)), *old]), np.concatenate([np.empty((0, 3)), *new])


def _agreed(
    sources: FloatArray, targets: FloatArray, reach: float, *, tries: int
) -> Iterator[FloatArray]:
    """What most pairs agree on, and what most agree on of turns alone."""
    if len(sources) < 4:
        return
    for turns_only in (False, True):
        found = consensus_similarity(
            sources, targets, 2 * reach, tries=tries, turns_only=turns_only
        )
        if found.share >= 0.05:
            yield found.matrix
        if not is_reflected(found.matrix):
            return


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


def _from_landmarks(versions: Versions) -> Iterator[FloatArray]:
    """Points that look alike and like few others, in bodies that may be the same."""
    spots = [matched_landmarks(*pair) for pair in versions.pairs or _all_pairs(versions)]
    old, new = (np.concatenate([np.empty((0, 3)), *(p[side] for p in spots)]) for side in (0, 1))
    yield from _agreed(new, old, versions.reach, tries=800)


def _from_registration(versions: Versions) -> Iterator[FloatArray]:
    """Sets of points that are the same but for a similarity: the whole, and some parts."""
    whole = (_all_spots(versions.before), _all_spots(versions.after))
    largest = sorted(versions.pairs, key=lambda pair: -pair[0].faces)[:REGISTERED]
    parts = [(one.used_spots, other.used_spots) for one, other in largest]
    for old, new in [whole, *parts][: 1 if len(versions.pairs) == 1 else None]:
        yield from registrations(new, old, versions.reach)


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
