"""Faults planted into a sound asset, each with the one finding code that names it.

Each is what an artist's slip or an export does to a file (common practice, no source). The asset
is invented: a plate with things on it, two of them with a sculpted partner.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from cages import holed_sheet, looped_cube
from edits import moved, uvs_placed, with_repeated_faces, with_turned_faces, without_faces
from mutations.faces import faces_of, with_faces
from mutations.subjects import boxes_net
from shapes import box, cube, grid, joined, model, torus
from tubes import square_tube

from reviewbot.measure.shells import find_shells
from reviewbot.mesh import Model, Part
from reviewbot.settings import Settings, parse_settings

SETTINGS: Settings = parse_settings(
    """
    [names]
    pattern = "[a-z]+(_low|_high)?"
    [parts]
    open_sheets = ["plate", "tube"]
    [limits]
    smallest = 0.5
    largest = 50.0
    """,
    path="reviewbot.toml",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing done wrong.

    name   what is done
    code   the finding code that must be told as new
    part   the part it must be told of, "" for the whole asset
    plant  does it
    """

    name: str
    code: str
    part: str
    plant: Callable[[Model], Model]


def sound() -> Model:
    """Stands on the origin, fits its tile, and has none of the faults below."""
    plate = moved(grid(6, 6, width=3, depth=3, name="plate"), (-1.5, 0, 1.5))
    ring = moved(torus(24, 12, radius=0.8, tube=0.25, name="ring"), (0, 2.5, 0))
    tube = moved(square_tube(1, height=4, name="tube"), (0, 4, 0))
    crate = moved(boxes_net(0.8, "crate"), (-0.9, 0.5, 0.9))
    peg, peg_high = torus(24, 12, radius=0.3, tube=0.1), torus(48, 24, radius=0.3, tube=0.105)
    knob, knob_high = cube(side=0.6), looped_cube(0.6)
    knob_high = replace(knob_high, points=knob_high.points * 0.3)
    return model(
        uvs_placed(plate, scale=0.46, by=(0.52, 0.02)),
        uvs_placed(ring, scale=(0.46, 0.145), by=(0.02, 0.02)),
        uvs_placed(tube, scale=0.46, by=(0.52, 0.52)),
        uvs_placed(crate, scale=0.4, by=(0.02, 0.22)),
        uvs_placed(moved(peg, (0.9, 0.5, 0.9)), scale=(0.3, 0.1), by=(0.02, 0.52), name="peg_low"),
        moved(peg_high, (0.9, 0.5, 0.9), name="peg_high"),
        uvs_placed(moved(knob, (0.9, 0.5, -0.9)), scale=0.2, by=(0.02, 0.76), name="knob_low"),
        moved(knob_high, (0.9, 0.5, -0.9), name="knob_high"),
    )


def _on(name: str, edit: Callable[[Part], Part]) -> Callable[[Model], Model]:
    def plant(whole: Model) -> Model:
        parts = tuple(edit(part) if part.name == name else part for part in whole.parts)
        return replace(whole, parts=parts)

    return plant


def _everywhere(edit: Callable[[Part], Part]) -> Callable[[Model], Model]:
    return lambda whole: replace(whole, parts=tuple(edit(part) for part in whole.parts))


def _with(new: Callable[[Model], Part]) -> Callable[[Model], Model]:
    return lambda whole: replace(whole, parts=(*whole.parts, new(whole)))


def _named(whole: Model, name: str) -> Part:
    return next(part for part in whole.parts if part.name == name)


def _with_point_at(part: Part, row: int, place: np.ndarray) -> Part:
    points = np.array(part.points)
    points[row] = place
    return replace(part, points=points)


def _no_number(part: Part) -> Part:
    return _with_point_at(part, 3, np.array([np.nan, 0, 0]))


def _with_ngon(part: Part) -> Part:
    """Two neighbouring quads of a sheet become one face of six corners."""
    faces = faces_of(part)
    one, other = faces[0], faces[1]
    points = (*one.points[:2], *other.points[1:3], *one.points[2:])
    uvs = (*one.uvs[:2], *other.uvs[1:3], *one.uvs[2:])
    whole = replace(one, points=points, uvs=uvs, normals=(-1,) * 6)
    return with_faces(part, [whole, *faces[2:]])


def _dented_corner(part: Part) -> Part:
    """A corner of a quad is pushed past the opposite diagonal."""
    corners = part.points[part.corner_point[:4]]
    return _with_point_at(part, int(part.corner_point[0]), 0.2 * corners[0] + 0.8 * corners[2])


