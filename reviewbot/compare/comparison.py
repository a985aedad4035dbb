"""Two measured versions in, the few causes that explain the difference out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

import numpy as np

from reviewbot.compare.astray import Stray, find_strays, laid_back
from reviewbot.compare.body import Body, body_of, carried, joined_bodies, size_of
from reviewbot.compare.change import Change
from reviewbot.compare.describe import Ruler, describe_part, told_move
from reviewbot.compare.gather import gathered
from reviewbot.compare.lay import counts_of
from reviewbot.compare.match import point_places
from reviewbot.compare.pairing import Pairing, pair_parts
from reviewbot.compare.part_story import (
    PartStory,
    place_distances,
    tell_part,
    tolerance_for,
    with_flip,
)
from reviewbot.compare.pose import Versions, find_pose
from reviewbot.compare.untouched import tell_untouched
from reviewbot.compare.whole import describe_whole
from reviewbot.cores import thread_count
from reviewbot.geometry.rigid import inverse, is_reflected
from reviewbot.measure.examine import Examination
from reviewbot.measure.shells import Shells
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part
from reviewbot.settings import LimitSettings, Settings

ALIKE = 1e-3  # moves that differ by less are one


def _no_values() -> FloatArray:
    return np.empty(0)


def _no_segments() -> FloatArray:
    return np.empty((0, 2, 3))


def _no_moves() -> FloatArray:
    return np.empty((0, 5))


@dataclass(frozen=True, slots=True, kw_only=True)
class PartMatch:
    """One part in both versions, with what pictures need.

    before, after  rows of the parts of either version; None where it is not there
    form           "same", "moved", "reshaped", "triangulated", "subdivided", "edited",
                   "retopologised", "added" or "removed"
    unwrap         "same", "moved", "recut", "reshaped", "lost", "added" or "none"
    uvs_fit        False where the form changed and the UVs must be redone, True where they can
                   stay; None where the form did not change or there are no UVs
    displacement   (V,) float64 how far each point after was moved, in units of the version
                   after; nan for a new point; empty where nothing moved
    cut, sewn, kept  (K, 2, 3) float64 ends of seams in the space of the version after
    shells_moved   (K, 5) float64 shells that lie elsewhere now, in UVs: middle before, middle
                   after, and reach after, the mean distance of its corners from its middle
    """

    before: int | None
    after: int | None
    form: str
    unwrap: str
    uvs_fit: bool | None = None
    displacement: FloatArray = field(default_factory=_no_values)
    cut: FloatArray = field(default_factory=_no_segments)
    sewn: FloatArray = field(default_factory=_no_segments)
    kept: FloatArray = field(default_factory=_no_segments)
    shells_moved: FloatArray = field(default_factory=_no_moves)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What happened between two versions.

    changes  the whole asset's first, then part by part, the gravest first
    matches  one a part of either version, in the order of the version after, removed ones last
    undo     (4, 4) carries the version after onto the version before where the whole asset was
             sized, turned, mirrored or shifted; else the identity
    """

    changes: tuple[Change, ...]
    matches: tuple[PartMatch, ...]
    undo: FloatArray


def compare(before: Examination, after: Examination, settings: Settings) -> Comparison:
    """Work out what happened between two versions of an asset."""
    return compare_parts(
        [(one.part, one.shells) for one in before.parts],
        [(one.part, one.shells) for one in after.parts],
        settings,
    )


def compare_parts(
    before: Sequence[tuple[Part, Shells]], after: Sequence[tuple[Part, Shells]], settings: Settings
) -> Comparison:
    """The same from parts and their shells alone: nothing else that is measured is needed."""
    with np.errstate(all="ignore"):  # nan and infinity in a mesh are findings, not warnings
        old = [body_of(*one) for one in before]
        return _compare(old, _bodies_after(before, old, after), settings.limits)


def _bodies_after(
    before: Sequence[tuple[Part, Shells]], old: Sequence[Body], after: Sequence[tuple[Part, Shells]]
) -> list[Body]:
    """Bodies of the version after: those before themselves where a part is the very same one, as
    parts are that were measured once for both."""
    known = {id(part): body for (part, _), body in zip(before, old, strict=True)}
    return [known.get(id(part)) or body_of(part, shells) for part, shells in after]


