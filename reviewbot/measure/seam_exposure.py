"""How often a viewer sees the seams of a part, and where they lie most in the open."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.measure.edge_geometry import (
    edge_faces,
    edge_normals,
    points_of_places,
    turns_by,
)
from reviewbot.measure.seam_runs import OpenEdges, SeamRun, worst_runs
from reviewbot.measure.seam_sight import SeamLines
from reviewbot.measure.share import share_of
from reviewbot.measure.shells import Shells
from reviewbot.measure.surface import Surface
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part

# Degrees between face normals from which an edge breaks the light by itself, so that a seam along
# it is hard to see. Common practice, no source.
SHARP_ANGLE = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamExposure:
    """How openly the seams of one part lie.

    edge          (N,) int32 seam edges, into `shells.edges`
    openness      (N,) float64 of all directions that look at one of the two faces, the share from
                  which the seam is seen: 1 where nothing stands before it, 0 where none looks
    on_smooth     (N,) bool: the faces turn by less than SHARP_ANGLE, nothing but the seam shows
    seen_share    mean openness by length; nan without seams
    exposed_share the same, counting only what runs over smooth surface
    least_share   the same if each of the worst runs took a better route where there is one
    runs          the most exposed runs over smooth surface, the worst first
    """

    edge: IndexArray
    openness: FloatArray
    on_smooth: BoolArray
    seen_share: float
    exposed_share: float
    least_share: float
    runs: tuple[SeamRun, ...]


def measure_seam_exposure(
    part: Part,
    surface: Surface,
    shells: Shells,
    *,
    lines: SeamLines,
    openness: FloatArray,
    face_open: FloatArray,
) -> SeamExposure:
    """How openly the seams of a part lie.

    lines, openness  see `seam_sight`
    face_open        (F,) see `Exposure`
    """
    on_smooth = ~turns_by(lines.normals, SHARP_ANGLE)
    exposed = np.zeros(len(shells.edges.ends))
    exposed[lines.edge] = on_smooth * openness

    def everywhere() -> FloatArray:
        return np.where(shells.is_seam, exposed, _exposed_if_cut(part, surface, face_open))

    all_edges = OpenEdges(
        places=shells.edges.ends,
        ends=points_of_places(part, surface)[shells.edges.ends],
        length=np.nan_to_num(shells.lengths),
        exposed=exposed,
        is_cut=shells.is_seam | (shells.edges.side_count != 2),
    )
    runs = worst_runs(all_edges, lines.edge, everywhere)
    total = float(lines.length.sum())
    exposed_length = float(lines.length @ exposed[lines.edge])
    saved = sum(run.exposed - run.detour for run in runs)
    return SeamExposure(
        edge=lines.edge,
        openness=openness,
        on_smooth=on_smooth,
        seen_share=share_of(float(lines.length @ openness), total),
        exposed_share=share_of(exposed_length, total),
        least_share=share_of(exposed_length - saved, total),
        runs=runs,
    )


def _exposed_if_cut(part: Part, surface: Surface, face_open: FloatArray) -> FloatArray:
    """(E,) how openly a seam would lie on each edge: as the more open of the faces beside it.

    0 where the faces turn and so hide it.
    """
    edge = np.arange(len(surface.value_edges.ends), dtype=np.int32)
    on_smooth = ~turns_by(edge_normals(part, surface, edge), SHARP_ANGLE)
    openness = np.nan_to_num(face_open)[edge_faces(part, surface, edge)].max(axis=1, initial=0.0)
    return np.asarray(openness * on_smooth)
