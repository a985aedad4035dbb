"""What happened to the UVs of one part, by value, on faces that are there in both versions."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.faces import FaceStory
from reviewbot.compare.match import Match
from reviewbot.compare.seams import SeamStory
from reviewbot.compare.uv_faces import Mapping
from reviewbot.compare.uv_fit import ComplexArray, UvMaps, fit_uv_maps
from reviewbot.compare.uv_places import UV_SAME, corner_uvs
from reviewbot.geometry.groups import joined_labels, renumbered
from reviewbot.geometry.rows import rows_where
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

SIMILAR = 0.6  # of a shell's corners must follow one map for it to have moved as a whole
ABOUT = 0.1  # of a tile
IN_PLACE = 0.04  # of a tile: a shell mirrored in its place hardly leaves it
EXACT = 4e-6  # of a tile: rounding to a millionth, over two versions
CLEAR = 0.3  # of the corners: enough to do without those that are not clear
POINT = 1e-3  # of a tile: a shell smaller than this has no form to speak of
SMALL = 8  # corners
ASIDE = 0.25  # of a tile: what a shell was moved by beside whole tiles
CLEARLY = 3.0  # times as far as the bend that is left
ALL = 0.95  # of a part's corners lie in shells that were turned over: the part was
WHOLE = 0.5  # of a part's corners must be flipped alike
NUDGE_SHIFT = 0.25  # of a shell's own size: what a cut alone moves a piece by
NUDGE_TURN = 5.0  # degrees
NUDGE_SIZE = 1.1
RESHAPED_BESIDE_SEAMS = 0.3  # of the area of shells that were cut or sewn


@dataclass(frozen=True, slots=True, kw_only=True)
class UvMove:
    """Shells that moved as they are.

    shells   how many; total: how many the part has after
    shared   the one map (turn a, shift b) of them all, None where each has its own
    at_face  row of a face after where to look
    middles  (K, 2) complex128 where each lay and lies, the mean of its corners' UVs
    reach    (K,) float64 of each, the mean distance of its corners from its middle after
    """

    shells: int
    total: int
    shared: tuple[complex, complex] | None
    at_face: int
    middles: ComplexArray
    reach: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class UnwrapStory:
    """All that happened to the UVs of one part; faces are rows of the version after.

    lost, added   faces that had UVs before and have none now, or the other way round; a face
                  whose UVs all fell onto one point has lost them
    all_lost, all_added   the part as a whole
    flipped       "U" or "V" where the whole axis was turned over, else ""
    mirrored, moved, tiled   shells turned over, moved, and moved by whole tiles
    reshaped      faces whose UVs took another form
    compared      corners whose UV is known in both versions
    reshaped_by   the largest distance a UV went beyond its shell's move, in tiles
    """

    lost: IndexArray
    added: IndexArray
    all_lost: bool
    all_added: bool
    flipped: str
    mirrored: UvMove | None
    moved: UvMove | None
    tiled: UvMove | None
    reshaped: IndexArray
    reshaped_by: float
    compared: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Corners:
    """Corners whose UV is known in both versions.

    before, after  (N,) complex128; after with a flip of the whole axis undone
    drawn          (N,) complex128 after as the file has it
    face           (N,) int32 face after
    group          (N,) int32 pair of shells, before and after
    shells         (G, 2) int32 shell before and after of each group
    """

    before: ComplexArray
    after: ComplexArray
    drawn: ComplexArray
    face: IndexArray
    group: IndexArray
    shells: IndexArray


def tell_unwrap(
    before: Body,
    after: Body,
    match: Match,
    faces: FaceStory,
    seams: SeamStory,
    *,
    mapping: Mapping,
    axis: str = "",
) -> UnwrapStory:
    """What happened to the UVs, given what happened to the polygons and seams.

    mapping  of faces that are there in both versions
    axis     "U" or "V" along which the rest of the asset's UVs were flipped
    """
    story = UnwrapStory(
        lost=rows_where(mapping.lost),
        added=rows_where(mapping.added),
        all_lost=mapping.all_lost,
        all_added=bool(after.mapped.any() and not before.mapped.any()),
        flipped="",
        mirrored=None,
        moved=None,
        tiled=None,
        reshaped=np.empty(0, dtype=np.int32),
        reshaped_by=0.0,
        compared=0,
    )
    corners = _known_corners(before, after, faces, mapping.both)
    clear = match.distinct[corners.face]
    if clear.sum() >= CLEAR * len(clear) > 0:
        corners = _some(corners, clear)  # faces back to back may have changed places
    story = replace(story, compared=len(corners.face))
    if not len(corners.face) or _is_same(corners.before, corners.after).all():
        return story
    flipped, corners, maps = _unflipped_pieces(corners, after.piece[corners.face], axis)
    seams_known = bool(faces.solid[corners.face].all())
    story = replace(story, flipped=flipped)
    return _with_moves(story, after, corners, maps, seams, seams_known=seams_known)


def _known_corners(before: Body, after: Body, faces: FaceStory, both: BoolArray) -> _Corners:
    rows = rows_where((faces.corner >= 0) & both[after.corner_face])
    old_uv = corner_uvs(before, faces.corner[rows])
    new_uv = corner_uvs(after, rows)
    face = after.corner_face[rows]
    old_face = before.corner_face[faces.corner[rows]]
    # A shell that a split leaves in two parts is two shells from then on, neither of them cut.
    pieces = int(after.piece.max(initial=0)) + 1
    old_shell = before.shells.face_shell[old_face] * pieces + after.piece[face]
    new_shell = after.shells.face_shell[face] * pieces + after.piece[face]
    key = old_shell.astype(np.int64) * (pieces * (after.shells.count + 1)) + new_shell
    _, first, group = np.unique(key, return_index=True, return_inverse=True)
    return _Corners(
        before=_complex(old_uv),
        after=_complex(new_uv),
        drawn=_complex(new_uv),
        face=face,
        group=group.astype(np.int32),
        shells=np.stack([old_shell[first], new_shell[first]], axis=1),
    )


def _some(corners: _Corners, keep: BoolArray) -> _Corners:
    if keep.all():
        return corners
    used, group = np.unique(corners.group[keep], return_inverse=True)
    return _Corners(
        before=corners.before[keep],
        after=corners.after[keep],
        drawn=corners.drawn[keep],
        face=corners.face[keep],
        group=group.astype(np.int32),
        shells=corners.shells[used],
    )


def _complex(uv: FloatArray) -> ComplexArray:
    return np.asarray(uv[:, 0] + 1j * uv[:, 1])


def _is_same(one: ComplexArray, other: ComplexArray) -> BoolArray:
    off = one - other
    return np.asarray(np.maximum(np.abs(off.real), np.abs(off.imag)) <= UV_SAME)


def _unflipped_pieces(
    corners: _Corners, piece: IndexArray, axis: str
) -> tuple[str, _Corners, UvMaps | None]:
    """Which whole axis was turned over, the corners with that undone, and, where they are known
    by then, how the groups of these moved.

    Each part that came of a split is looked at by itself; the axis is one that any was flipped
    along. `axis` is one that the rest of the asset was flipped along: it is undone unseen.
    """
    if axis:
        return axis, replace(corners, after=_turned_over(corners.after, axis, 1.0)), None
    flipped, unflipped, maps = "", corners.after.copy(), None
    for number in np.unique(piece).tolist():
        own = piece == number
        some = _some(corners, own)
        if _is_same(some.before, some.after).mean() >= WHOLE:
            continue
        maps = fit_uv_maps(some.before, some.after, some.group, len(some.shells))
        flip = _flip_of(some, maps)
        if flip is not None:
            flipped, unflipped[own] = flip[0], _turned_over(some.after, *flip)
    is_of_all = not flipped and (piece == piece[0]).all()
    return flipped, replace(corners, after=unflipped), maps if is_of_all else None


def _turned_over(uv: ComplexArray, axis: str, middle: float) -> ComplexArray:
    """UVs mirrored along U or V; `middle` is twice where the mirror stands."""
    return np.asarray(uv.conj() + 1j * middle if axis == "V" else middle - uv.conj())


def _flip_of(corners: _Corners, maps: UvMaps) -> tuple[str, float] | None:
    """The axis that most of a part was turned over along, and twice where the mirror stood.

    One mirroring along U or V has to hold for most of the part, whatever else was done to it. A
    single shell turned over in its place is a mirrored shell, not a flipped axis.
    """
    before, after = corners.before, corners.after
    along = maps.mirrored & (np.abs(maps.turn.imag) <= 1e-4 * np.abs(maps.turn))
    size = np.bincount(corners.group, minlength=len(along)) * along
    largest = int(np.argmax(size))
    turn, shift = complex(maps.turn[largest]), complex(maps.shift[largest])
    axis = "V" if turn.real > 0 else "U"
    middle = shift.imag if axis == "V" else shift.real
    own = maps.shift.imag if axis == "V" else maps.shift.real
    alike = (np.abs(maps.turn - turn) <= 1e-3) & (np.abs(own - middle) <= 1e-3)
    if size[alike].sum() < WHOLE * len(before):
        if maps.mirrored[corners.group].mean() >= ALL:
            return axis, 1.0  # and each shell was turned or sized besides
        return _rough_flip(before, after)
    bend = np.median(np.abs(maps.carried(before, corners.group) - after))
    noise = UV_SAME if bend <= 2 * UV_SAME else IN_PLACE  # where it is told from a bent mirror
    if abs(middle - round(middle)) <= noise and abs(abs(turn) - 1) <= max(1e-4, noise):
        # About the middle of its tile, or, as some exports do, about the axis; beyond that the
        # part went to another tile as well.
        tile = _tile_of(before) or 0j
        own_tile = 2 * (tile.imag if axis == "V" else tile.real) + 1
        return axis, 0.0 if round(middle) == 0 else own_tile
    in_place = abs(_middle(after) - _middle(before)) <= IN_PLACE
    return None if len(corners.shells) == 1 and in_place else (axis, 1.0)


def _middle(uv: ComplexArray) -> complex:
    """Of the box round all."""
    return complex(uv.real.max() + uv.real.min(), uv.imag.max() + uv.imag.min()) / 2


def _rough_flip(before: ComplexArray, after: ComplexArray) -> tuple[str, float] | None:
    """A flip of UVs that took another form as well: mirrored about the tile's middle they come
    much nearer to where they were."""
    still = np.abs(after - before).mean()
    for axis in ("U", "V"):
        left = np.abs(_turned_over(after, axis, 1.0) - before).mean()
        reach = np.abs(before - before.mean()).mean()
        if left <= min(0.3 * still, 0.2 * reach):
            return axis, 1.0
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fits:
    """How each group of corners moved.

    maps     the map that most of a group follows; standing still where most of it does
    left     (N,) how far each corner's UV lies from where the map carries it
    follows  (N,) bool: within rounding
    similar  (G,) bool: the group follows one map
    still    (G,) bool: and that map moves nothing
    """

    maps: UvMaps
    left: FloatArray
    follows: BoolArray
    similar: BoolArray
    still: BoolArray


def _fits_of(corners: _Corners, known: UvMaps | None = None) -> _Fits:
    """`known` maps of all groups save fitting them."""
    count = len(corners.shells)
    size = np.maximum(np.bincount(corners.group, minlength=count), 1)
    same = _is_same(corners.before, corners.after)
    still = np.bincount(corners.group, weights=same, minlength=count) / size >= SIMILAR
    maps = UvMaps(
        turn=np.ones(count, dtype=complex),
        shift=np.zeros(count, dtype=complex),
        mirrored=np.zeros(count, dtype=bool),
    )
    if not still.all():
        rows = rows_where(~still[corners.group])
        fitted = known or fit_uv_maps(
            corners.before[rows], corners.after[rows], corners.group[rows], count
        )
        maps = UvMaps(
            turn=np.where(still, maps.turn, fitted.turn),
            shift=np.where(still, maps.shift, fitted.shift),
            mirrored=fitted.mirrored & ~still,
        )
    left = np.abs(maps.carried(corners.before, corners.group) - corners.after)
    follows = left <= 2 * UV_SAME * np.maximum(1.0, np.abs(maps.turn))[corners.group]
    share = np.bincount(corners.group, weights=follows, minlength=count) / size
    share[(size <= SMALL) & (share < 1)] = 0.0  # most of a few corners follow some map by chance
    return _Fits(
        maps=maps, left=left, follows=follows, similar=(share >= SIMILAR) | still, still=still
    )


def _with_moves(
    story: UnwrapStory,
    after: Body,
    corners: _Corners,
    maps: UvMaps | None,
    seams: SeamStory,
    *,
    seams_known: bool,
) -> UnwrapStory:
    """The story with what became of each shell.

    maps         of all groups, where they are known already
    seams_known  all seams were compared: where none was cut or sewn, shells that fell apart did so
                 because faces between them are gone
    """
    fits, tile_shift = _fits_of(corners, maps), _about_tiles(corners)
    if tile_shift and not fits.similar.any():
        corners = replace(corners, after=corners.after - tile_shift)
        fits = _fits_of(corners)
    else:
        tile_shift = 0j
    patch = _tied_shells(corners.shells)
    patch_size = np.bincount(patch)
    recut = len(seams.cut) > 0 or len(seams.sewn) > 0
    alone = (patch_size[patch] == 1) | (seams_known and not recut)
    turned = np.abs(fits.maps.turn.imag) > 1e-3 * np.abs(fits.maps.turn)
    sized = np.abs(np.abs(fits.maps.turn) - 1) > 1e-3
    moved = fits.similar & ~fits.still & (~fits.maps.mirrored | turned | sized)
    tiled = moved & _by_whole_tiles(fits.maps)
    tiled_besides = moved & ~turned & ~sized & _about_whole_tiles(fits.maps)
    moved |= _bent_and_moved(fits, corners) & alone
    moved &= ~tiled & (alone | _moved_beyond_cuts(fits, corners, patch))
    tiled |= (_into_other_tile(fits, corners) | tiled_besides) & moved
    rows = _reshaped_rows(fits, corners, alone, after, seams)
    moved &= ~_only_turned_by_bending(moved, fits, corners, rows)
    tiled_move = _move_of(tiled | (tile_shift != 0), fits.maps, corners, after)
    if tile_shift and tiled_move is not None:
        tiled_move = replace(tiled_move, shared=(1 + 0j, tile_shift))
    return replace(
        story,
        mirrored=_move_of(fits.similar & fits.maps.mirrored, fits.maps, corners, after),
        moved=_move_of(moved, fits.maps, corners, after),
        tiled=tiled_move,
        reshaped=np.unique(corners.face[rows]).astype(np.int32),
        reshaped_by=float(fits.left[rows].max(initial=0.0)),
    )


def _into_other_tile(fits: _Fits, corners: _Corners) -> BoolArray:
    """(G,) bool: all of the part lay within one tile and lies within another one now."""
    return np.full(len(fits.still), _tile_shift(corners) != 0)


def _tile_shift(corners: _Corners) -> complex:
    """From the tile that held all of the part to the one that holds all of it now, else 0."""
    old, new = _tile_of(corners.before), _tile_of(corners.after)
    return 0j if old is None or new is None else new - old


def _about_tiles(corners: _Corners) -> complex:
    """Whole tiles that the middle of the UVs went, give or take a bend; else 0."""
    step = _middle(corners.after) - _middle(corners.before)
    whole = complex(round(step.real), round(step.imag))
    return whole if abs(step - whole) <= ABOUT else 0j


def _tile_of(uv: ComplexArray) -> complex | None:
    """The tile that holds all UVs, None where they lie on several."""
    low = complex(np.floor(uv.real.min() + UV_SAME), np.floor(uv.imag.min() + UV_SAME))
    high = complex(np.ceil(uv.real.max() - UV_SAME), np.ceil(uv.imag.max() - UV_SAME))
    return low if high - low == 1 + 1j else None


def _tied_shells(shells: IndexArray) -> IndexArray:
    """(G,) pairs of shells that share a shell, before or after, were cut or sewn together."""
    offset = int(shells[:, 0].max()) + 1
    total = offset + int(shells[:, 1].max()) + 1
    label = joined_labels(total, shells[:, 0], shells[:, 1] + offset)
    return renumbered(label[shells[:, 0]])


def _by_whole_tiles(maps: UvMaps) -> BoolArray:
    """(G,) bool: neither turned nor sized, shifted by whole tiles."""
    off = np.maximum(
        np.abs(maps.shift.real - np.rint(maps.shift.real)),
        np.abs(maps.shift.imag - np.rint(maps.shift.imag)),
    )
    whole = np.abs(np.rint(maps.shift.real)) + np.abs(np.rint(maps.shift.imag)) > 0
    return (np.abs(maps.turn - 1) <= 1e-4) & (off <= 10 * UV_SAME) & whole & ~maps.mirrored


def _about_whole_tiles(maps: UvMaps) -> BoolArray:
    """(G,) bool: shifted by whole tiles and, beside that, by much less than a tile."""
    whole = np.rint(maps.shift.real) + 1j * np.rint(maps.shift.imag)
    rest = maps.shift - whole
    aside = np.maximum(np.abs(rest.real), np.abs(rest.imag))
    return np.asarray((whole != 0) & (aside <= ASIDE) & ~maps.mirrored)


def _bent_and_moved(fits: _Fits, corners: _Corners) -> BoolArray:
    """(G,) bool: the shell took another form, and went much farther than any bend explains: what
    bends large shells carries small ones along."""
    size = np.bincount(corners.group, minlength=len(fits.still))
    bent = ~fits.similar & ~fits.maps.mirrored & (size > SMALL)
    bend = fits.left[~fits.similar[corners.group]].max(initial=0.0)
    return np.asarray(bent & (_went(fits, corners) > CLEARLY * bend))


def _went(fits: _Fits, corners: _Corners) -> FloatArray:
    """(G,) how far each group's corners went, root mean square, as its map carries them."""
    count = len(fits.still)
    size = np.maximum(np.bincount(corners.group, minlength=count), 1)
    step = np.abs(fits.maps.carried(corners.before, corners.group) - corners.before)
    return np.asarray(np.sqrt(np.bincount(corners.group, weights=step**2, minlength=count) / size))


