"""What happened to one part, in plain words: one change a cause, the gravest first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from reviewbot.compare.change import Change
from reviewbot.compare.face_edits import FaceEdit
from reviewbot.compare.part_story import PartStory
from reviewbot.compare.unwrap import UvMove
from reviewbot.compare.wording import (
    counted,
    degrees,
    done_to,
    figure,
    of_all,
    percent,
    turned_over,
    units,
    was,
)
from reviewbot.geometry.polygons import face_centres
from reviewbot.geometry.rigid import inverse, is_reflected, moved, scale_of, turn_of
from reviewbot.geometry.rows import rows_finite
from reviewbot.mesh import FloatArray, IndexArray

SIZE_NOISE = 1e-4
TURN_NOISE = 0.02  # degrees


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """From the space of the comparison to the version after, for figures and places.

    forward  (4, 4) carries the version before onto the version after
    """

    forward: FloatArray

    def length(self, own: float) -> float:
        return own * scale_of(self.forward)

    def place(self, spot: FloatArray) -> tuple[float, float, float] | None:
        if not np.isfinite(spot).all():
            return None
        x, y, z = moved(spot[None], self.forward)[0].tolist()
        return x, y, z


def describe_part(story: PartStory, ruler: Ruler) -> tuple[Change, ...]:
    """The changes of one part, in the order of `change.ORDER`."""
    return tuple(
        change
        for tell in (
            _tell_form,
            _tell_faces,
            _tell_surface,
            _tell_uvs,
            _tell_seams,
            _tell_materials,
        )
        for change in tell(story, ruler)
    )


def _name(story: PartStory) -> str:
    return story.after.name


def _tell_form(story: PartStory, ruler: Ruler) -> Iterator[Change]:
    yield from _tell_pose(story, ruler)
    reshape = story.reshape
    if len(reshape.places):
        yield _reshaped(story, ruler)
    elif reshape.happened:
        largest = ruler.length(reshape.lost_by)
        yield Change(
            code="reshaped",
            part=_name(story),
            message=f"The points of {of_all(len(reshape.lost), story.after.faces, 'face')} were "
            f"moved; the surface lies up to {units(largest)} off"
            f"{_polygons_beside(story)}{_still_fits(story)}.",
            value=largest,
            unit="units",
            at=_face_place(story, reshape.lost, ruler),
        )


def _reshaped(story: PartStory, ruler: Ruler) -> Change:
    reshape = story.reshape
    worst = int(np.argmax(reshape.distance))
    largest = ruler.length(float(reshape.distance[worst]))
    mean = ruler.length(float(reshape.distance.mean()))
    return Change(
        code="reshaped",
        part=_name(story),
        message=f"{done_to(len(reshape.places), reshape.compared, 'point', 'moved')} by "
        f"{_up_to(len(reshape.places), largest, mean)}"
        f"{_polygons_beside(story)}{_still_fits(story)}.",
        value=largest,
        unit="units",
        at=ruler.place(story.after.spots[reshape.places[worst]]),
    )


def _polygons_beside(story: PartStory) -> str:
    return "" if story.faces.edits else "; the polygons are the same"


def _up_to(count: int, largest: float, mean: float) -> str:
    return units(largest) if count == 1 else f"up to {units(largest)} ({figure(mean)} on average)"


def _still_fits(story: PartStory) -> str:
    """What the change of form means for the UVs; "" for a part without."""
    fit = story.uvs_fit
    if fit is None:
        return ""
    if fit.bare:
        return f"; {counted(fit.bare, 'new face')} {'has' if fit.bare == 1 else 'have'} no UVs yet"
    if fit.fits:
        return "; the UVs still fit"
    return f"; the UVs must be redone, they stretch too far on {percent(fit.stretched)} of it now"


def _tell_pose(story: PartStory, ruler: Ruler) -> Iterator[Change]:
    """A part's own move; sized or mirrored it is a reshape, since its form is another one."""
    if not np.array_equal(story.pose, np.eye(4)):
        spots = story.after.used_spots
        yield told_move(_name(story), spots, inverse(story.pose), ruler)


