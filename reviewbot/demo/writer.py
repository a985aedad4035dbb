"""Parts as OBJ text, the way different exporters would put it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from reviewbot.mesh import IndexArray, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class ObjStyle:
    """What an exporter chooses without changing the model.

    heading   the comment on top
    digits    behind the point
    line_end  "\\n" or "\\r\\n"
    """

    heading: str
    digits: int = 6
    line_end: str = "\n"


def obj_bytes(parts: Sequence[Part], *, materials_file: str, style: ObjStyle) -> bytes:
    """The whole file; each part is an object with its material."""
    lines = [f"# {style.heading}", f"mtllib {materials_file}"]
    points = uvs = 0
    for part in parts:
        lines += _part_lines(part, points, uvs, style.digits)
        points, uvs = points + len(part.points), uvs + len(part.uvs)
    return (style.line_end.join(lines) + style.line_end).encode("utf-8")


def _part_lines(part: Part, points: int, uvs: int, digits: int) -> Iterator[str]:
    number = f"%.{digits}f"
    yield f"o {part.name}"
    yield from (f"v {number} {number} {number}" % tuple(row) for row in part.points.tolist())
    yield from (f"vt {number} {number}" % tuple(row) for row in part.uvs.tolist())
    yield f"usemtl {part.materials[0]}"
    yield "s 1"
    corners = _corner_words(part, points + 1, uvs + 1)
    starts = part.face_start.tolist()
    yield from ("f " + " ".join(corners[a:b]) for a, b in pairwise(starts))


def _corner_words(part: Part, first_point: int, first_uv: int) -> list[str]:
    point = (part.corner_point + first_point).tolist()
    if not len(part.uvs):
        return [str(p) for p in point]
    return [f"{p}/{t}" for p, t in zip(point, (part.corner_uv + first_uv).tolist(), strict=True)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Colour:
    """A material's base colour, red, green and blue from 0 to 1."""

    name: str
    red: float
    green: float
    blue: float


def mtl_bytes(colours: Sequence[Colour], *, heading: str) -> bytes:
    """The materials file that goes with it."""
    lines = [f"# {heading}"]
    for colour in colours:
        lines += [
            f"newmtl {colour.name}",
            f"Kd {colour.red:.3f} {colour.green:.3f} {colour.blue:.3f}",
        ]
    return ("\n".join(lines) + "\n").encode("utf-8")


def shuffled(part: Part) -> Part:
    """The same part as another exporter would number it.

    Points and faces come in another order, faces begin at another corner, and each corner has a
    UV entry of its own.
    """
    quads = part.corner_point.reshape(-1, 4)
    point_order, face_order = _stride(len(part.points)), _stride(len(quads))
    number = np.argsort(point_order).astype(np.int32)
    turned = np.roll(np.arange(4), 1)
    corner_uv = part.corner_uv.reshape(-1, 4)[face_order][:, turned].reshape(-1)
    has_uvs = bool(len(part.uvs))
    return Part(
        name=part.name,
        points=part.points[point_order],
        corner_point=number[quads[face_order][:, turned]].reshape(-1),
        face_start=part.face_start,
        uvs=part.uvs[corner_uv] if has_uvs else part.uvs,
        corner_uv=np.arange(len(corner_uv), dtype=np.int32) if has_uvs else corner_uv,
        materials=part.materials,
        face_material=part.face_material[face_order],
        face_smoothing=part.face_smoothing,
    )


def _stride(count: int) -> IndexArray:
    """0..count-1 in another order, the same on every machine."""
    step = next(
        s for s in range(max(2, int(count * 0.618)), 2 * count + 3) if np.gcd(s, count) == 1
    )
    return (np.arange(count, dtype=np.int64) * step % count).astype(np.int32)