def _moved_beyond_cuts(fits: _Fits, corners: _Corners, patch: IndexArray) -> BoolArray:
    """(G,) bool: of shells that were cut or sewn, the largest piece, where none of the pieces
    stayed and it went farther than a cut asks for."""
    size = np.bincount(corners.group, minlength=len(patch)).astype(float)
    stays = np.bincount(patch, weights=fits.still) > 0
    largest = np.zeros(int(patch.max()) + 1)
    np.maximum.at(largest, patch, size)
    middle = _group_means(corners.before, corners.group, size)
    goal = _group_means(corners.after, corners.group, size)
    spread = np.sqrt(
        np.bincount(
            corners.group,
            weights=np.abs(corners.before - middle[corners.group]) ** 2,
            minlength=len(patch),
        )
        / np.maximum(size, 1)
    )
    turn = fits.maps.turn
    factor = np.maximum(np.abs(turn), 1 / np.maximum(np.abs(turn), 1e-12))
    far = (
        (np.abs(goal - middle) > NUDGE_SHIFT * spread)
        | (np.abs(np.degrees(np.angle(turn))) > NUDGE_TURN)
        | (factor > NUDGE_SIZE)
    )
    return np.asarray(far & ~stays[patch] & (size == largest[patch]))


def _only_turned_by_bending(
    moved: BoolArray, fits: _Fits, corners: _Corners, reshaped: IndexArray
) -> BoolArray:
    """(G,) of the shells that moved, those that follow their map less well than rounding allows,
    have no size, or went no farther than others were bent, where more of the part was reshaped:
    what bends a large shell hardly bends a small one."""
    if int(moved[corners.group].sum()) >= len(reshaped):
        return np.zeros_like(moved)
    worst = np.zeros(len(moved))
    np.maximum.at(worst, corners.group, fits.left)
    size = np.bincount(corners.group, minlength=len(moved)).astype(float)
    middle = _group_means(corners.before, corners.group, size)
    reach = np.zeros(len(moved))
    np.maximum.at(reach, corners.group, np.abs(corners.before - middle[corners.group]))
    inexact = worst > EXACT * np.maximum(1.0, np.abs(fits.maps.turn))
    carried_along = _went(fits, corners) <= fits.left[reshaped].max(initial=0.0)
    return np.asarray(moved & (inexact | (reach < POINT) | carried_along))


