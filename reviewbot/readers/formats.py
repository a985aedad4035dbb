"""Which reader reads which file: one explicit table by format.

A reader that needs a native library is loaded where a file is for it: it gets a process to itself,
and no other process needs it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Protocol

from reviewbot.mesh import Model
from reviewbot.readers.gltf import read_gltf
from reviewbot.readers.known import Format, require_format
from reviewbot.readers.obj import read_obj
from reviewbot.readers.ply import read_ply
from reviewbot.readers.references import Siblings, no_siblings
from reviewbot.readers.stl import read_stl

Seal = Callable[[], None]


class Reader(Protocol):
    """From a file's bytes to its Model; raises MeshReadError for what is no such file."""

    def __call__(self, data: bytes, *, path: str, siblings: Siblings) -> Model: ...


class LoneReader(Protocol):
    """The same through a native library; calls `seal` once it need open nothing more."""

    def __call__(self, data: bytes, *, path: str, siblings: Siblings, seal: Seal) -> Model: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Lone:
    """A reader through a native library. prepare  loads it, before limits forbid opening files"""

    prepare: Callable[[], None]
    read: LoneReader


_READERS: Mapping[str, Reader] = MappingProxyType(
    {"OBJ": read_obj, "glTF 2.0": read_gltf, "PLY": read_ply, "STL": read_stl}
)


def lone_reader(form: Format) -> Lone:
    """The reader of a format that takes a native library."""
    if form.name == "FBX":
        from reviewbot.readers import fbx  # noqa: PLC0415

        return Lone(prepare=fbx.prepare, read=fbx.read_fbx)
    from reviewbot.readers import usd  # noqa: PLC0415

    return Lone(prepare=usd.prepare, read=usd.read_usd)


def read_model(
    data: bytes, *, path: str, siblings: Siblings | None = None, seal: Seal = lambda: None
) -> Model:
    """The Model a file holds, read in this process.

    path      tells the format by its suffix, and is named in errors
    siblings  gives files the mesh refers to; none are found where it is left out
    seal      called before a native library looks at the file, when all it needs is loaded
    Raises MeshReadError where the file cannot be read, and as `require_format` does.
    """
    form = require_format(path)
    found = siblings or no_siblings
    if form.library is not None:
        return lone_reader(form).read(data, path=path, siblings=found, seal=seal)
    return _READERS[form.name](data, path=path, siblings=found)