def _collapsed(part: Part) -> Part:
    """The third and fourth corner of a quad fall onto its first side."""
    a, b, c, d = part.corner_point[:4].tolist()
    sliver = np.array(part.points)
    sliver[c] = 0.4 * sliver[a] + 0.6 * sliver[b]
    sliver[d] = 0.7 * sliver[a] + 0.3 * sliver[b]
    return replace(part, points=sliver)


def _with_fin(part: Part) -> Part:
    """A third face on an edge that two share."""
    a, b = part.corner_point[part.face_start[20] :][:2].tolist()
    tip = (part.points[a] + part.points[b]) / 2 * [1.4, 1, 1.4]
    tip[1] = part.points[:, 1].max() + 0.3
    faces = faces_of(part)
    fin = replace(faces[20].picked([0, 1, 2]), points=(a, b, len(part.points)))
    return with_faces(part, [*faces, fin], points=np.concatenate([part.points, tip[None]]))


def _touching_tip(part: Part) -> Part:
    """Another box hangs on one corner point of the first."""
    other = replace(part, points=part.points + np.ptp(part.points, axis=0))
    both = joined(part, other, name=part.name)
    places, index = np.unique(np.round(both.points, 9), axis=0, return_inverse=True)
    return replace(both, points=places, corner_point=index.reshape(-1)[both.corner_point])


def _stray_point(part: Part) -> Part:
    return replace(part, points=np.concatenate([part.points, [[0.1, 0.2, 0.3]]]))


def _nothing(name: str) -> Part:
    return Part(
        name=name,
        points=np.empty((0, 3)),
        corner_point=np.empty(0, np.int32),
        face_start=np.zeros(1, np.int32),
    )


def _no_uvs(part: Part) -> Part:
    return replace(part, uvs=np.empty((0, 2)), corner_uv=np.empty(0, np.int32))


def _shell_uvs(part: Part, edit: Callable[[np.ndarray], np.ndarray], shell: int = 0) -> Part:
    """The UVs of one shell edited, as entries of their own."""
    rows = np.repeat(find_shells(part).face_shell, np.diff(part.face_start)) == shell
    uvs = part.uvs[part.corner_uv]
    uvs[rows] = edit(uvs[rows])
    return replace(part, uvs=uvs, corner_uv=np.arange(len(uvs), dtype=np.int32))


def _mirrored(uv: np.ndarray) -> np.ndarray:
    return np.stack([uv[:, 0].min() + uv[:, 0].max() - uv[:, 0], uv[:, 1]], axis=1)


def _sized(factor: float) -> Callable[[np.ndarray], np.ndarray]:
    return lambda uv: uv.mean(axis=0) + factor * (uv - uv.mean(axis=0))


def _flattened(uv: np.ndarray) -> np.ndarray:
    return np.stack([uv[:, 0], np.full(len(uv), uv[:, 1].mean())], axis=1)


def _squeezed(part: Part) -> Part:
    """The UVs of the part bunch up at one side."""
    low, high = part.uvs.min(axis=0), part.uvs.max(axis=0)
    share = (part.uvs - low) / (high - low)
    return replace(part, uvs=low + share**3 * (high - low))


def _uneven(part: Part) -> Part:
    """Half of a cage is ten times as coarse as the other."""
    middle = part.points.mean(axis=0)
    fine, coarse = grid(20, 20), moved(grid(2, 2), (1, 0, 0))
    return moved(joined(fine, coarse), middle - [1, 0, -0.5], name=part.name)


def _with_one_large(part: Part) -> Part:
    """Most of a cage is divided finely; one face never was."""
    middle = part.points.mean(axis=0)
    return moved(holed_sheet(16, 8), middle - [0.5, 0, -0.5], name=part.name)


def _not_applied(part: Part) -> Part:
    matrix = np.diag([2.0, 2.0, 2.0, 1.0])
    return replace(part, points=part.points / 2, transform=matrix)


def _cut_in_the_open(part: Part) -> Part:
    other = moved(square_tube(0, height=4, name=part.name), (0, 4, 0))
    return uvs_placed(other, scale=0.46, by=(0.52, 0.52))


def _turned_over(part: Part) -> Part:
    return with_turned_faces(part, range(part.face_count))