def _group_means(values: ComplexArray, group: IndexArray, size: FloatArray) -> ComplexArray:
    real = np.bincount(group, weights=values.real, minlength=len(size))
    imaginary = np.bincount(group, weights=values.imag, minlength=len(size))
    return np.asarray((real + 1j * imaginary) / np.maximum(size, 1))


def _move_of(groups: BoolArray, maps: UvMaps, corners: _Corners, after: Body) -> UvMove | None:
    chosen = rows_where(groups)
    if not len(chosen):
        return None
    turn, shift = maps.turn[chosen], maps.shift[chosen]
    alike = np.abs(turn - turn[0]).max() <= 1e-3 and np.abs(shift - shift[0]).max() <= 1e-3
    where = int(np.argmax(np.isin(corners.group, chosen)))
    size = np.bincount(corners.group, minlength=len(groups)).astype(float)
    middles = [_group_means(uv, corners.group, size) for uv in (corners.before, corners.drawn)]
    off = np.abs(corners.drawn - middles[1][corners.group])
    reach = np.bincount(corners.group, weights=off, minlength=len(groups)) / np.maximum(size, 1)
    return UvMove(
        shells=len(np.unique(corners.shells[chosen, 1])),
        total=after.shells.count,
        shared=(complex(turn[0]), complex(shift[0])) if alike else None,
        at_face=int(corners.face[where]),
        middles=np.stack(middles, axis=1)[chosen],
        reach=reach[chosen],
    )


def _reshaped_rows(
    fits: _Fits, corners: _Corners, alone: BoolArray, after: Body, seams: SeamStory
) -> IndexArray:
    """Rows of corners whose UV left its shell's form, those that seams explain left out.

    Where shells were cut or sewn, faces at the changed seams had to move; the rest counts only
    where it is a good part of those shells.
    """
    off = ~(fits.follows & fits.similar[corners.group])
    tied = ~alone[corners.group]
    beside = np.zeros(after.faces, dtype=bool)
    beside[_faces_at(after, seams)] = True
    free = off & tied & ~beside[corners.face]
    share = free.sum() / max(int(tied.sum()), 1)
    exact = (~off & tied).sum() >= SIMILAR * tied.sum()  # what is left was not laid out anew
    return rows_where((off & ~tied) | (free & (exact | (share > RESHAPED_BESIDE_SEAMS))))


def _faces_at(after: Body, seams: SeamStory) -> IndexArray:
    """Faces that touch an end of a seam that was cut or sewn."""
    ends = after.shells.edges.ends[np.concatenate([seams.cut, seams.sewn])]
    touched = np.zeros(len(after.spots), dtype=bool)
    touched[ends] = True
    return after.corner_face[touched[after.shells.corner_place]]
