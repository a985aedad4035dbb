"""How a part's faces hang together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.measure.surface import Surface
from reviewbot.mesh import Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Topology:
    """Counts of one part, by index: points count as the file shares them.

    points               used by at least one face
    faces                of at least three corners
    triangles, quads, ngons
    edges                between used points
    euler                points - edges + faces (Euler characteristic)
    open_edges           edges with one face side
    """

    points: int
    faces: int
    triangles: int
    quads: int
    ngons: int
    edges: int
    euler: int
    open_edges: int


def measure_topology(part: Part, surface: Surface) -> Topology:
    """Counts of a part; all 0 for a part without faces."""
    sizes = np.diff(part.face_start)
    used = int(np.count_nonzero(np.bincount(part.corner_point, minlength=1)))
    faces = int(np.count_nonzero(sizes >= 3))
    edges = len(surface.edges.ends)
    return Topology(
        points=used,
        faces=faces,
        triangles=int(np.count_nonzero(sizes == 3)),
        quads=int(np.count_nonzero(sizes == 4)),
        ngons=int(np.count_nonzero(sizes > 4)),
        edges=edges,
        euler=used - edges + faces,
        open_edges=int(np.count_nonzero(surface.edges.side_count == 1)),
    )
