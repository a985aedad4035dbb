"""Say once what happened to every part alike, and what happened to the list of parts."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from reviewbot.compare.attributes import has_split_places
from reviewbot.compare.body import Body
from reviewbot.compare.change import Change
from reviewbot.compare.pairing import Pairing
from reviewbot.compare.part_story import PartStory
from reviewbot.compare.wording import counted, listed, turned_over

# The gravest first: what is gone, then what is another form, then what was laid out anew.
GRAVITY = (
    "scale", "axes", "mirror", "offset",
    "part-removed", "uv-lost", "faces-removed", "retopologised", "winding-flipped", "reshaped",
    "part-moved", "unwelded", "triangulated", "subdivided", "faces-merged", "faces-added",
    "uv-flipped", "uv-mirrored", "seams-cut", "seams-sewn", "uv-reshaped", "uv-tile-moved",
    "uv-moved", "material-changed", "normals-changed", "smoothing-changed", "welded",
    "parts-joined", "part-split", "part-added", "uv-added", "part-renamed",
)  # fmt: skip


MANY = 4  # parts: of fewer, each is told what was edited on it


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shared:
    """A thing that can happen to all parts alike.

    able     whether it could have happened to a part at all
    kind     parts of which this is equal had the same happen to them
    message  of the whole asset, given a part and how many parts
    least    so many parts at the least: of two that were edited, each is told
    total    of the figures of all parts
    """

    able: Callable[[PartStory], bool]
    kind: Callable[[PartStory], object]
    message: Callable[[PartStory, int], str]
    least: int = 2
    total: Callable[[Sequence[float]], float] = sum


def _had_uvs(story: PartStory) -> bool:
    return bool(story.before.mapped.any())


def _corners(body: Body) -> int:
    return int(np.diff(body.part.face_start).max(initial=0))


def _lost_whole(story: PartStory) -> object:
    return story.unwrap.all_lost


def _shared_map(story: PartStory) -> object:
    """The one map of all shells, coarsely, or something no other part has."""
    move = story.unwrap.moved or story.unwrap.tiled
    if move is None or move.shared is None or move.shells < move.total:
        return id(story)
    turn, shift = move.shared
    return (round(turn.real, 3), round(turn.imag, 3), round(shift.real, 3), round(shift.imag, 3))


def _moves_somehow(story: PartStory) -> object:
    """True where all shells of a part that moved at all moved, or most did."""
    move = story.unwrap.moved
    return (move is not None and 2 * move.shells >= move.total) or id(story)


def _all_flipped(story: PartStory) -> object:
    return bool(story.flipped.all()) or id(story)


def _all_faces(code: str) -> Callable[[PartStory], object]:
    """True where a face edit took all faces it could take."""

    def kind(story: PartStory) -> object:
        sizes = np.diff(story.before.part.face_start)
        wanted = int((sizes > 3).sum()) if code == "triangulated" else story.before.faces
        done = sum(len(e.faces_before) for e in story.faces.edits if e.code == code)
        return done >= wanted or id(story)

    return kind


def _any_part(_: PartStory) -> bool:
    return True


def _edited(
    code: str,
    words: str,
    *,
    able: Callable[[PartStory], bool] = _had_uvs,
    total: Callable[[Sequence[float]], float] = sum,
) -> tuple[str, _Shared]:
    """An edit of its own on each of many parts."""
    return code, _Shared(
        able=able,
        kind=lambda _: True,
        message=lambda _, count: words.format(count=count),
        least=MANY,
        total=total,
    )


# In this order: a rule that says more comes before one that says less of the same code.
SHARED: Sequence[tuple[str, _Shared]] = (
    (
        "uv-lost",
        _Shared(
            able=_had_uvs,
            kind=_lost_whole,
            message=lambda _, n: f"The UVs of all {n} parts are gone.",
        ),
    ),
    (
        "uv-added",
        _Shared(
            able=lambda s: not _had_uvs(s),
            kind=lambda s: s.unwrap.all_added or id(s),
            message=lambda _, n: f"All {n} parts without UVs have UVs now.",
        ),
    ),
    (
        "uv-flipped",
        _Shared(
            able=_had_uvs,
            kind=lambda s: s.unwrap.flipped,
            message=lambda s, n: f"The UVs of all {n} parts {turned_over(s.unwrap.flipped)}",
        ),
    ),
    (
        "uv-moved",
        _Shared(
            able=_had_uvs,
            kind=_shared_map,
            message=lambda _, n: f"The UVs of all {n} parts were moved together, as one.",
        ),
    ),
    (
        "uv-tile-moved",
        _Shared(
            able=_had_uvs,
            kind=_shared_map,
            message=lambda _, n: f"The UVs of all {n} parts moved to another tile, as one.",
        ),
    ),
    (
        "triangulated",
        _Shared(
            able=lambda s: _corners(s.before) > 3,
            kind=_all_faces("triangulated"),
            message=lambda _, n: f"All {n} parts with larger faces were cut into triangles.",
        ),
    ),
    (
        "subdivided",
        _Shared(
            able=lambda _: True,
            kind=_all_faces("subdivided"),
            message=lambda _, n: f"All {n} parts were subdivided.",
        ),
    ),
    (
        "winding-flipped",
        _Shared(
            able=lambda _: True,
            kind=_all_flipped,
            message=lambda _, n: (
                f"All faces of all {n} parts were turned over: what was outside is inside now."
            ),
        ),
    ),
    (
        "unwelded",
        _Shared(
            able=lambda s: len(s.welding.unwelded) > 0 or _holds_together(s.before),
            kind=lambda _: True,
            message=lambda _, n: f"Points that held faces together were split in all {n} parts.",
        ),
    ),
    (
        "welded",
        _Shared(
            able=lambda s: len(s.welding.welded) > 0 or has_split_places(s.before),
            kind=lambda _: True,
            message=lambda _, n: f"Split points were welded in all {n} parts that had some.",
        ),
    ),
    (
        "normals-changed",
        _Shared(
            able=lambda s: bool(len(s.before.part.normals) or len(s.after.part.normals)),
            kind=lambda s: (s.normals.lost, s.normals.added),
            message=lambda s, n: (
                f"The normals of all {n} parts are gone."
                if s.normals.lost
                else f"All {n} parts carry normals now."
                if s.normals.added
                else f"The normals of all {n} parts changed, while their form did not."
            ),
        ),
    ),
    (
        "smoothing-changed",
        _Shared(
            able=lambda s: _is_smoothed(s.before) or _is_smoothed(s.after),
            kind=lambda s: _is_smoothed(s.after),
            message=lambda s, n: (
                f"The smoothing of all {n} parts "
                f"{'changed' if _is_smoothed(s.after) else 'was switched off'}."
            ),
        ),
    ),
    (
        "uv-moved",
        _Shared(
            able=_had_uvs,
            kind=_moves_somehow,
            message=lambda _, n: (
                f"The UVs of all {n} parts were packed anew: moved, turned or sized, "
                "not all in one way."
            ),
            least=MANY,
        ),
    ),
    _edited("seams-cut", "Seams were cut on all {count} parts with UVs."),
    _edited("seams-sewn", "Seams were sewn together on all {count} parts with UVs."),
    _edited("uv-reshaped", "The UVs of all {count} parts took another form."),
    _edited("uv-mirrored", "UV shells were mirrored on all {count} parts with UVs."),
    _edited("reshaped", "Points of all {count} parts were moved.", able=_any_part, total=max),
    _edited(
        "retopologised",
        "The polygons of all {count} parts were laid anew.",
        able=_any_part,
        total=max,
    ),
)


def _holds_together(body: Body) -> bool:
    """Whether some point carries more than one face."""
    return bool(np.bincount(body.part.corner_point).max(initial=0) > 1)


def _is_smoothed(body: Body) -> bool:
    groups = body.part.face_smoothing
    return groups is not None and bool(groups.any())


def gathered(
    pairings: Sequence[Pairing],
    before: Sequence[Body],
    after: Sequence[Body],
    stories: Mapping[Pairing, PartStory],
    told: Mapping[Pairing, tuple[Change, ...]],
) -> tuple[Change, ...]:
    """All changes of the parts: those of all parts alike first, then part by part.

    A change that every part shows, which can show it, is one change of the whole asset.
    """
    listing = list(_list_changes(pairings, before, after))
    left = {pairing: list(changes) for pairing, changes in told.items()}
    shared = [*_renames_alike(listing), *_materials_alike(stories, left)]
    for code, rule in SHARED:
        shared += _fold(code, rule, stories, left)
    own = [change for pairing in pairings for change in left.get(pairing, ())]
    rank = {name: row for row, name in enumerate(_names_in_order(pairings, before, after))}
    own += listing
    own.sort(key=lambda change: (rank.get(change.part, -1), GRAVITY.index(change.code)))
    shared.sort(key=lambda change: GRAVITY.index(change.code))
    return (*shared, *own)


def _names_in_order(
    pairings: Sequence[Pairing], before: Sequence[Body], after: Sequence[Body]
) -> list[str]:
    names = [after[row].name for pairing in pairings for row in pairing.after]
    names += [
        before[row].name for pairing in pairings if not pairing.after for row in pairing.before
    ]
    return list(dict.fromkeys(names))[::1]


def _fold(
    code: str,
    rule: _Shared,
    stories: Mapping[Pairing, PartStory],
    left: dict[Pairing, list[Change]],
) -> Iterator[Change]:
    """The one change for all parts, taken out of `left`; nothing where they differ."""
    if not any(change.code == code for changes in left.values() for change in changes):
        return
    able = [
        pairing for pairing, story in stories.items() if story.before.faces and rule.able(story)
    ]
    found = {p: [c for c in left[p] if c.code == code] for p in able}
    alike = {rule.kind(stories[p]) for p in able}
    if len(able) < rule.least or not all(found.values()) or len(alike) != 1:
        return
    first = stories[able[0]]
    values = [changes[0].value for changes in found.values()]
    for pairing in able:
        left[pairing] = [change for change in left[pairing] if change.code != code]
    yield replace(
        found[able[0]][0],
        part="",
        message=rule.message(first, len(able)),
        value=None if None in values else rule.total([v for v in values if v is not None]),
        at=None,
    )


def _materials_alike(
    stories: Mapping[Pairing, PartStory], left: dict[Pairing, list[Change]]
) -> Iterator[Change]:
    """A material that was renamed, dropped or swapped on several parts at once is one change."""
    users: dict[tuple[str, str], list[Pairing]] = {}
    for pairing, story in stories.items():
        for change in story.materials:
            if change.whole:
                users.setdefault((change.before, change.after), []).append(pairing)
    for (old, new), pairings in users.items():
        if len(pairings) < 2:
            continue
        names = [stories[pairing].after.name for pairing in pairings]
        what = f"became '{new}'" if new else "is gone"
        subject = f"Material '{old}' {what}" if old else f"Material '{new}' was given"
        faces = 0
        for pairing in pairings:
            taken = [
                row
                for row, change in enumerate(stories[pairing].materials)
                if (change.before, change.after) == (old, new)
            ]
            own = [c for c in left[pairing] if c.code == "material-changed"]
            faces += sum(int(own[row].value or 0) for row in taken)
            gone = [own[row] for row in taken]
            left[pairing] = [c for c in left[pairing] if not any(c is g for g in gone)]
        yield Change(
            code="material-changed",
            part="",
            message=f"{subject} on {counted(len(names), 'part')} ({listed(names)}).",
            value=float(faces),
            unit="faces",
        )


def _list_changes(
    pairings: Sequence[Pairing], before: Sequence[Body], after: Sequence[Body]
) -> Iterator[Change]:
    for pairing in pairings:
        old = [before[row] for row in pairing.before]
        new = [after[row] for row in pairing.after]
        match pairing.how:
            case "added":
                yield _alone("part-added", new[0], "is new")
            case "removed":
                yield _alone("part-removed", old[0], "is gone")
            case "renamed":
                yield Change(
                    code="part-renamed",
                    part=new[0].name,
                    message=f"'{old[0].name}' is called '{new[0].name}' now.",
                )
            case "joined":
                into = f"joined into '{new[0].name}'"
                yield _in_parts("parts-joined", new[0], old, f"{_listed(old)} were {into}.")
                if len(new) > 1:
                    off = f"Of what was {into}, {_listed(new[1:])} was split off again."
                    yield _in_parts("part-split", new[0], new, off)
            case "split":
                heirs = [body for body in new if body.name == old[0].name]
                into = f"'{old[0].name}' was split into {_listed(new)}."
                yield _in_parts("part-split", [*heirs, *new][0], new, into)
            case "kept":
                pass


def _listed(bodies: Sequence[Body]) -> str:
    return listed([body.name for body in bodies])


def _alone(code: str, body: Body, state: str) -> Change:
    return Change(
        code=code,
        part=body.name,
        message=f"The part '{body.name}' {state} ({counted(body.faces, 'face')}).",
        value=float(body.faces),
        unit="faces",
    )


def _in_parts(code: str, told_of: Body, parts: Sequence[Body], message: str) -> Change:
    return Change(
        code=code, part=told_of.name, message=message, value=float(len(parts)), unit="parts"
    )


def _renames_alike(listing: list[Change]) -> Iterator[Change]:
    """All names that changed in one manner are one change, taken out of the list."""
    renames = [change for change in listing if change.code == "part-renamed"]
    if len(renames) < 3:
        return
    manners = {_manner(*_names_of(change)) for change in renames}
    if len(manners) == 1 and None not in manners:
        for change in renames:
            listing.remove(change)
        yield Change(
            code="part-renamed",
            part="",
            message=f"{counted(len(renames), 'part')} were renamed alike: {manners.pop()}.",
            value=float(len(renames)),
            unit="parts",
        )


def _names_of(change: Change) -> tuple[str, str]:
    old, new = change.message.split("' is called '")
    return old[1:], new[: -len("' now.")]


def _manner(old: str, new: str) -> str | None:
    """How a name changed, in words that fit other names too; None for any other way."""
    if new.endswith(old):
        return f"'{new[: len(new) - len(old)]}' was put before"
    if new.startswith(old):
        return f"'{new[len(old) :]}' was put behind"
    if old.endswith(new):
        return f"'{old[: len(old) - len(new)]}' was taken off the front"
    if old.startswith(new):
        return f"'{old[len(new) :]}' was taken off the end"
    return "upper and lower case" if old.lower() == new.lower() else None
