"""Which formats are known, by suffix, and what reading them takes; loads no reader."""

from __future__ import annotations

import importlib.util
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath
from types import MappingProxyType

from reviewbot.errors import MeshReadError


@dataclass(frozen=True, slots=True, kw_only=True)
class Library:
    """An optional library: its import name, and what the registry of Python packages calls it."""

    name: str
    package: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """A file format.

    carries  in a few words, what a reader gets from it
    library  a native one that reading takes, each file in a process to itself; None for the others
    """

    name: str
    suffixes: tuple[str, ...]
    carries: str
    library: Library | None = None


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
    ),
    Format(
        name="glTF 2.0",
        suffixes=(".gltf", ".glb"),
        carries="triangles, all UV sets, normals, nodes, materials with base colour; metres, Y up",
    ),
    Format(
        name="FBX",
        suffixes=(".fbx",),
        carries="polygons, UV sets by name, normals, nodes, smooth and flat faces, "
        "materials with base colour, units and axes",
        library=Library(name="ufbx", package="ufbx"),
    ),
    Format(
        name="USD",
        suffixes=(".usd", ".usda", ".usdc", ".usdz"),
        carries="polygons, UV sets by name, normals, transforms, materials with base colour, "
        "units and axes",
        library=Library(name="pxr", package="usd-core"),
    ),
    Format(
        name="PLY",
        suffixes=(".ply",),
        carries="polygons, one UV set, normals; one part, no names, no materials",
    ),
    Format(
        name="STL",
        suffixes=(".stl",),
        carries="triangles and nothing else; points in one place are taken as one",
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
    return form.library is None or importlib.util.find_spec(form.library.name) is not None


def _how_to_get(form: Format) -> str:
    return f"pip install {form.library.package}" if form.library is not None else ""
