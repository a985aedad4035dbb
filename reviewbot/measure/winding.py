"""Which way faces look: against their neighbours, or into the solid they close."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.groups import joined_labels
from reviewbot.geometry.polygons import corner_faces
from reviewbot.measure.joints import Joints
from reviewbot.measure.surface import Surface
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part

_MOST_ANGLES = 1 << 24  # a part with more sheets and faces to try is not searched for hollows
_THINNEST = (
    1e-6  # least volume of a solid against its area to the power of 3/2 (a sphere's is 0.09)
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Winding:
    """Sheets are faces that hang together over pairs of sides.

    face_sheet      (F,) int32
    turned          (F,) bool: wound against the larger part, by area, of its sheet
    odd_sides       (W,) int32 a side of each pair that runs the same way, so that the two faces
                    look opposite ways
    sheet_closed    (S,) bool: every side meets one other, all consistently
    sheet_volume    (S,) float64 cubic units enclosed, above 0 when wound outwards (divergence
                    theorem); nan for an open sheet
    sheet_inverted  (S,) bool: closed, wound inwards, and not the wall of a hollow, that is, not
                    inside an odd number of the part's other closed sheets
    """

    face_sheet: IndexArray
    turned: BoolArray
    odd_sides: IndexArray
    sheet_closed: BoolArray
    sheet_volume: FloatArray
    sheet_inverted: BoolArray


def measure_winding(part: Part, surface: Surface, joints: Joints) -> Winding:
    """Winding of a part. A one-sided sheet (a Möbius band) has odd sides but no turned face."""
    owner = corner_faces(part.face_start)
    left, right = owner[joints.pairs[:, 0]], owner[joints.pairs[:, 1]]
    faces = part.face_count
    face_sheet = joined_labels(faces, left, right)
    sheets = int(face_sheet.max(initial=-1)) + 1
    against = ~joints.runs_on
    closed = np.ones(sheets, dtype=bool)
    closed[face_sheet[left[against]]] = False
    unpaired = np.diff(part.face_start) - np.bincount(left, minlength=faces)
    unpaired -= np.bincount(right, minlength=faces)
    closed[face_sheet[unpaired > 0]] = False
    volume = np.where(closed, _volumes(surface, face_sheet, sheets), np.nan)
    return Winding(
        face_sheet=face_sheet,
        turned=_turned_faces(surface, face_sheet, left, right, against),
        odd_sides=joints.pairs[against, 0],
        sheet_closed=closed,
        sheet_volume=volume,
        sheet_inverted=_inverted(part, surface, face_sheet, volume),
    )


def _turned_faces(
    surface: Surface, sheet: IndexArray, left: IndexArray, right: IndexArray, against: BoolArray
) -> BoolArray:
    """Faces in two colours so that only odd pairs part the colours; the lesser colour is turned."""
    faces = len(sheet)
    if not against.any():
        return np.zeros(faces, dtype=bool)
    # The orientation double cover: each face is there twice, once for each way it can look.
    other = np.where(against, faces, 0)
    cover = joined_labels(
        2 * faces,
        np.concatenate([left, left + faces]),
        np.concatenate([right + other, right + faces - other]),
    )
    second_colour = cover[:faces] > cover[faces:]
    one_sided = cover[:faces] == cover[faces:]
    area = np.where(one_sided, 0.0, np.nan_to_num(surface.face_area, nan=0.0, posinf=0.0))
    sheets = int(sheet.max()) + 1
    of_first = np.bincount(sheet, weights=np.where(second_colour, 0.0, area), minlength=sheets)
    of_second = np.bincount(sheet, weights=np.where(second_colour, area, 0.0), minlength=sheets)
    first_is_less = (of_first < of_second)[sheet]
    return np.where(one_sided, False, second_colour ^ first_is_less)


def _volumes(surface: Surface, sheet: IndexArray, sheets: int) -> FloatArray:
    """(S,) signed volumes: area vectors times centres, seen from each sheet's middle; 0 if thin."""
    known = np.isfinite(surface.face_area) & np.isfinite(surface.face_centre[:, 0])
    sheet, vector = sheet[known], surface.face_vector[known]
    centre, area = surface.face_centre[known], surface.face_area[known]
    count = np.maximum(np.bincount(sheet, minlength=sheets), 1)
    volume = np.zeros(sheets)
    for axis in range(3):
        middle = np.bincount(sheet, weights=centre[:, axis], minlength=sheets) / count
        arm = (centre[:, axis] - middle[sheet]) * vector[:, axis]
        volume += np.bincount(sheet, weights=arm, minlength=sheets) / 3
    of_sheet = np.bincount(sheet, weights=area, minlength=sheets)
    return np.where(np.abs(volume) > _THINNEST * of_sheet**1.5, volume, 0.0)