def told_move(part: str, spots: FloatArray, done: FloatArray, ruler: Ruler) -> Change:
    """The change that a move of these spots of a part is told as."""
    middle = (spots.min(axis=0) + spots.max(axis=0)) / 2
    now = moved(middle[None], done)[0]
    distance = ruler.length(float(np.linalg.norm(now - middle)))
    angle, _ = turn_of(done)
    factor = scale_of(done)
    at = ruler.place(now)
    if abs(factor - 1) > SIZE_NOISE or is_reflected(done):
        sized = f"made {figure(factor)} times as large" if abs(factor - 1) > SIZE_NOISE else ""
        mirrored = "mirrored" if is_reflected(done) else ""
        return Change(
            code="reshaped",
            part=part,
            message=f"It was {' and '.join(filter(None, [sized, mirrored]))}; "
            "the polygons are the same.",
            value=ruler.length(_largest_step(spots, done)),
            unit="units",
            at=at,
        )
    steps = []
    if distance > ruler.length(1e-5 * float(np.linalg.norm(np.ptp(spots, axis=0)))):
        steps.append(f"moved by {units(distance)}")
    if angle > TURN_NOISE:
        steps.append(f"turned by {degrees(angle)}")
    return Change(
        code="part-moved",
        part=part,
        message=f"It was {' and '.join(steps) or 'moved'}, and is otherwise the same form.",
        value=distance,
        unit="units",
        at=at,
    )


def _largest_step(spots: FloatArray, matrix: FloatArray) -> float:
    return float(np.linalg.norm(moved(spots, matrix) - spots, axis=1).max(initial=0.0))


def _tell_faces(story: PartStory, ruler: Ruler) -> Iterator[Change]:
    for edit in story.faces.edits:
        message, value = _face_message(edit, story, ruler)
        yield Change(
            code=edit.code,
            part=_name(story),
            message=message,
            value=value,
            unit="units" if edit.code == "retopologised" else "faces",
            at=_edit_place(edit, story, ruler),
        )


def _face_message(edit: FaceEdit, story: PartStory, ruler: Ruler) -> tuple[str, float | None]:
    old, new = len(edit.faces_before), len(edit.faces_after) if edit.made is None else edit.made
    total = story.base.faces if edit.of is None else edit.of
    match edit.code:
        case "triangulated":
            cut = done_to(old, total, "face", "cut into")
            return f"{cut} {counted(new, 'triangle')}.", float(old)
        case "subdivided":
            kept = "" if story.reshape.happened else "; the surface is kept"
            how = " and the form was smoothed" if edit.smooth else kept
            cut = f"{done_to(old, total, 'face', 'subdivided into')} {counted(new, 'face')}"
            return f"{cut}{how}{_still_fits(story)}.", float(new)
        case "faces-merged":
            merged = done_to(old, total, "face", "merged into")
            return f"{merged} {counted(new, 'face')}.", float(old)
        case "faces-added":
            place = f" in place of {counted(old, 'face')}" if old else ""
            added = f"{counted(new, 'face')} {was(new)} added"
            return f"{added}{place}{_still_fits(story)}.", float(new)
        case "faces-removed":
            stand = "stands" if new == 1 else "stand"
            stead = "its" if old == 1 else "their"
            place = f", {counted(new, 'face')} {stand} in {stead} place" if new else ""
            return f"{done_to(old, total, 'face', 'removed')}{place}.", float(old)
    distance = ruler.length(edit.distance or 0.0)
    size = ruler.length(float(np.linalg.norm(np.ptp(story.before.used_spots, axis=0)))) or 1.0
    kept = "the surface is kept" if distance <= 0.02 * size else "the surface is not kept"
    return (
        f"The polygons were laid anew: {counted(old, 'face')} became {new:,}; "
        f"{kept} (up to {units(distance)} off){_still_fits(story)}.",
        distance,
    )


def _edit_place(
    edit: FaceEdit, story: PartStory, ruler: Ruler
) -> tuple[float, float, float] | None:
    if len(edit.faces_after):
        return _face_place(story, edit.faces_after, ruler)
    body, rows = story.base, edit.faces_before
    centres = face_centres(body.points, body.part.corner_point, body.part.face_start)[rows]
    return ruler.place(_middle_one(centres)) if len(centres) else None


