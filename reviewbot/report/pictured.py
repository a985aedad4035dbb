"""From what was measured and compared to what is drawn: the album's versions, seams and spots."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import PurePath
from typing import Literal

import numpy as np

from reviewbot.checks import seam_exposed
from reviewbot.checks.finding import Finding
from reviewbot.compare.change import Change
from reviewbot.compare.comparison import Comparison, PartMatch
from reviewbot.cores import thread_count
from reviewbot.geometry.polygons import next_corners
from reviewbot.geometry.rigid import moved, scale_of
from reviewbot.measure.examine import Examination, PartExamination
from reviewbot.mesh import BoolArray, FloatArray
from reviewbot.render.album import Album, ComparedViews, compare_views, draw_album
from reviewbot.render.album_settings import AlbumSettings
from reviewbot.render.backends import RendererName
from reviewbot.render.picture import Picture
from reviewbot.render.samples import Scene
from reviewbot.render.scene import build_scene
from reviewbot.render.seam_map import SeamLines
from reviewbot.render.spots import Spot
from reviewbot.render.uv_sheet import MovedShell
from reviewbot.render.version import Version, alike_coloured
from reviewbot.report.readiness import readiness_pictures
from reviewbot.report.solid import Solid, version_solids
from reviewbot.report.textured import textured_versions
from reviewbot.settings import Settings

_NO_UNDO = np.eye(4)
_MOST_SPOTS = {"full": 8, "brief": 2}  # the gravest; each is a camera sought and two views drawn
MOST_NUMBERED = 15
_NUMBER_REACH = 0.012  # of a tile, of the smallest shell that is numbered
_NUMBER_GAP = 0.05  # between numbers
_NOTES_TO_SEE = (seam_exposed.RULE.code,)
_WEIGHT = {"stop": 0, "look": 1, "note": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureSettings:
    """How one asset is to be pictured."""

    path: str
    settings: Settings
    renderer: RendererName
    detail: Literal["full", "brief"] = "full"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenes:
    """Both versions as they were exported, being made ready to be seen; None for one that is not.

    They need nothing of the comparison, but where it undoes a turn or a scale: made beside it.
    """

    before: Future[Scene] | None
    after: Future[Scene] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """What was drawn of one asset.

    pictures  the album's, then those of what comes next
    solids    to be turned freely on the page
    """

    album: Album
    pictures: tuple[Picture, ...]
    solids: tuple[Solid, ...]


def begin_scenes(before: Examination | None, after: Examination | None, pool: Executor) -> Scenes:
    """Have the pool make both versions ready."""
    begun = [None if one is None else pool.submit(_scene, one, _NO_UNDO) for one in (before, after)]
    return Scenes(before=begun[0], after=begun[1])


def draw_asset(
    before: Examination | None,
    after: Examination | None,
    comparison: Comparison | None,
    findings: Sequence[Finding],
    wish: PictureSettings,
    *,
    scenes: Scenes,
) -> Drawn:
    """Everything worth drawing of one asset. Raises RendererUnavailableError.

    scenes  of the same versions
    """
    matches = comparison.matches if comparison else ()
    changes = comparison.changes if comparison else ()
    settings, undo, renamed = (
        _album_settings(wish),
        _undo(comparison),
        _renamed(before, after, matches),
    )
    with ThreadPoolExecutor(thread_count()) as pool:
        old, new = _both_versions(before, after, matches, undo, scenes)
        old, new = alike_coloured(old, new, renamed)
        solids = pool.submit(version_solids, old, new, up=settings.up)
        album = draw_album(
            old,
            new,
            settings,
            seams=_seam_lines(before, matches, undo),
            moved=_moved_shells(matches),
            spots=_spots(findings, changes, undo, after)[: _MOST_SPOTS[wish.detail]],
        )
        ready: list[Picture] = []
        if after is not None and wish.detail == "full":
            ready = readiness_pictures(after, findings, settings)
        return Drawn(album=album, pictures=(*album.pictures, *ready), solids=solids.result())


def compared_views(
    before: Examination,
    after: Examination,
    comparison: Comparison,
    wish: PictureSettings,
    *,
    scenes: Scenes,
) -> ComparedViews:
    """How the turntable's views differ, without keeping a picture."""
    return compare_views(
        Version(scene=_scene_at(_NO_UNDO, before, scenes.before)),
        Version(scene=_scene_at(comparison.undo, after, scenes.after)),
        _album_settings(wish),
    )


