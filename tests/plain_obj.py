"""OBJ text read the plain way, line by line: a second opinion for tests, apart from the readers."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np


@dataclass
class PlainPart:
    """One object. faces and face_uvs hold indices into the file's points and uvs, from 0."""

    material: str = ""
    faces: list[list[int]] = field(default_factory=list)
    face_uvs: list[list[int]] = field(default_factory=list)


@dataclass
class PlainObj:
    """A file's objects by name, over shared points (V, 3) and uvs (T, 2)."""

    points: np.ndarray
    uvs: np.ndarray
    parts: dict[str, PlainPart]

    def quads(self, name: str) -> np.ndarray:
        """(F, 4, 3) corner positions of an object of quads."""
        return self.points[np.array(self.parts[name].faces)]

    def quad_uvs(self, name: str) -> np.ndarray:
        """(F, 4, 2) corner UVs of an object of quads."""
        return self.uvs[np.array(self.parts[name].face_uvs)]


def read_plain_obj(data: bytes) -> PlainObj:
    points, uvs = [], []
    parts: dict[str, PlainPart] = {}
    part = PlainPart()
    for line in data.decode().split("\n"):
        key, *words = line.split() or [""]
        if key == "v":
            points.append([float(word) for word in words])
        elif key == "vt":
            uvs.append([float(word) for word in words])
        elif key == "o":
            part = parts.setdefault(words[0], PlainPart())
        elif key == "usemtl":
            part.material = words[0]
        elif key == "f":
            corners = [word.split("/") for word in words]
            part.faces.append([int(corner[0]) - 1 for corner in corners])
            part.face_uvs.append([int(corner[1]) - 1 for corner in corners if len(corner) > 1])
        else:
            assert key in ("", "#", "mtllib", "s"), line
    return PlainObj(np.array(points), np.array(uvs).reshape(-1, 2), parts)
