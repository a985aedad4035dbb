"""The nodes a glTF scene shows, and where each stands.

Source: glTF 2.0 Specification, 3.5 (scenes, nodes and hierarchy, transformations).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.mesh import FloatArray
from reviewbot.readers.json_records import JsonRecord
from reviewbot.readers.unsound import UnsoundFileError


def placed_nodes(document: JsonRecord, nodes: list[JsonRecord]) -> Iterator[tuple[int, FloatArray]]:
    """Each node below the scene with its transform to the scene, parents before children."""
    waiting = [(root, np.eye(4)) for root in reversed(_roots(document, nodes))]
    seen = set()
    while waiting:
        index, outer = waiting.pop()
        if index >= len(nodes):
            raise UnsoundFileError(f"node {index} is asked for, but there are {len(nodes)}")
        if index in seen:
            raise UnsoundFileError(f"nodes[{index}] stands in two places, or below itself")
        seen.add(index)
        transform = outer @ _local_transform(nodes[index])
        yield index, transform
        waiting += [(child, transform) for child in reversed(nodes[index].wholes("children"))]


def _roots(document: JsonRecord, nodes: list[JsonRecord]) -> list[int]:
    """The nodes of the scene to show; without scenes, all that are nobody's child."""
    scenes = document.records("scenes")
    if scenes:
        scene = document.whole("scene", 0)
        if scene >= len(scenes):
            raise UnsoundFileError(f"scene {scene} is asked for, but there are {len(scenes)}")
        return scenes[scene].wholes("nodes")
    children = {child for node in nodes for child in node.wholes("children")}
    return [index for index in range(len(nodes)) if index not in children]


def _local_transform(node: JsonRecord) -> FloatArray:
    """(4, 4) of a node: its matrix, given by columns, or translation x rotation x scale."""
    if node.has("matrix"):
        return np.array(node.numbers("matrix", (0.0,) * 16)).reshape(4, 4).T
    transform = np.eye(4)
    scale = np.array(node.numbers("scale", (1.0, 1.0, 1.0)))
    transform[:3, :3] = _rotation(node.numbers("rotation", (0.0, 0.0, 0.0, 1.0))) * scale
    transform[:3, 3] = node.numbers("translation", (0.0, 0.0, 0.0))
    return transform


def _rotation(quaternion: list[float]) -> FloatArray:
    """(3, 3) of x, y, z, w; one of no length turns nothing."""
    x, y, z, w = quaternion
    length = x * x + y * y + z * z + w * w
    if not length:
        return np.eye(3)
    skew = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.asarray(np.eye(3) + 2 / length * (w * skew + skew @ skew))