def _compare(old: Sequence[Body], new: Sequence[Body], limits: LimitSettings) -> Comparison:
    size = size_of(old)
    reach = max(1e-5 * size, 1e-12)
    undo = find_pose(
        Versions(before=old, after=new, pairs=_likely_pairs(old, new), reach=reach, whole=True)
    ).matrix
    laid = [carried(body, undo) for body in new]
    pairings = pair_parts(old, laid, reach)
    strays = find_strays(pairings, old, laid, reach)
    settled, placed = laid_back(old, strays, after=False), new
    if strays:
        pairings = pair_parts(settled, laid_back(laid, strays, after=True), reach)
        placed = laid_back(new, [one.under(undo) for one in strays], after=True)
    told_of = [pairing for pairing in pairings if pairing.before and pairing.after]

    def story(pairing: Pairing) -> PartStory:
        turns = [undo, *(one.turn @ undo for one in strays if one.is_in(pairing))]
        return _story(pairing, settled, placed, turns, size=size, limits=limits)

    with ThreadPoolExecutor(thread_count()) as pool:
        stories = dict(zip(told_of, pool.map(story, told_of), strict=True))
    if is_reflected(undo):
        stories = _without_mirrored_winding(stories)
    stories = _with_shared_flip(stories)
    ruler = Ruler(forward=inverse(undo))
    whole = (
        ()
        if np.array_equal(undo, np.eye(4))
        else describe_whole(undo, _spots_of(old), _spots_of(laid), reach)
    )
    told = {pairing: describe_part(story, ruler) for pairing, story in stories.items()}
    for pairing in told_of:
        told[pairing] += tuple(_moves(pairing, strays, old, laid, ruler))
    changes = (*whole, *gathered(pairings, old, new, stories, told))
    matches = [match for pairing in pairings for match in _matches(pairing, stories, new, ruler)]
    return Comparison(changes=changes, matches=tuple(matches), undo=undo)


def _moves(
    pairing: Pairing,
    strays: Sequence[Stray],
    old: Sequence[Body],
    laid: Sequence[Body],
    ruler: Ruler,
) -> Iterator[Change]:
    """Where pieces of what was split or joined went; those that went alike are told once."""
    name = laid[pairing.after[0]].name
    told: list[FloatArray] = []
    for stray in strays:
        if not stray.is_in(pairing):
            continue
        if any(np.abs(stray.matrix - other).max() <= ALIKE for other in told):
            continue
        told.append(stray.matrix)
        if stray.after:
            piece = carried(laid[stray.row], stray.matrix)
            yield told_move(piece.name, piece.used_spots, inverse(stray.matrix), ruler)
        else:
            change = told_move(name, old[stray.row].used_spots, stray.matrix, ruler)
            yield replace(change, message=f"'{old[stray.row].name}': {change.message}")


def _spots_of(bodies: Sequence[Body]) -> FloatArray:
    return np.concatenate([body.used_spots for body in bodies])


def _likely_pairs(old: Sequence[Body], new: Sequence[Body]) -> list[tuple[Body, Body]]:
    """Bodies of one name; where none have one in common, those of equal counts, else all in their
    order where both versions have as many."""
    pairs = _paired_by(old, new, lambda body: body.name)
    if not pairs:
        pairs = _paired_by(old, new, counts_of)
    if not pairs and len(old) == len(new):
        return list(zip(old, new, strict=True))
    return pairs


def _paired_by(
    old: Sequence[Body], new: Sequence[Body], mark: Callable[[Body], Hashable]
) -> list[tuple[Body, Body]]:
    """Bodies of one mark, those of several in their order."""
    by_mark: dict[Hashable, list[Body]] = {}
    for body in new:
        by_mark.setdefault(mark(body), []).append(body)
    return [(body, by_mark[mark(body)].pop(0)) for body in old if by_mark.get(mark(body))]


def _story(
    pairing: Pairing,
    old: Sequence[Body],
    new: Sequence[Body],
    turns: Sequence[FloatArray],
    *,
    size: float,
    limits: LimitSettings,
) -> PartStory:
    """What happened to what was paired; the first turn undoes that of the whole asset.

    size  of the asset before, units
    """
    undo = turns[0]
    before, after = [old[row] for row in pairing.before], [new[row] for row in pairing.after]
    with np.errstate(all="ignore"):  # a thread of its own does not inherit it
        one = before[0] if len(before) == 1 else joined_bodies(before, np.eye(4))
        other = carried(after[0], undo) if len(after) == 1 else joined_bodies(after, undo)
        if one is other:
            return tell_untouched(one)
        return tell_part(one, other, tolerance_for(one, size), turns, limits)