def _album_settings(wish: PictureSettings) -> AlbumSettings:
    settings = wish.settings
    return AlbumSettings(
        title=PurePath(wish.path).name,
        renderer=wish.renderer,
        views=settings.pictures.views,
        size=settings.pictures.size,
        up=settings.placement.up,
        texture_size=settings.texture.size,
        padding=settings.texture.padding,
        stretch_limit=settings.limits.stretch,
        detail=wish.detail,
    )


def _undo(comparison: Comparison | None) -> FloatArray:
    return _NO_UNDO if comparison is None else comparison.undo


def _scene_at(undo: FloatArray, examination: Examination, begun: Future[Scene] | None) -> Scene:
    """The scene begun, or where its version stands elsewhere, another."""
    if begun is not None and np.array_equal(undo, _NO_UNDO):
        return begun.result()
    return _scene(examination, undo)


def _scene(examination: Examination, place: FloatArray) -> Scene:
    charts = [one.shells.face_shell for one in examination.parts]
    return build_scene(examination.model, undo=place, charts=charts)


def _version(
    examination: Examination,
    scene: Scene,
    place: FloatArray,
    deviation: list[FloatArray] | None = None,
) -> Version:
    is_mapped = any(one.shells.count for one in examination.parts)
    seams = [np.empty((0, 2, 3)), *(_own_seams(one) for one in examination.parts)]
    return Version(
        scene=scene,
        stretch=[one.stretch.face_l2 for one in examination.parts] if is_mapped else None,
        density=[one.density.of_face for one in examination.parts] if is_mapped else None,
        seams=_placed(np.concatenate(seams), place) if is_mapped else None,
        is_stacked=_stacked(examination, scene),
        deviation=deviation,
    )


def _both_versions(
    before: Examination | None,
    after: Examination | None,
    matches: Sequence[PartMatch],
    undo: FloatArray,
    scenes: Scenes,
) -> tuple[Version | None, Version | None]:
    """Versions with their base colour pictures, where either has any."""
    seen: list[tuple[Examination, Version]] = []
    if before is not None:
        scene = _scene_at(_NO_UNDO, before, scenes.before)
        seen.append((before, _version(before, scene, _NO_UNDO)))
    if after is not None:
        scene = _scene_at(undo, after, scenes.after)
        moved_by = _deviation(after, matches, undo)
        seen.append((after, _version(after, scene, undo, moved_by)))
    textured = textured_versions([e for e, _ in seen], [v.scene for _, v in seen])
    dressed = [replace(v, textured=t) for (_, v), t in zip(seen, textured, strict=True)]
    return (
        None if before is None else dressed[0],
        None if after is None else dressed[-1],
    )


def _own_seams(one: PartExamination) -> FloatArray:
    """(K, 2, 3) the ends of a part's seams."""
    rows = np.flatnonzero(one.shells.is_seam)
    side = one.shells.edges.sides[one.shells.edges.side_start[rows]]
    follow = next_corners(one.part.face_start)
    ends = np.stack([one.part.corner_point[side], one.part.corner_point[follow[side]]], axis=1)
    return np.asarray(one.surface.points[ends])


def _stacked(examination: Examination, scene: Scene) -> BoolArray:
    """(T,) bool: of shells that are copies stacked on purpose."""
    overlaps = examination.overlaps
    saved = overlaps.is_copy | overlaps.is_parked
    shared = np.append(np.isin(overlaps.stack, overlaps.stack[saved]), False)  # -1: no chart
    stacked = np.zeros(len(scene.triangles), dtype=bool)
    for row, face_chart in enumerate(examination.atlas.face_chart):
        own = scene.part == row
        stacked[own] = shared[face_chart[scene.face[own]]]
    return stacked