FAULTS: tuple[Fault, ...] = (
    Fault(name="a coordinate that is no number", code="bad-coordinate", part="plate",
          plant=_on("plate", _no_number)),
    Fault(name="two faces made one", code="ngon", part="plate", plant=_on("plate", _with_ngon)),
    Fault(name="a corner pushed in", code="concave-face", part="plate",
          plant=_on("plate", _dented_corner)),
    Fault(name="a face squeezed to a line", code="zero-area-face", part="plate",
          plant=_on("plate", _collapsed)),
    Fault(name="a face twice", code="duplicate-face", part="ring",
          plant=_on("ring", lambda part: with_repeated_faces(part, [7]))),
    Fault(name="a copy left behind", code="doubled-part", part="cratecopy",
          plant=_with(lambda whole: replace(_named(whole, "crate"), name="cratecopy"))),
    Fault(name="a third face on an edge", code="non-manifold-edge", part="ring",
          plant=_on("ring", _with_fin)),
    Fault(name="two boxes on one corner", code="non-manifold-vertex", part="crate",
          plant=_on("crate", _touching_tip)),
    Fault(name="a hole", code="open-border", part="ring",
          plant=_on("ring", lambda part: without_faces(part, [30, 31]))),
    Fault(name="a stray point", code="loose-vertex", part="plate",
          plant=_on("plate", _stray_point)),
    Fault(name="a group without faces", code="empty-part", part="rest",
          plant=_with(lambda _: _nothing("rest"))),
    Fault(name="some faces turned over", code="mixed-winding", part="ring",
          plant=_on("ring", lambda part: with_turned_faces(part, range(40, 60)))),
    Fault(name="all faces turned over", code="inside-out", part="ring",
          plant=_on("ring", _turned_over)),
    Fault(name="UVs gone", code="uv-missing", part="crate", plant=_on("crate", _no_uvs)),
    Fault(name="a shell flattened to a line", code="uv-zero-area", part="crate",
          plant=_on("crate", lambda part: _shell_uvs(part, _flattened))),
    Fault(name="a shell mirrored", code="uv-mirrored", part="crate",
          plant=_on("crate", lambda part: _shell_uvs(part, _mirrored))),
    Fault(name="a part's UVs on another's", code="uv-overlap", part="crate",
          plant=_on("crate", lambda part: uvs_placed(part, by=(0.53, 0.013)))),
    Fault(name="UVs over the tile's border", code="uv-outside-tile", part="tube",
          plant=_on("tube", lambda part: uvs_placed(part, by=(0.25, 0)))),
    Fault(name="UVs bunched up", code="uv-stretch", part="plate", plant=_on("plate", _squeezed)),
    Fault(name="a shell too small", code="density-uneven", part="crate",
          plant=_on("crate", lambda part: _shell_uvs(part, _sized(0.3)))),
    Fault(name="shells too close", code="shell-gap", part="crate",
          plant=_on("crate", lambda part: _shell_uvs(part, _sized(1.45)))),
    Fault(name="all UVs in a corner", code="tile-wasted", part="",
          plant=_everywhere(lambda part: uvs_placed(part, scale=0.3))),
    Fault(name="a part's UVs on another tile", code="tile-budget", part="",
          plant=_on("tube", lambda part: uvs_placed(part, by=(1, 0)))),
    Fault(name="a seam where one looks", code="seam-exposed", part="tube",
          plant=_on("tube", _cut_in_the_open)),
    Fault(name="a part shut in a case", code="texture-on-hidden", part="tube",
          plant=_with(lambda _: uvs_placed(
              box((-0.8, 3.8, -0.8), (0.8, 8.2, 0.8), "case"), scale=0.2, by=(0.25, 0.76)))),
    Fault(name="a cage half fine, half coarse", code="uneven-quads", part="peg_high",
          plant=_on("peg_high", _uneven)),
    Fault(name="one large face in a cage", code="large-face", part="knob_high",
          plant=_on("knob_high", _with_one_large)),
    Fault(name="a cage without support loops", code="corner-will-round", part="knob_high",
          plant=_on("knob_high", lambda part: moved(
              cube(side=0.6, name=part.name), part.points.mean(axis=0)))),
    Fault(name="a transform not applied", code="transform-left", part="crate",
          plant=_on("crate", _not_applied)),
    Fault(name="left elsewhere in the scene", code="off-origin", part="",
          plant=_everywhere(lambda part: moved(part, (40, 0, 7)))),
    Fault(name="another unit", code="odd-unit", part="",
          plant=_everywhere(lambda part: replace(part, points=part.points * 100))),
    Fault(name="a name out of rule", code="name-pattern", part="Cube.001",
          plant=_on("crate", lambda part: replace(part, name="Cube.001"))),
    Fault(name="a high part without its low one", code="pair-missing", part="studs_high",
          plant=_on("peg_high", lambda part: replace(part, name="studs_high"))),
    Fault(name="a high part moved off its low one", code="pair-gap", part="peg_low",
          plant=_on("peg_high", lambda part: moved(part, (0.5, 0, 0)))),
)  # fmt: skip