def _with_shared_flip(stories: dict[Pairing, PartStory]) -> dict[Pairing, PartStory]:
    """Where nearly all parts show a flip along one axis, a part that looks mirrored was flipped as
    well, and moved besides."""
    mapped = {pairing: story for pairing, story in stories.items() if story.unwrap.compared}
    votes = Counter(story.unwrap.flipped for story in mapped.values() if story.unwrap.flipped)
    if not votes:
        return stories
    axis, count = votes.most_common(1)[0]
    odd = [p for p, s in mapped.items() if not s.unwrap.flipped and s.unwrap.mirrored is not None]
    if not odd or count + len(odd) < len(mapped) or count < 2 * len(odd):
        return stories
    return {**stories, **{pairing: with_flip(stories[pairing], axis) for pairing in odd}}


def _without_mirrored_winding(stories: dict[Pairing, PartStory]) -> dict[Pairing, PartStory]:
    """Some exports turn the faces over when they mirror, some do not: either is the mirroring.

    What is left is what differs from most faces.
    """
    turned = sum(int((story.flipped & _known_faces(story)).sum()) for story in stories.values())
    known = sum(int(_known_faces(story).sum()) for story in stories.values())
    if 2 * turned <= known:
        return stories
    return {
        pairing: replace(story, flipped=~story.flipped & _known_faces(story))
        for pairing, story in stories.items()
    }


def _known_faces(story: PartStory) -> BoolArray:
    """(Fa,) faces that were there before and of which one knows how they are wound."""
    return story.faces.solid & story.match.distinct


def _matches(
    pairing: Pairing, stories: dict[Pairing, PartStory], new: Sequence[Body], ruler: Ruler
) -> list[PartMatch]:
    """One entry a part: each joined part points to the whole, each piece to what it came from."""
    story = stories.get(pairing)
    if story is None:
        form = "added" if pairing.after else "removed"
        row = (*pairing.before, *pairing.after)[0]
        return [
            PartMatch(
                before=row if form == "removed" else None,
                after=row if form == "added" else None,
                form=form,
                unwrap="none",
            )
        ]
    form, unwrap = form_word(story), unwrap_word(story)
    if len(pairing.before) > 1 or len(pairing.after) > 1:
        return [
            PartMatch(before=i, after=j, form=pairing.how, unwrap=unwrap)
            for i in pairing.before
            for j in pairing.after
        ]
    body = new[pairing.after[0]]
    return [
        PartMatch(
            before=pairing.before[0],
            after=pairing.after[0],
            form=form,
            unwrap=unwrap,
            uvs_fit=None if story.uvs_fit is None else story.uvs_fit.fits,
            displacement=_displacement(story, body, ruler),
            cut=_segments(body, story.seams.cut),
            sewn=_segments(body, story.seams.sewn),
            kept=_segments(body, story.seams.kept),
            shells_moved=_shells_moved(story),
        )
    ]


def _shells_moved(story: PartStory) -> FloatArray:
    rows = [_no_moves()]
    for move in (story.unwrap.moved, story.unwrap.tiled):
        if move is not None:
            old, new = move.middles.T
            rows.append(np.stack([old.real, old.imag, new.real, new.imag, move.reach], axis=1))
    # One that went to another tile may be told as moved, too.
    return np.unique(np.concatenate(rows), axis=0)


def _segments(body: Body, rows: IndexArray) -> FloatArray:
    return np.asarray(body.spots[body.shells.edges.ends[rows]])


def _displacement(story: PartStory, body: Body, ruler: Ruler) -> FloatArray:
    """Per point, the part's own move included; empty where nothing moved."""
    still = np.array_equal(story.pose, np.eye(4))
    if still and not len(story.reshape.places):
        return _no_values()
    laid = carried(story.after, inverse(story.pose))
    distance = place_distances(story.base, laid, story.match)
    place = point_places(body)
    return np.where(place >= 0, ruler.length(1.0) * distance[place], np.nan)


def form_word(story: PartStory) -> str:
    """What became of the form, in one word."""
    codes = [edit.code for edit in story.faces.edits]
    for code in ("retopologised", "triangulated", "subdivided"):
        if code in codes:
            return code
    if codes:
        return "edited"
    if story.reshape.happened:
        return "reshaped"
    return "same" if np.array_equal(story.pose, np.eye(4)) else "moved"


def unwrap_word(story: PartStory) -> str:
    """What became of the UVs, in one word."""
    unwrap = story.unwrap
    if not story.before.mapped.any() and not story.after.mapped.any():
        return "none"
    if unwrap.all_lost or len(unwrap.lost):
        return "lost"
    if unwrap.all_added or len(unwrap.added):
        return "added"
    if len(story.seams.cut) or len(story.seams.sewn):
        return "recut"
    if len(unwrap.reshaped):
        return "reshaped"
    moves = (unwrap.moved, unwrap.tiled, unwrap.mirrored)
    return "moved" if unwrap.flipped or any(moves) else "same"
