"""Which reader reads which file: one explicit table by suffix."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePosixPath
from types import MappingProxyType
from typing import Protocol

from reviewbot.errors import MeshReadError
from reviewbot.mesh import Model
from reviewbot.readers.gltf import read_gltf
from reviewbot.readers.obj import read_obj
from reviewbot.readers.ply import read_ply
from reviewbot.readers.references import Siblings, no_siblings
from reviewbot.readers.stl import read_stl


class Reader(Protocol):
    """From a file's bytes to its Model; raises MeshReadError for what is no such file."""

    def __call__(self, data: bytes, *, path: str, siblings: Siblings) -> Model: ...


FORMATS: Mapping[str, Reader] = MappingProxyType(
    {
        ".obj": read_obj,
        ".gltf": read_gltf,
        ".glb": read_gltf,
        ".ply": read_ply,
        ".stl": read_stl,
    }
)


def suffix_of(path: str) -> str:
    return PurePosixPath(path).suffix.lower()


def is_mesh_path(path: str) -> bool:
    """Whether a reader here takes files so named."""
    return suffix_of(path) in FORMATS


def read_model(data: bytes, *, path: str, siblings: Siblings | None = None) -> Model:
    """The Model a file holds, read in this process.

    path      tells the format by its suffix, and is named in errors
    siblings  gives files the mesh refers to; none are found where it is left out
    Raises MeshReadError where the file cannot be read or its format is unknown.
    """
    reader = FORMATS.get(suffix_of(path))
    if reader is None:
        known = ", ".join(sorted(FORMATS))
        raise MeshReadError(path=path, line=None, reason=f"no known mesh format; known: {known}")
    return reader(data, path=path, siblings=siblings or no_siblings)