def _face_place(
    story: PartStory, rows: IndexArray, ruler: Ruler
) -> tuple[float, float, float] | None:
    body = story.after
    centres = face_centres(body.points, body.part.corner_point, body.part.face_start)[rows]
    done = inverse(story.pose)
    return ruler.place(moved(_middle_one(centres)[None], done)[0])


def _middle_one(spots: FloatArray) -> FloatArray:
    """The spot nearest the mean of all: a place on the part, whatever the order."""
    finite = spots[rows_finite(spots)]
    if not len(finite):
        return np.full(3, np.nan)
    off = np.linalg.norm(finite - finite.mean(axis=0), axis=1)
    return np.asarray(finite[int(np.argmin(off))])


def _tell_surface(story: PartStory, ruler: Ruler) -> Iterator[Change]:
    yield from _tell_winding(story, ruler)
    yield from _tell_welding(story, ruler)
    yield from _tell_normals(story, ruler)
    if len(story.smoothing):
        rows = story.smoothing
        yield Change(
            code="smoothing-changed",
            part=_name(story),
            message=f"The smoothing of {of_all(len(rows), story.after.faces, 'face')} changed.",
            value=float(len(rows)),
            unit="faces",
            at=_face_place(story, rows, ruler),
        )


def _tell_winding(story: PartStory, ruler: Ruler) -> Iterator[Change]:
    rows = np.flatnonzero(story.flipped).astype(np.int32)
    if len(rows):
        yield Change(
            code="winding-flipped",
            part=_name(story),
            message=f"{done_to(len(rows), story.after.faces, 'face', 'turned over')}: "
            "what was outside is inside now.",
            value=float(len(rows)),
            unit="faces",
            at=_face_place(story, rows, ruler),
        )


def _tell_welding(story: PartStory, ruler: Ruler) -> Iterator[Change]:
    welding = story.welding
    if len(welding.unwelded):
        yield Change(
            code="unwelded",
            part=_name(story),
            message=f"At {counted(len(welding.unwelded), 'place')} one point was split into "
            "several: the faces there do not hold together any more.",
            value=float(len(welding.unwelded)),
            unit="places",
            at=ruler.place(_middle_one(story.after.spots[welding.unwelded])),
        )
    if len(welding.welded):
        yield Change(
            code="welded",
            part=_name(story),
            message=f"At {counted(len(welding.welded), 'place')} several points were welded "
            "into one.",
            value=float(len(welding.welded)),
            unit="places",
            at=ruler.place(_middle_one(story.after.spots[welding.welded])),
        )


def _tell_normals(story: PartStory, ruler: Ruler) -> Iterator[Change]:
    normals = story.normals
    if normals.lost or normals.added:
        yield Change(
            code="normals-changed",
            part=_name(story),
            message="Its normals are gone." if normals.lost else "It carries normals now.",
        )
    elif len(normals.dropped) or len(normals.corners):
        gone = len(normals.dropped) > 0
        corners = normals.dropped if gone else normals.corners
        faces = np.unique(story.after.corner_face[corners]).astype(np.int32)
        some = of_all(len(faces), story.after.faces, "face")
        yield Change(
            code="normals-changed",
            part=_name(story),
            message=f"The normals of {some} are gone."
            if gone
            else f"The normals on {some} changed, while their form did not.",
            value=float(len(faces)),
            unit="faces",
            at=_face_place(story, faces, ruler),
        )