def _deviation(
    after: Examination, matches: Sequence[PartMatch], undo: FloatArray
) -> list[FloatArray] | None:
    """Per part (V,) how far points moved, in the scene's units; None where none were."""
    if not any(len(match.displacement) for match in matches):
        return None
    values = [np.zeros(len(one.part.points)) for one in after.parts]
    for match in matches:
        if match.after is not None and match.before is None:
            values[match.after] = np.full(len(values[match.after]), np.nan)
        elif match.after is not None and len(match.displacement):
            values[match.after] = match.displacement * scale_of(undo)
    return values


def _seam_lines(
    before: Examination | None, matches: Sequence[PartMatch], undo: FloatArray
) -> SeamLines | None:
    """Kept, cut and sewn seams in the scene's space; None where no seam was cut or sewn."""
    if before is None or not any(len(match.cut) or len(match.sewn) for match in matches):
        return None
    kept, cut, sewn = (
        _placed(np.concatenate([np.empty((0, 2, 3)), *segments]), undo)
        for segments in (
            [match.kept for match in matches],
            [match.cut for match in matches],
            [match.sewn for match in matches],
        )
    )
    return SeamLines(kept=kept, cut=cut, sewn=sewn)


def _moved_shells(matches: Sequence[PartMatch]) -> list[MovedShell]:
    """Shells that lie elsewhere after, the furthest first: those that a number fits on, and no two
    so near that their numbers would cover each other."""
    moves = np.concatenate([np.empty((0, 5)), *(match.shells_moved for match in matches)])
    moves = moves[moves[:, 4] >= _NUMBER_REACH]
    distance = np.hypot(moves[:, 2] - moves[:, 0], moves[:, 3] - moves[:, 1])
    kept: list[FloatArray] = []
    for row in np.argsort(-distance, kind="stable").tolist():
        gaps = [abs(moves[row, :4] - other) >= _NUMBER_GAP for other in kept]
        if all(gap[:2].any() and gap[2:].any() for gap in gaps):
            kept.append(moves[row, :4])
    return [
        MovedShell(before=(u0, v0), after=(u1, v1))
        for u0, v0, u1, v1 in np.array(kept[:MOST_NUMBERED]).tolist()
    ]


def _placed(segments: FloatArray, matrix: FloatArray) -> FloatArray:
    return moved(segments.reshape(-1, 3), matrix).reshape(-1, 2, 3)


def _spots(
    findings: Iterable[Finding],
    changes: Iterable[Change],
    undo: FloatArray,
    after: Examination | None,
) -> list[Spot]:
    """The places of what is new or worse, the gravest first, then of changes; one a code and part.

    A finding that stood before is no news, and one that is only said needs no picture, unless
    words do not show it.
    """
    grave = [
        finding
        for finding in findings
        if finding.standing in ("new", "worse")
        and (finding.severity != "note" or finding.code in _NOTES_TO_SEE)
    ]
    places: dict[tuple[str, str], Spot] = {}
    worst = sorted(grave, key=lambda finding: _WEIGHT[finding.severity])
    told: list[Finding | Change] = [*worst]
    for one in (*told, *changes):
        if one.at is not None and (one.code, one.part) not in places:
            x, y, z = moved(np.array([one.at]), undo)[0].tolist()
            places[one.code, one.part] = Spot(
                at=(x, y, z),
                code=one.code,
                part=one.part,
                message=one.message,
                lines=_placed(_open_seams(one, after), undo),
            )
    return list(places.values())


def _open_seams(told: Finding | Change, after: Examination | None) -> FloatArray:
    """(K, 2, 3) the runs of seam that a finding of open seams is about; none for any other."""
    runs = [np.empty((0, 2, 3))]
    if after is not None and told.code == seam_exposed.RULE.code:
        for one, viewing in zip(after.parts, after.viewing, strict=True):
            if viewing is not None and one.part.name == told.part:
                runs += [run.segments for run in viewing.seams.runs]
    return np.concatenate(runs)


def _renamed(
    before: Examination | None, after: Examination | None, matches: Sequence[PartMatch]
) -> dict[str, str]:
    """Name before of each part, by its name after."""
    if before is None or after is None:
        return {}
    return {
        after.parts[match.after].part.name: before.parts[match.before].part.name
        for match in matches
        if match.before is not None and match.after is not None
    }