def _inverted(
    part: Part, surface: Surface, face_sheet: IndexArray, volume: FloatArray
) -> BoolArray:
    """Closed sheets wound inwards that are no hollow's wall."""
    inward = np.flatnonzero(volume < 0)
    inverted = np.zeros(len(volume), dtype=bool)
    inverted[inward] = True
    closed = np.flatnonzero(volume != 0)
    closed = closed[np.isfinite(volume[closed])]
    if not len(inward) or len(closed) < 2:
        return inverted
    boxes = _sheet_boxes(part, surface, face_sheet, len(volume))
    _, first_face = np.unique(face_sheet, return_index=True)
    inside = np.zeros(len(volume), dtype=np.int64)
    for container in closed.tolist():
        around = (boxes[container, 0] < boxes[inward, 0]).all(axis=1)
        around &= (boxes[container, 1] > boxes[inward, 1]).all(axis=1)
        held = inward[around]
        faces = np.flatnonzero(face_sheet == container).astype(np.int32)
        if len(held) and len(held) * len(faces) <= _MOST_ANGLES:
            spots = surface.face_centre[first_face[held]]
            inside[held] += np.abs(winding_numbers(part, surface, faces, spots)) > 0.5
    inverted[inside % 2 == 1] = False
    return inverted


def _sheet_boxes(part: Part, surface: Surface, face_sheet: IndexArray, sheets: int) -> FloatArray:
    """(S, 2, 3) the box round each sheet."""
    corner_sheet = np.repeat(face_sheet, np.diff(part.face_start))
    order = np.argsort(corner_sheet, kind="stable")
    ordered = surface.points[part.corner_point[order]]
    starts = np.searchsorted(corner_sheet[order], np.arange(sheets))
    boxes = np.full((sheets, 2, 3), np.nan)
    filled = np.bincount(corner_sheet, minlength=sheets) > 0
    boxes[filled, 0] = np.minimum.reduceat(ordered, starts[filled])
    boxes[filled, 1] = np.maximum.reduceat(ordered, starts[filled])
    return boxes


def winding_numbers(
    part: Part, surface: Surface, faces: IndexArray, spots: FloatArray
) -> FloatArray:
    """(N,) how often the given faces go round each spot; 1 inside a closed, outward solid.

    Solid angles of the triangles between each side and its face's middle (Van Oosterom & Strackee
    1983), summed and divided by 4 pi (Jacobson, Kavan & Sorkine-Hornung 2013).
    """
    sizes = np.diff(part.face_start)[faces]
    owner = np.repeat(faces, sizes)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(sizes) - sizes, sizes)
    here = part.face_start[owner] + step
    there = np.where(step + 1 < sizes.repeat(sizes), here + 1, part.face_start[owner])
    corners = surface.points[part.corner_point]
    numbers = np.empty(len(spots))
    for row, spot in enumerate(spots):
        a, b = (corners[side] - spot for side in (here, there))
        c = surface.face_centre[owner] - spot
        numbers[row] = _solid_angles(a, b, c).sum() / (4 * np.pi)
    return numbers


def _solid_angles(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    la, lb, lc = (np.sqrt(np.einsum("ij,ij->i", edge, edge)) for edge in (a, b, c))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c))
    ab, bc, ca = (np.einsum("ij,ij->i", p, q) for p, q in ((a, b), (b, c), (c, a)))
    return np.asarray(2 * np.arctan2(volume, la * lb * lc + ab * lc + bc * la + ca * lb))