def _tell_uvs(story: PartStory, ruler: Ruler) -> Iterator[Change]:
    unwrap = story.unwrap
    yield from _tell_lost(story, ruler)
    if unwrap.flipped:
        yield Change(
            code="uv-flipped",
            part=_name(story),
            message=f"The UVs {turned_over(unwrap.flipped)}",
        )
    for code, move, verb in (
        ("uv-mirrored", unwrap.mirrored, "mirrored"),
        ("uv-tile-moved", unwrap.tiled, "moved to another tile"),
        ("uv-moved", unwrap.moved, "moved"),
    ):
        if move is not None:
            yield Change(
                code=code,
                part=_name(story),
                message=_move_message(code, move, verb),
                value=float(move.shells),
                unit="shells",
                at=_face_place(story, np.array([move.at_face], dtype=np.int32), ruler),
            )
    if len(unwrap.reshaped):
        yield Change(
            code="uv-reshaped",
            part=_name(story),
            message=f"The UVs of {of_all(len(unwrap.reshaped), story.after.faces, 'face')} took "
            f"another form (by up to {figure(unwrap.reshaped_by)} of a tile)"
            f"{_seams_beside(story)}.",
            value=float(len(unwrap.reshaped)),
            unit="faces",
            at=_face_place(story, unwrap.reshaped, ruler),
        )


def _seams_beside(story: PartStory) -> str:
    return "" if len(story.seams.cut) or len(story.seams.sewn) else ", the seams are the same"


def _tell_lost(story: PartStory, ruler: Ruler) -> Iterator[Change]:
    unwrap = story.unwrap
    for code, rows, whole, gone in (
        ("uv-lost", unwrap.lost, unwrap.all_lost, "are gone"),
        ("uv-added", unwrap.added, unwrap.all_added, "are new"),
    ):
        if whole:
            yield Change(code=code, part=_name(story), message=f"Its UVs {gone}.", value=1.0)
        elif len(rows):
            yield Change(
                code=code,
                part=_name(story),
                message=f"The UVs of {of_all(len(rows), story.after.faces, 'face')} {gone}.",
                value=float(len(rows)),
                unit="faces",
                at=_face_place(story, rows, ruler),
            )


def _move_message(code: str, move: UvMove, verb: str) -> str:
    shells = done_to(move.shells, move.total, "UV shell", verb)
    if move.shared is None:
        return f"{shells}, each in its own way."
    turn, shift = move.shared
    if code == "uv-tile-moved":
        return (
            f"{shells}: by {figure(round(shift.real))} along U and "
            f"{figure(round(shift.imag))} along V."
        )
    steps = []
    angle, factor = float(np.degrees(np.angle(turn))), float(abs(turn))
    if abs(angle) > TURN_NOISE and code != "uv-mirrored":
        steps.append(f"turned by {degrees(abs(angle))}")
    if abs(factor - 1) > SIZE_NOISE:
        steps.append(f"made {figure(factor)} times as large")
    if not steps:
        steps.append(f"shifted by {figure(shift.real)} along U and {figure(shift.imag)} along V")
    return f"{shells}: {' and '.join(steps)}."


def _tell_seams(story: PartStory, ruler: Ruler) -> Iterator[Change]:
    seams = story.seams
    lengths = story.after.shells.lengths
    for code, rows, before, verb in (
        ("seams-cut", seams.cut, seams.cut_before, "were cut"),
        ("seams-sewn", seams.sewn, seams.sewn_before, "were sewn together"),
    ):
        if not len(rows):
            continue
        length = float(lengths[rows].sum())
        share = before / seams.length_before if seams.length_before > 0 else None
        part = f", {percent(share)} of the seams before" if share is not None else ""
        none = ", where there was no seam before" if share is None else ""
        ends = story.after.spots[story.after.shells.edges.ends[rows]].mean(axis=1)
        done = inverse(story.pose)
        yield Change(
            code=code,
            part=_name(story),
            message=f"Seams of {units(length)} in all {verb}{part}{none}.",
            value=length,
            unit="units",
            at=ruler.place(moved(_middle_one(ends)[None], done)[0]),
        )


def _tell_materials(story: PartStory, ruler: Ruler) -> Iterator[Change]:
    for change in story.materials:
        faces = of_all(len(change.faces), story.after.faces, "face")
        faces = f"{faces[0].upper()}{faces[1:]}"
        if not change.after:
            message = f"{faces} lost the material '{change.before}'."
        elif not change.before:
            message = f"{faces} got the material '{change.after}'."
        else:
            message = f"{faces} went from material '{change.before}' to '{change.after}'."
        yield Change(
            code="material-changed",
            part=_name(story),
            message=message,
            value=float(len(change.faces)),
            unit="faces",
            at=_face_place(story, change.faces, ruler),
        )
