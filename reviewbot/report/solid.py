"""One version of an asset as bytes that a page can turn freely: form, UVs, stretch and seams.

The form is the page's own: a gzip stream of a header and plain little-endian arrays,

    4 bytes      length of the header
    header       JSON: "triangles" T, "seams" K, "parts" names
    (T, 3, 3)    int16 corners, in steps of the scene's half span / 32767 from its middle
    (T, 3, 3)    int8 normals, unit vectors times 127, padded to a multiple of 4 bytes
    (T, 3, 2)    float32 UVs, 0 where a face has none
    (T, 4)       uint8: flags, stretch, and the part's number among the tints as uint16
    (K, 2, 3)    int16 ends of seams

Flags: 1, 2, 4 for the side opposite the first, second, third corner being one of the polygon's; 8
for a face without UVs; 16 for a mirrored one. Stretch: 0 for none to 255 for four times and more,
in steps of the logarithm.
"""

from __future__ import annotations

import gzip
import json
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from reviewbot.geometry.rows import rows_at
from reviewbot.mesh import BoolArray, FloatArray
from reviewbot.render.camera import seen_box
from reviewbot.render.samples import Scene
from reviewbot.render.version import Version
from reviewbot.report.tints import TINTS

SOLID_SUFFIX = ".solid.gz"
MOST_TRIANGLES = 150_000  # of one version; about 2 MB
_STRETCH_FULL = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Solid:
    """One version to be turned freely. data  None where it is too large for a page"""

    version: Literal["before", "after"]
    data: bytes | None
    triangles: int
    up: Literal["y", "z"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What both versions are shown in. middle  (3,); half  half of the longest side, above 0"""

    middle: FloatArray
    half: float


def version_solids(
    before: Version | None, after: Version | None, *, up: Literal["y", "z"]
) -> tuple[Solid, ...]:
    """The versions that there are, in one frame; one without a triangle is left out."""
    versions: list[tuple[Literal["before", "after"], Version]] = []
    if before is not None:
        versions.append(("before", before))
    if after is not None:
        versions.append(("after", after))
    frame = common_frame([version.scene for _, version in versions])
    return tuple(
        Solid(
            version=name,
            data=solid_bytes(version, frame),
            triangles=len(version.scene.triangles),
            up=up,
        )
        for name, version in versions
        if len(version.scene.triangles)
    )


def common_frame(scenes: list[Scene]) -> Frame:
    """The frame that holds all scenes; one of half 1 round the origin where there is no point."""
    box = seen_box(*scenes)
    if box is None:
        return Frame(middle=np.zeros(3), half=1.0)
    low, high = box
    half = float((high - low).max()) / 2
    return Frame(middle=(low + high) / 2, half=half if half > 0 else 1.0)


def solid_bytes(version: Version, frame: Frame) -> bytes | None:
    """The version for the page; None where it has no triangle, or too many for a page."""
    scene = version.scene
    count = len(scene.triangles)
    if not 0 < count <= MOST_TRIANGLES:
        return None
    seams = np.empty((0, 2, 3)) if version.seams is None else version.seams
    header = json.dumps(
        {"triangles": count, "seams": len(seams), "parts": list(scene.part_names)}
    ).encode()
    blocks = (
        len(header).to_bytes(4, "little"),
        header,
        _steps(rows_at(scene.points, scene.triangles), frame),
        np.rint(rows_at(scene.normals, scene.normal) * 127).astype(np.int8).tobytes(),
        _uvs(scene).astype("<f4").tobytes(),
        _face_bytes(version).tobytes(),
        _steps(seams, frame),
    )
    return gzip.compress(b"".join(map(_padded, blocks)), compresslevel=3, mtime=0)


def _padded(block: bytes) -> bytes:
    return block + b"\0" * (-len(block) % 4)


def _steps(places: FloatArray, frame: Frame) -> bytes:
    steps = (places - frame.middle) / frame.half * 32767
    return np.clip(np.rint(steps), -32767, 32767).astype("<i2").tobytes()


def _uvs(scene: Scene) -> FloatArray:
    """(T, 3, 2) UVs of the corners, shifted by whole tiles so that single precision suffices."""
    uvs = np.zeros((len(scene.triangles), 3, 2))
    mapped = scene.uv[:, 0] >= 0
    uvs[mapped] = rows_at(scene.uvs, scene.uv[mapped])
    return np.asarray(uvs - np.floor(uvs.min(axis=1, keepdims=True)))


def _face_bytes(version: Version) -> npt.NDArray[np.uint8]:
    """(T, 4) uint8 as the module says."""
    scene = version.scene
    uvs = _uvs(scene)
    flags = scene.is_drawn_edge @ np.array([1, 2, 4])
    flags += 8 * (scene.uv[:, 0] < 0) + 16 * _is_mirrored(uvs)
    tint = scene.part_colour[scene.part] % (len(TINTS) - 1)
    if len(scene.part_names) < 2:
        tint[:] = len(TINTS) - 1
    columns = (flags, _stretch(version), tint & 255, tint >> 8)
    return np.stack([column.astype(np.uint8) for column in columns], axis=1)


def _is_mirrored(uvs: FloatArray) -> BoolArray:
    first, second = uvs[:, 1] - uvs[:, 0], uvs[:, 2] - uvs[:, 0]
    return np.asarray(first[:, 0] * second[:, 1] < first[:, 1] * second[:, 0])


def _stretch(version: Version) -> FloatArray:
    """(T,) 0 to 255; nothing known counts as no stretch, and is flagged as unmapped elsewhere."""
    scene = version.scene
    values = np.ones(len(scene.triangles))
    for row, figures in enumerate(version.stretch or ()):
        own = scene.part == row
        values[own] = figures[scene.face[own]]
    known = np.nan_to_num(values, nan=1.0, posinf=_STRETCH_FULL)
    share = np.log(np.clip(known, 1, _STRETCH_FULL)) / np.log(_STRETCH_FULL)
    return np.asarray(np.rint(255 * share))
