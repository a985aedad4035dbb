"""Which reader reads which file: one explicit table by suffix."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath
from types import MappingProxyType
from typing import Protocol

from reviewbot.errors import MeshReadError
from reviewbot.mesh import Model
from reviewbot.readers import fbx, usd
from reviewbot.readers.gltf import read_gltf
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
    """A reader that needs an optional library, and a process to itself for every file.

    library  its import name; package  what it is called in the registry of Python packages
    prepare  loads the library, before limits forbid opening files
    """

    library: str
    package: str
    prepare: Callable[[], None]
    read: LoneReader


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """A file format; `carries` says in a few words what a reader gets from it."""

    name: str
    suffixes: tuple[str, ...]
    carries: str
    reader: Reader | Lone


@dataclass(frozen=True, slots=True, kw_only=True)
class FormatInfo:
    """What can be said of a format on this machine.

    how_to_get  what to install where `is_here` is false, else ""
    """

    name: str
    suffixes: tuple[str, ...]
    carries: str
    is_here: bool
    how_to_get: str


_FORMATS = (
    Format(
        name="OBJ",
        suffixes=(".obj",),
        carries="polygons, one UV set, normals, names, smoothing groups, "
        "materials with base colour",
        reader=read_obj,
    ),
    Format(
        name="glTF 2.0",
        suffixes=(".gltf", ".glb"),
        carries="triangles, all UV sets, normals, nodes, materials with base colour; metres, Y up",
        reader=read_gltf,
    ),
    Format(
        name="FBX",
        suffixes=(".fbx",),
        carries="polygons, UV sets by name, normals, nodes, smooth and flat faces, "
        "materials with base colour, units and axes",
        reader=Lone(library=fbx.LIBRARY, package="ufbx", prepare=fbx.prepare, read=fbx.read_fbx),
    ),
    Format(
        name="USD",
        suffixes=(".usd", ".usda", ".usdc", ".usdz"),
        carries="polygons, UV sets by name, normals, transforms, materials with base colour, "
        "units and axes",
        reader=Lone(
            library=usd.LIBRARY, package="usd-core", prepare=usd.prepare, read=usd.read_usd
        ),
    ),
    Format(
        name="PLY",
        suffixes=(".ply",),
        carries="polygons, one UV set, normals; one part, no names, no materials",
        reader=read_ply,
    ),
    Format(
        name="STL",
        suffixes=(".stl",),
        carries="triangles and nothing else; points in one place are taken as one",
        reader=read_stl,
    ),
)
FORMATS: Mapping[str, Format] = MappingProxyType(
    {suffix: form for form in _FORMATS for suffix in form.suffixes}
)


def format_of(path: str) -> Format | None:
    """By the path's suffix, in whichever case."""
    return FORMATS.get(PurePosixPath(path).suffix.lower())


def is_mesh_path(path: str) -> bool:
    """Whether a reader takes files so named, be its library installed or not."""
    return format_of(path) is not None


def formats_here() -> tuple[FormatInfo, ...]:
    """All formats, and which of them can be read on this machine."""
    return tuple(
        FormatInfo(
            name=form.name,
            suffixes=form.suffixes,
            carries=form.carries,
            is_here=_is_here(form),
            how_to_get="" if _is_here(form) else _how_to_get(form),
        )
        for form in _FORMATS
    )


def read_model(
    data: bytes, *, path: str, siblings: Siblings | None = None, seal: Seal = lambda: None
) -> Model:
    """The Model a file holds, read in this process.

    path      tells the format by its suffix, and is named in errors
    siblings  gives files the mesh refers to; none are found where it is left out
    seal      called before a native library looks at the file, when all it needs is loaded
    Raises MeshReadError where the file cannot be read, and as `require_format` does.
    """
    reader = require_format(path).reader
    found = siblings or no_siblings
    if isinstance(reader, Lone):
        return reader.read(data, path=path, siblings=found, seal=seal)
    return reader(data, path=path, siblings=found)


def require_format(path: str) -> Format:
    """The path's format. Raises MeshReadError where none is known or its library is missing."""
    form = format_of(path)
    if form is None:
        known = ", ".join(sorted(FORMATS))
        raise MeshReadError(path=path, line=None, reason=f"no known mesh format; known: {known}")
    if not _is_here(form):
        reason = f"reading {form.name} takes a further library: {_how_to_get(form)}"
        raise MeshReadError(path=path, line=None, reason=reason)
    return form


def _is_here(form: Format) -> bool:
    reader = form.reader
    return not isinstance(reader, Lone) or importlib.util.find_spec(reader.library) is not None


def _how_to_get(form: Format) -> str:
    return f"pip install {form.reader.package}" if isinstance(form.reader, Lone) else ""
